"""What would help a week with late or unserved orders: each change is tried out, and only those that help are told."""

from __future__ import annotations

import time
from collections import Counter
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import timedelta

from production.domain.errors import PotwrightError
from production.domain.kitchen import Week
from production.domain.plan import changes
from production.domain.plan.candidates import candidates_of
from production.domain.plan.changes import Fix, apply_fix
from production.domain.plan.compare import compare_plans
from production.domain.plan.content import Plan
from production.domain.plan.effort import Cancelled, Progress
from production.domain.plan.replan import replan

HELPS_H = 0.05  # less is no help (own choice)
DIFFERENCES = 12  # that are told of the plan with a change (own choice)
MOST_OPENED, MOST_SECOND = 3, 12  # first changes, and second ones for each, tried for lines that none helps alone
CONTAINER_H = 24.0  # a container that can be served counts as much as so many late hours, to sort only (own choice)

# What a change asks of the kitchen, to sort only: 1 is an hour of somebody's time (own choice).
_EFFORT: Mapping[str, Callable[[Fix], float]] = {
    changes.LONGER_LATER: lambda fix: fix.amount,
    changes.LONGER_EARLIER: lambda fix: fix.amount,
    changes.LONGER_ALL: lambda fix: 20.0 * fix.amount,
    changes.MORE_COOKS: lambda fix: 8.0,
    changes.COOLING_PLACES: lambda fix: 4.0 + 2.0 * fix.amount,
    changes.CHILLER: lambda fix: 16.0,
    changes.ICE: lambda fix: 1.0 + fix.amount / 100.0,
    changes.OUTAGE: lambda fix: 6.0,
    changes.POT_LIKE: lambda fix: 20.0,
    changes.POT_ALLOWED: lambda fix: 2.0,
    changes.TRAYS: lambda fix: 2.0 + fix.amount / 5.0,
    changes.HEAT_SUPPLY: lambda fix: 12.0 + fix.amount / 5.0,
    changes.STORE_ROOM: lambda fix: 4.0 + fix.amount / 100.0,
    changes.GOODS: lambda fix: 2.0,
    changes.SPLIT: lambda fix: 3.0,
    changes.LATER: lambda fix: 3.0 + fix.amount / 4.0,
    changes.NOTHING: lambda fix: 0.1,
}
_NOTHING = Fix(kind=changes.NOTHING, target="", amount=0.0, unit="", sentence="Re-plan, with nothing changed.")


@dataclass(frozen=True, slots=True)
class TriedFixes:
    """Changes that were tried out: those that help, the most help for the least effort first; and the others."""

    helping: tuple[Fix, ...]
    in_vain: tuple[Fix, ...]  # in the order in which they were tried
    untried: tuple[Fix, ...]  # for which there was no time


def find_fixes(
    plan: Plan,
    *,
    seconds: float,
    seed: int = 0,
    cancelled: Cancelled | None = None,
    progress: Progress | None = None,
) -> TriedFixes:
    """Try out changes of the week, and say which help and which do not.

    Equation: the week is planned again from the plan as it is, first with nothing changed, then with each candidate;
        a candidate helps when fewer containers are unserved than with nothing changed, or as many and orders are less
        late. Candidates are tried in turn until the time is over, the first in any case; for lines that none of them
        helps, two together.
    Units: plan (record), seconds [s] for all of them, seed; returns records, effects in weighted hours and containers.
    Valid: any plan; one without late or unserved lines has no fixes.
    Errors: none.
    Source: own definition.
    """
    candidates = candidates_of(plan)
    if not candidates:
        return TriedFixes((), (), ())
    effort = _Effort(
        until_s=time.monotonic() + seconds,
        seed=seed,
        cancelled=cancelled,
    )
    alone = _tried(plan, _NOTHING, effort)
    nothing = None if alone is None else _with_effect(plan, plan, _NOTHING, alone)
    found = [nothing] if nothing else []
    base = alone if alone and nothing else plan
    in_vain: list[Fix] = []
    done = 0
    opened: list[tuple[Fix, Plan]] = []
    for candidate in candidates:
        if done and effort.is_over:
            break
        if progress is not None:
            progress(f"try: {candidate.sentence}", done, len(candidates))
        after = _tried(plan, candidate, effort)
        if effort.is_stopped:
            break
        done += 1
        fix = None if after is None else _with_effect(plan, base, candidate, after)
        if fix is not None:
            found.append(fix)
        elif after is not None:
            in_vain.append(candidate)
            if _reasons(after) - _reasons(base):
                opened.append((candidate, after))
    helped = {line for fix in found for line in fix.lines_helped}
    found += _pairs(plan, base, opened, {each.line for each in base.unserved} - helped, effort)
    untried = tuple(replace(each, tried=False) for each in candidates[done:])
    return TriedFixes(tuple(sorted(found, key=lambda fix: -_worth(fix))), tuple(in_vain), untried)


