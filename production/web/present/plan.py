"""A plan as a timeline and as tables."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from typing import TypeVar

from production.domain.plan import LateLine, Plan, PlannedRun, Unserved, par_left
from production.drawing.palette import STAGE_PATTERN, Meaning, StageKind
from production.drawing.timeline_content import DayBand, HourTick, PlanTimeline, ShadedSpan
from production.web.present.lanes import Shown, device_lanes, pot_lanes, pours, resources_of, step_lanes
from production.web.present.words import days_said, line_name, part_of_line
from production.web.style import Amount, Style, duration_text, minutes_between

_NEAR_MIN = 30.0  # a margin below this is shown as near the limit
_NOON = 12
_HOURS_APART = 6
_HOURS_APART_ONE_DAY = 2
_Share = TypeVar("_Share", LateLine, Unserved)


@dataclass(frozen=True, slots=True, kw_only=True)
class Margin:
    """What is left of a critical limit, on the slow side."""

    meaning: Meaning
    words: str


@dataclass(frozen=True, slots=True, kw_only=True)
class RunRow:
    """A run in the list of the plan."""

    code: str
    href: str
    formula: str
    pot: str
    when: str
    lasts: str
    first: Amount | None
    reduction: Amount | None
    cooled_in: str
    margin: Margin | None
    late: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class LateRow:
    """An order line that leaves late for one reason, with the runs that it waits for."""

    line: str
    runs: tuple[tuple[str, str], ...]  # code and address
    due: str
    ready: str
    by: str
    sentence: str


@dataclass(frozen=True, slots=True, kw_only=True)
class UnservedRow:
    """Containers of an order line that nobody will get, for one reason."""

    line: str  # its code
    head: str
    sentence: str
    remedy: str


@dataclass(frozen=True, slots=True, kw_only=True)
class UnservedGroup:
    """Order lines that are not served for the same reason."""

    head: str
    sentence: str
    remedy: str
    rows: tuple[UnservedRow, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class DayChoice:
    """A day that the timeline can be opened at."""

    label: str
    value: str
    current: bool


def least_margin(run: PlannedRun) -> Margin | None:
    """The tightest critical limit over all draws of a run."""
    margins = [margin.margin_min for draw in run.draws for margin in draw.cooling.margins]
    return margin_of(min(margins)) if margins else None


def margin_of(minutes: float) -> Margin:
    """A margin as mark and words: a plan only predicts, so no limit is called met before it was measured."""
    meaning: Meaning = "past" if minutes < 0 else "near" if minutes < _NEAR_MIN else "within"
    return Margin(meaning=meaning, words=f"{duration_text(abs(minutes))} {'over' if minutes < 0 else 'to spare'}")


def run_rows(*, plan: Plan, style: Style, href: Callable[[str], str]) -> tuple[RunRow, ...]:
    """The runs in the order in which they start."""
    formulas = {each.code: each.name for each in plan.week.formulas}
    pots = {each.code: each.name for each in plan.week.pots}
    late = {each.run for each in plan.late}
    return tuple(
        RunRow(
            code=run.code,
            href=href(run.code),
            formula=formulas[run.formula],
            pot=pots[run.pot],
            when=style.when(run.start_at),
            lasts=duration_text(minutes_between(run.start_at, run.end_at)),
            first=style.amount(run.batch.first_l, "L") if run.batch.first else None,
            reduction=style.amount(run.batch.reduction_l, "L") if run.batch.reduction else None,
            cooled_in=", ".join(dict.fromkeys(name for draw in run.draws for name in draw.device_names)),
            margin=least_margin(run),
            late=run.code in late,
        )
        for run in sorted(plan.runs, key=lambda run: (run.start_at, run.code))
    )


def day_choices(*, plan: Plan, style: Style, chosen: date | None) -> tuple[DayChoice, ...]:
    """The days on which something happens."""
    first, last = _days_of(plan, style)
    return tuple(
        DayChoice(label=style.day(day), value=day.isoformat(), current=day == chosen) for day in _each_day(first, last)
    )


def timeline(
    *,
    plan: Plan,
    style: Style,
    href: Callable[[str], str],
    day: date | None,
    before: Plan | None = None,
    locked: Iterable[str] = (),
    chain: tuple[str, ...] = (),
    moves: bool = False,
) -> PlanTimeline:
    """The whole plan, or one day of it, as lanes; against the plan before, where there is one to compare with.

    The runs of a chain of waiting are numbered; where `moves`, bars carry what a script needs to move them.
    """
    first, last = (day, day) if day else _days_of(plan, style)
    start, end = _minute(plan, _midnight(first, style)), _minute(plan, _midnight(last + timedelta(days=1), style))
    every = _HOURS_APART_ONE_DAY if day else _HOURS_APART
    days = tuple(_each_day(first, last))
    shown = Shown(
        plan=plan, style=style, href=href, start=start, end=end, locked=frozenset(locked), chain=chain, moves=moves
    )
    resources = resources_of(plan)
    return PlanTimeline(
        name="Plan of the pots",
        start_min=start,
        end_min=end,
        days=tuple(
            DayBand(
                start_min=_minute(plan, _midnight(each, style)),
                end_min=_minute(plan, _midnight(each + timedelta(days=1), style)),
                label=style.day(each),
            )
            for each in days
        ),
        pots=pot_lanes(shown, resources, before=before),
        devices=device_lanes(shown),
        steps=step_lanes(shown, resources),
        pours=pours(shown),
        nights=tuple(_nights(plan, start, end)),
        hours=tuple(
            HourTick(at_min=_minute(plan, at), label=_hour(at, style, names_day=not day))
            for at in _hours(days, style, every)
        ),
        now_min=_minute(plan, style.now) if start <= _minute(plan, style.now) < end else None,
    )


def stage_kinds(line: PlanTimeline) -> tuple[StageKind, ...]:
    """The stages that the timeline shows, in the order of a run."""
    shown = {stage.kind for lane in (*line.pots, *line.devices) for bar in lane.bars for stage in bar.stages}
    return tuple(kind for kind in STAGE_PATTERN if kind in shown)


def open_share(line: PlanTimeline) -> float | None:
    """How far along the timeline it opens: at the first run of a chain that is looked at, else at now.

    One day by itself opens where somebody comes.
    """
    at = _seen_first(line)
    if at is None and len(line.days) == 1:
        at = next((night.end_min for night in line.nights if night.start_min == line.start_min), None)
    if at is None:
        return None
    return round((max(at, line.start_min) - line.start_min) / (line.end_min - line.start_min), 3)


def _seen_first(line: PlanTimeline) -> float | None:
    bars = [bar for lane in line.pots for bar in lane.bars]
    chained = next((bar.start_min for bar in bars if bar.link == 1), None)
    if chained is not None or line.now_min is None:
        return chained
    all_done = bars and line.now_min > max(bar.end_min for bar in bars)
    return max(bar.start_min for bar in bars) if all_done else line.now_min


def late_rows(*, plan: Plan, style: Style, href: Callable[[str], str]) -> tuple[LateRow, ...]:
    """Order lines that leave late, the one due first at the top."""
    rows = []
    for shares in _by_line_and_resource(sorted(plan.late, key=lambda late: (late.due_at, late.line))):
        last = max(shares, key=lambda late: late.ready_at)
        rows.append(
            LateRow(
                line=line_name(plan.week, last.line),
                runs=tuple((code, href(code)) for code in dict.fromkeys(each.run for each in shares)),
                due=style.when(last.due_at),
                ready=style.when(last.ready_at),
                by=duration_text(minutes_between(last.due_at, last.ready_at)),
                sentence=days_said(last.sentence),
            )
        )
    return tuple(rows)


def unserved_rows(plan: Plan) -> tuple[UnservedRow, ...]:
    """What is not served, with the reason and what would help."""
    names = {each.code: each.name for each in plan.week.products}
    return tuple(
        UnservedRow(
            line=shares[0].line,
            head=part_of_line(plan.week, shares[0].line, sum(each.containers for each in shares)),
            sentence=" ".join(dict.fromkeys(_reason(each, names) for each in shares)),
            remedy=" ".join(dict.fromkeys(days_said(each.remedy) for each in shares)),
        )
        for shares in _by_line_and_resource(plan.unserved)
    )


def unserved_groups(rows: Sequence[UnservedRow]) -> tuple[UnservedGroup, ...]:
    """The same, with lines that wait for the same thing together: a reason is read once, however many it concerns."""
    together: dict[tuple[str, str], list[UnservedRow]] = {}
    for row in rows:
        together.setdefault((row.sentence, row.remedy), []).append(row)
    return tuple(
        UnservedGroup(
            head=found[0].head if len(found) == 1 else f"{len(found)} order lines, for one reason",
            sentence=sentence,
            remedy=remedy,
            rows=tuple(found),
        )
        for (sentence, remedy), found in together.items()
    )


def _reason(share: Unserved, names: Mapping[str, str]) -> str:
    """Why, without the amount and the product where the sentence begins with them: the head says them."""
    said = days_said(share.sentence).removeprefix(f"{share.containers} × {names[share.product]}: ")
    return said[:1].upper() + said[1:]


def par_rows(plan: Plan) -> tuple[str, ...]:
    """Par levels that stay unfilled, a sentence each."""
    names = {each.code: each.name for each in plan.week.products}
    return tuple(
        f"{names[each.product]}: {each.wanted} short of the par level, {each.made or 'none'} of them made."
        for each in par_left(plan)
    )


def lines_of(shares: Iterable[LateLine | Unserved]) -> int:
    """How many order lines there are among shares of them."""
    return len({each.line for each in shares})


def _by_line_and_resource(shares: Iterable[_Share]) -> Iterable[list[_Share]]:
    """Shares of one order line that the same resource holds up, together."""
    together: dict[tuple[str, str], list[_Share]] = {}
    for each in shares:
        together.setdefault((each.line, each.resource), []).append(each)
    return together.values()


def _nights(plan: Plan, start: float, end: float) -> Iterable[ShadedSpan]:
    """The time in which no shift runs."""
    at = start
    for shift in sorted(plan.week.shifts, key=lambda shift: shift.start):
        begins, ends = _minute(plan, shift.start), _minute(plan, shift.end)
        if begins > at:
            yield ShadedSpan(start_min=at, end_min=min(begins, end))
        at = max(at, ends)
        if at >= end:
            return
    yield ShadedSpan(start_min=at, end_min=end)


def _days_of(plan: Plan, style: Style) -> tuple[date, date]:
    starts = [plan.week.starts_on, *(style.day_of(run.start_at) for run in plan.runs)]
    last = plan.week.starts_on + timedelta(days=plan.week.days - 1)
    ends = [last, *(style.day_of(run.end_at) for run in plan.runs)]
    return min(starts), max(ends)


def _each_day(first: date, last: date) -> Sequence[date]:
    return [first + timedelta(days=n) for n in range((last - first).days + 1)]


def _midnight(day: date, style: Style) -> datetime:
    return datetime.combine(day, time.min, style.zone)


def _hours(days: Iterable[date], style: Style, every: int) -> Iterable[datetime]:
    for day in days:
        for hour in range(every, 24, every):
            yield datetime.combine(day, time(hour), style.zone)


def _hour(at: datetime, style: Style, *, names_day: bool) -> str:
    """Of several days noon bears the weekday too: the name at midnight is soon out of sight."""
    noon = names_day and at.hour == _NOON
    return f"{at:%a} {style.clock(at)}" if noon else style.clock(at)


def _minute(plan: Plan, at: datetime) -> float:
    return minutes_between(plan.origin, at)
