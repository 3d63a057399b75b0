"""How good a plan is, level by level, and how much better it could be at best."""

from __future__ import annotations

from dataclasses import dataclass

from production.domain.batches import Sizing
from production.domain.plan import Plan
from production.domain.schedule.result import Level

_LABELS = {
    "unserved": ("Left without a time", "runs weighed by the orders that wait for them"),
    "lateness": ("Late", "hours, weighed by the importance of each order line"),
    "moved": ("Moved", "points: 50 for a run that moves, 30 more for another pot, 1 for each hour"),
    "calm": ("Ends early, calm nights", "hours until every run ends, and hours with nobody there, added up"),
}
_DECIMALS = {"unserved": 3, "lateness": 1, "moved": 0, "calm": 0}
_UNITS = {"unserved": "", "lateness": "h", "moved": "points", "calm": "h"}
_NO_BOUND = "No bound is claimed: something better may exist."


@dataclass(frozen=True, slots=True, kw_only=True)
class GoalRow:
    """One level of the objective, or the choice of the runs."""

    label: str
    note: str
    value: str
    best: str  # the best that is possible; empty where no claim is made
    verdict: str
    proven: bool


def goal_rows(plan: Plan) -> tuple[GoalRow, ...]:
    """First how the runs were chosen, then the levels in their order; a higher one is never given for a lower one."""
    return (*([_sizing_row(plan.sizing)] if plan.sizing.objective is not None else []), *_level_rows(plan))


def _level_rows(plan: Plan) -> list[GoalRow]:
    return [
        GoalRow(
            label=_LABELS[each.name][0],
            note=_LABELS[each.name][1],
            value=_amount(each.name, each.value),
            best="" if each.bound is None else _amount(each.name, min(each.bound, each.value)),
            verdict=_verdict(each),
            proven=each.is_proven,
        )
        for each in plan.schedule.levels
        if each.value or plan.asks or each.name != "moved"
    ]


def _amount(name: str, value: float) -> str:
    text = f"{value:.{_DECIMALS[name]}f}"
    if "." in text:
        text = text.rstrip("0").rstrip(".")
    return f"{text} {_UNITS[name]}".strip()


def _verdict(level: Level) -> str:
    if level.bound is None:
        return _NO_BOUND
    if level.is_proven:
        return "Nothing better is possible with these runs."
    stopped = f"; the search stopped after {level.seconds:.0f} s" if level.seconds else ""
    return f"Could at best be {_amount(level.name, level.bound)}{stopped}."


def _sizing_row(sizing: Sizing) -> GoalRow:
    """The choice of runs; its cost counts an extra run as 100."""
    objective, bound, gap = sizing.objective, sizing.bound, sizing.gap_share
    proven = gap is not None and gap <= 1e-6
    if bound is None or gap is None:
        verdict = _NO_BOUND
    elif proven:
        verdict = "No other choice of runs costs less."
    else:
        verdict = f"Could at best cost {100 * gap:.1f} % less; the search took {sizing.seconds:.0f}\N{NO-BREAK SPACE}s."
    return GoalRow(
        label="Choice of the runs",
        note=f"{sizing.runs} runs; cost in which one run more counts as 100",
        value=f"{objective or 0.0:.0f}",
        best="" if bound is None else f"{bound:.0f}",
        verdict=verdict,
        proven=proven,
    )