@dataclass(frozen=True, slots=True)
class _Effort:
    """How long may be looked."""

    until_s: float
    seed: int
    cancelled: Cancelled | None

    @property
    def is_stopped(self) -> bool:
        return self.cancelled is not None and self.cancelled()

    @property
    def is_over(self) -> bool:
        return time.monotonic() > self.until_s or self.is_stopped


def _reasons(plan: Plan) -> set[tuple[str, str]]:
    return {(each.line, each.resource) for each in plan.unserved}


def _pairs(plan: Plan, base: Plan, opened: list[tuple[Fix, Plan]], lines: set[str], effort: _Effort) -> Iterable[Fix]:
    """Two changes together, for lines that one change does not help but only brings to their next obstacle."""
    new = [each for each in opened if any(line in lines for line, _ in _reasons(each[1]) - _reasons(base))]
    for first, between in new[:MOST_OPENED]:
        for second in candidates_of(between)[:MOST_SECOND]:
            if effort.is_over:
                return
            pair = replace(first, also=(second,), sentence=f"{first.sentence} {second.sentence}")
            after = _tried(plan, pair, effort)
            fix = None if after is None else _with_effect(plan, base, pair, after)
            if fix is not None and lines & set(fix.lines_helped):
                yield fix
                break


def planned_with(plan: Plan, week: Week, *, seed: int = 0, cancelled: Cancelled | None = None) -> Plan:
    """A plan for a changed week that starts from a plan as it is: the one by which a fix is judged.

    Equation: replan from the moment the plan was made, with what had been asked of it, by careful passes only: the
        same fix always has the same effect, and a longer search can only do better.
    Units: no quantities; plan, week (records), seed; returns a Plan.
    Valid: a week of the same kitchen; a plan that was cancelled on the way tells nothing of the fix.
    Errors: as replan.
    Source: own definition.
    """
    return replan(base=plan, week=week, asks=plan.asks, now=plan.week.plan_from, seed=seed, cancelled=cancelled)


def _tried(plan: Plan, candidate: Fix, effort: _Effort) -> Plan | None:
    """The plan with a candidate, or None where the kitchen cannot have it, or where looking was stopped meanwhile."""
    try:
        after = planned_with(plan, apply_fix(plan.week, candidate), seed=effort.seed, cancelled=effort.cancelled)
    except PotwrightError:  # for instance a pot that its heat supply does not feed
        return None
    return None if effort.is_stopped else after


def _with_effect(plan: Plan, base: Plan, candidate: Fix, after: Plan) -> Fix | None:
    """The candidate with its effect beyond the base, and what changes in the plan; None where it does not help."""
    unserved = _unserved(base) - _unserved(after)
    late_h = base.schedule.lateness_h - after.schedule.lateness_h
    if unserved < 0 or (unserved == 0 and late_h < HELPS_H):
        return None
    lines = tuple(sorted(_helped(base, after)))
    differences = tuple(each.sentence for each in compare_plans(plan, after).changes)
    return replace(
        candidate,
        effect_late_h=late_h,
        effect_unserved=unserved,
        lines_helped=lines,
        differences=differences[:DIFFERENCES],
        more_differences=max(0, len(differences) - DIFFERENCES),
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
    """Minutes by which the parts of a line are late, added up."""
    late: Counter[str] = Counter()
    for each in plan.late:
        late[each.line] += int((each.ready_at - each.due_at) / timedelta(minutes=1))
    return late


def _worth(fix: Fix) -> float:
    effort = sum(_EFFORT[each.kind](each) for each in (fix, *fix.also))
    return (fix.effect_late_h + CONTAINER_H * fix.effect_unserved) / effort
