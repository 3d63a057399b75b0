"""A search that is still going on: what it has found so far, and how good that can become."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime, time, timedelta
from functools import cache
from typing import Any

from pydantic import TypeAdapter

from production.domain.kitchen import Week
from production.domain.plan import Preview, PreviewRun
from production.drawing.timeline_content import BarLane, DayBand, PlanTimeline, TimelineBar
from production.web.style import Style, minutes_between

_DOING = {
    "first plan": "a first plan stands; better ones are looked for",
    "runs by rule": "runs by the rule of thumb; better ones are looked for",
    "runs made anew": "some runs at a time are taken out and made in another way",
    "the best plan so far": "pots and times of these runs are improved",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class SoFar:
    """The best plan that a search has found, in words and as lanes."""

    runs: int
    without_time: int
    late: str
    best: str  # how good it can become; empty while that is not known
    seconds: str
    doing: str
    line: PlanTimeline | None


@cache
def _adapter() -> TypeAdapter[Preview]:
    return TypeAdapter(Preview)


def so_far(*, preview: Mapping[str, Any], week: Week, style: Style) -> SoFar:
    """A preview as it was written by the worker."""
    found = _adapter().validate_python(preview)
    bound = found.bound_h
    if bound is None:
        best = ""
    elif found.lateness_h <= bound + 1e-6:
        best = "nothing better is possible with these runs"
    else:
        best = f"could at best be {_hours(bound)}"
    return SoFar(
        runs=len(found.runs),
        without_time=found.without_time,
        late=_hours(found.lateness_h),
        best=best,
        seconds=f"{found.seconds:.0f}",
        doing=_DOING.get(found.doing, found.doing),
        line=_line(found, week, style) if found.runs else None,
    )


def _hours(hours: float) -> str:
    text = f"{hours:.1f}".rstrip("0").rstrip(".")
    return f"{text} h late"


def _line(preview: Preview, week: Week, style: Style) -> PlanTimeline:
    """Pots and pans only: the rest is known when the plan is whole."""
    origin = preview.origin
    first = style.day_of(origin + timedelta(minutes=min(run.start_min for run in preview.runs)))
    last = style.day_of(origin + timedelta(minutes=max(run.end_min for run in preview.runs)))
    midnights = [
        datetime.combine(first + timedelta(days=n), time(), style.zone) for n in range((last - first).days + 2)
    ]
    minutes = [minutes_between(origin, at) for at in midnights]
    names = {each.code: each.name for each in week.formulas}
    return PlanTimeline(
        name="the best plan so far",
        start_min=minutes[0],
        end_min=minutes[-1],
        days=tuple(
            DayBand(start_min=start, end_min=end, label=style.day(style.day_of(at)))
            for at, start, end in zip(midnights, minutes, minutes[1:], strict=False)
        ),
        pots=tuple(
            BarLane(
                name=pot.name,
                bars=tuple(
                    TimelineBar(
                        label=_label(run, names),
                        start_min=run.start_min,
                        end_min=run.end_min,
                        when=style.between(
                            origin + timedelta(minutes=run.start_min), origin + timedelta(minutes=run.end_min)
                        ),
                        meaning="past" if run.is_late else None,
                        word="late" if run.is_late else "",
                    )
                    for run in preview.runs
                    if run.pot == pot.code
                ),
            )
            for pot in week.pots
            if not pot.reduction_pan
        ),
    )


def _label(run: PreviewRun, names: Mapping[str, str]) -> str:
    """Runs get their codes when the search has ended; until then they have numbers that change."""
    name = names.get(run.formula, run.formula)
    return f"{run.code} {name}" if run.code.startswith("R") else name
