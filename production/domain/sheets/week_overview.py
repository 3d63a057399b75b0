"""The week on one page: what stands in which pot on which day, who is there, what leaves and what comes."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

from production.domain.plan import Plan, PlannedRun
from production.domain.schedule.result import POUR_OVER
from production.domain.sheets.content import Arriving, InPot, Leaving, OnDuty, PotWeek, WeekOverview
from production.domain.sheets.page import heading_of


def week_overview(plan: Plan) -> WeekOverview:
    """The one page about a plan.

    Equation: each run in its pot from loading until the pot is washed, a reduction in its pan likewise; containers of
        all lines of one outlet at one time together.
    Units: plan (record); containers as counts; returns a record with instants.
    Valid: every plan.
    Errors: none.
    Source: own definition.
    """
    zone = ZoneInfo(plan.week.kitchen.time_zone)
    pots = tuple(PotWeek(pot=pot.name, runs=tuple(_in_pot(plan, pot.code))) for pot in plan.week.pots)
    names = {each.code: each.name for each in plan.week.people}
    suppliers = {each.code: each.name for each in plan.week.suppliers}
    return WeekOverview(
        kind="week_overview",
        key="week",
        heading=heading_of(plan),
        days=_days(plan, [each for pot in pots for each in pot.runs], zone),
        pots=pots,
        on_duty=tuple(
            OnDuty(person=names[each.person], start_at=each.start, end_at=each.end)
            for each in sorted(plan.week.shifts, key=lambda each: (each.start, each.end, each.person))
        ),
        leaving=tuple(_leaving(plan)),
        arriving=tuple(
            Arriving(at=order.delivery_at, supplier=suppliers[order.supplier], items=len(order.items))
            for order in sorted(plan.purchases.orders, key=lambda each: (each.delivery_at, each.supplier))
        ),
    )


def _in_pot(plan: Plan, pot: str) -> Iterable[InPot]:
    found = []
    late = {each.run for each in plan.late}
    for run in plan.runs:
        if run.pot == pot:
            found.append(_run(plan, run, run.placed.start_min, run.placed.pot_free_min, late, reduces=()))
        if run.placed.pan == pot:
            pour = next(stage for stage in run.placed.stages if stage.name == POUR_OVER)
            reduces = (run.code, *run.batch.guests)
            found.append(_run(plan, run, pour.start_min, run.placed.pan_free_min, late, reduces=reduces))
    return sorted(found, key=lambda each: (each.start_at, each.run))


def _run(
    plan: Plan, run: PlannedRun, start_min: int, end_min: int, late: set[str], *, reduces: tuple[str, ...]
) -> InPot:
    return InPot(
        run=run.code,
        formula=plan.week.get("formulas", run.formula).name,
        start_at=plan.at(start_min),
        end_at=plan.at(end_min),
        reduces=reduces,
        is_late=run.code in late,
    )


def _leaving(plan: Plan) -> Iterable[Leaving]:
    """One entry for each outlet and time; what the plan cannot serve is counted apart."""
    outlets = {each.code: each.name for each in plan.week.outlets}
    missing: dict[str, int] = defaultdict(int)
    for each in plan.unserved:
        missing[each.line] += each.containers
    ordered: dict[tuple[datetime, str], list[int]] = defaultdict(lambda: [0, 0])
    for line in plan.week.order_lines:
        counts = ordered[line.dispatch_at, outlets[line.outlet]]
        counts[0] += line.containers
        counts[1] += missing[line.code]
    for (at, outlet), (containers, unserved) in sorted(ordered.items()):
        yield Leaving(at=at, outlet=outlet, containers=containers, unserved=unserved)


def _days(plan: Plan, runs: Iterable[InPot], zone: ZoneInfo) -> tuple[date, ...]:
    """The days of the week, and those before and after it on which a pot is in use."""
    first, last = plan.week.starts_on, plan.week.starts_on + timedelta(days=plan.week.days - 1)
    for run in runs:
        first = min(first, run.start_at.astimezone(zone).date())
        last = max(last, run.end_at.astimezone(zone).date())
    return tuple(first + timedelta(days=n) for n in range((last - first).days + 1))
