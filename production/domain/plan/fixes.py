"""What would help a week with late or unserved orders: each change is tried out, and only those that help are told."""

from __future__ import annotations

import time
from collections import Counter
from collections.abc import Callable, Mapping
from dataclasses import replace
from datetime import timedelta

from production.domain.errors import PotwrightError
from production.domain.kitchen import Week
from production.domain.plan import changes
from production.domain.plan.candidates import candidates_of
from production.domain.plan.changes import Fix, apply_fix
from production.domain.plan.content import Plan
from production.domain.plan.effort import Cancelled, Progress
from production.domain.plan.replan import replan

HELPS_H = 0.05  # less is no help (own choice)
CONTAINER_H = 24.0  # a container that can be served counts as much as so many late hours, to sort only (own choice)

# What a change asks of the kitchen, to sort only: 1 is an hour of somebody's time (own choice).
_EFFORT: Mapping[str, Callable[[Fix], float]] = {
    changes.LONGER_LATER: lambda fix: fix.amount,
    changes.LONGER_EARLIER: lambda fix: fix.amount,
    changes.MORE_COOKS: lambda fix: 8.0,
    changes.COOLING_PLACES: lambda fix: 4.0 + 2.0 * fix.amount,
    changes.ICE: lambda fix: 1.0 + fix.amount / 100.0,
    changes.OUTAGE: lambda fix: 6.0,
    changes.POT_LIKE: lambda fix: 20.0,
    changes.POT_ALLOWED: lambda fix: 2.0,
    changes.TRAYS: lambda fix: 2.0 + fix.amount / 5.0,
    changes.GOODS: lambda fix: 2.0,
    changes.SPLIT: lambda fix: 3.0,
    changes.LATER: lambda fix: 3.0 + fix.amount / 4.0,
}


def find_fixes(
    plan: Plan,
    *,
    seconds: float,
    workers: int = 1,
    seed: int = 0,
    cancelled: Cancelled | None = None,
    progress: Progress | None = None,
) -> tuple[Fix, ...]:
    """Changes of the week that were tried out and help, the most help for the least effort first.

    Equation: each candidate is made and the week planned again from the plan as it is; it is kept when fewer
        containers are unserved, or as many and orders are less late. Candidates are tried in turn until the time is
        over; the first is always tried.
    Units: plan (record), seconds [s] for all of them, workers, seed [count]; returns records, effects in weighted
        hours and containers.
    Valid: any plan; one without late or unserved lines has no fixes.
    Errors: none.
    Source: own definition.
    """
    began = time.monotonic()
    candidates = candidates_of(plan)
    each_s = seconds / len(candidates) if candidates else 0.0
    found: list[Fix] = []
    for number, candidate in enumerate(candidates):
        if number and (time.monotonic() - began > seconds or (cancelled is not None and cancelled())):
            break
        if progress is not None:
            progress(f"try: {candidate.sentence}", number, len(candidates))
        effort_s = each_s if each_s >= 1.0 else 0.0
        tried = _tried(plan, candidate, seconds=effort_s, workers=workers, seed=seed)
        if tried is not None:
            found.append(tried)
    return tuple(sorted(found, key=lambda fix: -_worth(fix)))


def planned_with(plan: Plan, week: Week, *, seconds: float = 0.0, workers: int = 1, seed: int = 0) -> Plan:
    """A plan for a changed week that starts from a plan as it is: the one by which a fix is judged.

    Equation: replan from the moment the plan was made, with what had been asked of it.
    Units: plan, week (records), seconds [s], workers, seed [count]; returns a Plan.
    Valid: a week of the same kitchen.
    Errors: as replan.
    Source: own definition.
    """
    return replan(
        base=plan, week=week, asks=plan.asks, now=plan.week.plan_from, seconds=seconds, workers=workers, seed=seed
    )


def _tried(plan: Plan, candidate: Fix, *, seconds: float, workers: int, seed: int) -> Fix | None:
    """The candidate with its effect, or None where it does not help or cannot be."""
    try:
        after = planned_with(plan, apply_fix(plan.week, candidate), seconds=seconds, workers=workers, seed=seed)
    except PotwrightError:  # a change that the kitchen cannot have, for instance a pot its heat supply does not feed
        return None
    unserved = _unserved(plan) - _unserved(after)
    late_h = plan.schedule.lateness_h - after.schedule.lateness_h
    if unserved < 0 or (unserved == 0 and late_h < HELPS_H):
        return None
    return replace(
        candidate, effect_late_h=late_h, effect_unserved=unserved, lines_helped=tuple(sorted(_helped(plan, after)))
    )


def _unserved(plan: Plan) -> int:
    return sum(each.containers for each in plan.unserved)


def _helped(before: Plan, after: Plan) -> set[str]:
    """Lines that leave earlier or in a larger part."""
    missing, late = (_missing(before), _missing(after)), (_late_min(before), _late_min(after))
    lines = {line.code for line in before.week.order_lines}
    return {
        code
        for code in lines
        if missing[1][code] < missing[0][code]
        or (missing[1][code] == missing[0][code] and late[1][code] < late[0][code])
    }


def _missing(plan: Plan) -> Counter[str]:
    missing: Counter[str] = Counter()
    for each in plan.unserved:
        missing[each.line] += each.containers
    return missing


def _late_min(plan: Plan) -> Counter[str]:
    late: Counter[str] = Counter()
    for each in plan.late:
        late[each.line] = max(late[each.line], int((each.ready_at - each.due_at) / timedelta(minutes=1)))
    return late


def _worth(fix: Fix) -> float:
    return (fix.effect_late_h + CONTAINER_H * fix.effect_unserved) / _EFFORT[fix.kind](fix)
