"""How good the planner is and how long it takes, over made-up kitchens: `python -m tests.benchmarks.planner --help`.

Every seed is measured in a process of its own, one after another: the plan of the house in the seconds given, then
the simple plan (no seconds) and the plan by hand. With --replan the plan is made, a pot with a batch in it fails on
Wednesday at ten, and the week is planned again. Times are of the clock on the wall and depend on what else the
machine does.
"""

from __future__ import annotations

import argparse
import multiprocessing
import resource
import sys
import time
from collections.abc import Callable, Iterable, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from functools import partial
from statistics import median
from typing import TypeVar

from production.domain.batches import least_lateness_h, least_runs, size_batches
from production.domain.demand import net_demand
from production.domain.errors import PotwrightError
from production.domain.kitchen import Week
from production.domain.plan import Plan, make_plan, parameters_of, replan
from production.domain.plan.content import PlannedRun, Preview
from production.domain.plan.frame import frame_of
from production.domain.plan.holds import LockRun, PotOut
from production.domain.plan.make import coolable_l
from production.domain.plan.quickest import quickest_of
from production.domain.schedule.result import Level
from tests.benchmarks.hand import hand_plan
from tests.benchmarks.measure import Figures, figures_of_hand, figures_of_plan
from tests.domain.plan_facts import faults
from tests.kitchens import SIZES, STARTS_ON, ZONE, random_week

Row = TypeVar("Row")
MOMENTS_S = (5.0, 20.0, 60.0)
PROOF_S = 5.0  # for what no plan can undercut, apart from the plan's own time
SIZING_S = 9.5  # for the runs by themselves, a little less than they may take
_HAIR = 1e-6


@dataclass(frozen=True, slots=True, kw_only=True)
class Trace:
    """A preview's value and bound, and when it was told."""

    at_s: float
    unplaced: int
    lateness_h: float
    bound_h: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Measured:
    """One seed."""

    seed: int
    fault: str = ""
    ours: Figures | None = None
    simple: Figures | None = None
    hand: Figures | None = None
    hand_faults: int = 0
    trace: tuple[Trace, ...] = ()
    levels: tuple[Level, ...] = ()
    sizing_gap: float | None = None
    sizing_s: float = 0.0
    alone_gap: float | None = None  # of runs that are sized by themselves, before they have times
    alone_s: float = 0.0
    least_runs: int | None = None  # no plan that is as little late has fewer, with the reductions
    least_late_h: float = 0.0  # no plan that serves as much is less late
    total_s: float = 0.0
    peak_mb: float = 0.0

    @property
    def lateness(self) -> Level | None:
        """The level of lateness of the plan."""
        return next((level for level in self.levels if level.name == "lateness"), None)

    @property
    def is_proven(self) -> bool:
        """Whether no schedule of the plan's runs is less late."""
        level = self.lateness
        return (level is not None and level.is_proven) or (self.ours is not None and self.ours.lateness_h <= _HAIR)

    @property
    def first_s(self) -> float:
        """When the first plan was shown."""
        return self.trace[0].at_s if self.trace else self.total_s

    @property
    def proven_s(self) -> float | None:
        """When the least lateness was first shown with a bound that proves it; none late needs no bound."""
        if not self.is_proven or self.ours is None:
            return None
        best_h = self.ours.lateness_h
        shown = (
            each.at_s
            for each in self.trace
            if each.lateness_h <= best_h + _HAIR
            and (best_h <= _HAIR or (each.bound_h is not None and each.bound_h >= best_h - _HAIR))
            and not each.unplaced
        )
        return next(shown, self.total_s)

    def late_at(self, moment_s: float) -> float:
        """Lateness of the best plan shown until then."""
        known = [each.lateness_h for each in self.trace if each.at_s <= moment_s]
        if self.total_s <= moment_s and self.ours is not None:
            return self.ours.lateness_h
        return known[-1] if known else float("nan")


def measure(size: str, seed: int, *, seconds: float, workers: int) -> Measured:
    """Plan one made-up week in three ways."""
    week = random_week(size, seed)
    began_s = time.monotonic()
    trace: list[Trace] = []

    def better(preview: Preview) -> None:
        trace.append(
            Trace(
                at_s=time.monotonic() - began_s,
                unplaced=preview.without_time,
                lateness_h=preview.lateness_h,
                bound_h=preview.bound_h,
            )
        )

    try:
        plan = make_plan(week=week, seconds=seconds, workers=workers, better=better)
    except PotwrightError as error:
        return Measured(seed=seed, fault=error.sentence, total_s=time.monotonic() - began_s)
    total_s = time.monotonic() - began_s
    peak_mb = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024.0
    by_hand = hand_plan(week)
    proven = _proven(week, plan, seconds=min(PROOF_S, seconds))
    return Measured(
        seed=seed,
        fault="; ".join(faults(plan)),
        ours=figures_of_plan(plan),
        simple=figures_of_plan(make_plan(week=week)),
        hand=figures_of_hand(week, by_hand),
        hand_faults=len(by_hand.violations),
        trace=tuple(trace),
        levels=plan.schedule.levels,
        sizing_gap=plan.sizing.gap_share,
        sizing_s=plan.sizing.seconds,
        total_s=total_s,
        peak_mb=peak_mb,
        alone_gap=proven.alone_gap,
        alone_s=proven.alone_s,
        least_runs=proven.runs,
        least_late_h=proven.late_h,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Proven:
    """What no plan of a week can undercut, and how far runs are from it that are sized by themselves."""

    runs: int
    late_h: float
    alone_gap: float | None
    alone_s: float


def _proven(week: Week, plan: Plan, *, seconds: float) -> Proven:
    """Worked out after the plan, in a time of its own; the fewest runs of all plans that are no later than this one."""
    parameters = parameters_of(week=week)
    frame = frame_of(week, parameters)
    demand, limits_l, quickest = net_demand(week=week), coolable_l(frame), quickest_of(frame)
    alone = size_batches(
        week=week,
        demand=demand,
        parameters=parameters,
        coolable_l=limits_l,
        seconds=min(SIZING_S, 2.0 * seconds),
        quickest=quickest,
    )
    return Proven(
        runs=least_runs(
            week=week,
            demand=demand,
            parameters=parameters,
            coolable_l=limits_l,
            seconds=seconds,
            most_late_h=plan.schedule.lateness_h,
            quickest=quickest,
        ),
        late_h=least_lateness_h(
            week=week,
            demand=demand,
            parameters=parameters,
            coolable_l=limits_l,
            seconds=seconds,
            quickest=quickest,
        ),
        alone_gap=alone.sizing.gap_share,
        alone_s=alone.sizing.seconds,
    )


# --- a pot fails ---------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class Replanned:
    """One seed of --replan."""

    seed: int
    fault: str = ""
    event: str = ""
    late_before_h: float = 0.0
    late_after_h: float = 0.0
    untouched: int = 0  # runs to come that are in other pots and keep what they are filled with
    stayed: int = 0
    could_stay: bool = True  # held where they are, all of them, the week leaves no more unserved and is no later
    seconds: float = 0.0


def measure_replan(size: str, seed: int, *, seconds: float, workers: int, again_s: float) -> Replanned:
    """Plan, let a pot fail on Wednesday at ten, and plan again."""
    week = random_week(size, seed)
    now = datetime.combine(STARTS_ON + timedelta(days=2), datetime.min.time(), ZONE) + timedelta(hours=10)
    try:
        before = make_plan(week=week, seconds=seconds, workers=workers)
        busy = [run for run in before.runs if run.start_at <= now < run.end_at]
        if not busy:
            return Replanned(seed=seed, event="no pot is in use then")
        pot = min(busy, key=lambda run: (run.end_at - now, run.code)).pot
        out = PotOut(pot=pot, start=now, end=now + timedelta(hours=48), reason="its heat has failed", batch_lost=True)
        began_s = time.monotonic()
        after = replan(base=before, week=week, asks=(out,), now=now, seconds=again_s, workers=workers)
        took_s = time.monotonic() - began_s
    except PotwrightError as error:
        return Replanned(seed=seed, fault=error.sentence)
    untouched, stayed = _stayed(before, after, pot, now)
    could_stay = stayed == untouched or _could_stay(before, after, week, out, workers=workers, seconds=again_s)
    return Replanned(
        seed=seed,
        event=f"{pot} fails for 48 h",
        late_before_h=before.schedule.lateness_h,
        late_after_h=after.schedule.lateness_h,
        untouched=untouched,
        stayed=stayed,
        could_stay=could_stay,
        seconds=took_s,
    )


def _stayed(before: Plan, after: Plan, pot: str, now: datetime) -> tuple[int, int]:
    """Runs to come in other pots, and how many of them are where they were."""
    places = {run.code: (run.pot, run.start_at) for run in after.runs}
    to_come = _to_come(before, pot, now)
    return len(to_come), sum(places.get(run.code) == (run.pot, run.start_at) for run in to_come)


def _could_stay(before: Plan, after: Plan, week: Week, out: PotOut, *, workers: int, seconds: float) -> bool:
    """Whether the week is served as well with all runs in other pots held where they are."""
    holds = tuple(
        LockRun(run=run.code, pot=run.pot, start_at=run.start_at) for run in _to_come(before, out.pot, out.start)
    )
    held = replan(base=before, week=week, asks=(out, *holds), now=out.start, seconds=seconds, workers=workers)
    return not any(
        theirs > ours + _HAIR
        for ours, theirs in zip(
            (figures_of_plan(after).unserved, figures_of_plan(after).lateness_h),
            (figures_of_plan(held).unserved, figures_of_plan(held).lateness_h),
            strict=True,
        )
    )


def _to_come(before: Plan, pot: str, now: datetime) -> list[PlannedRun]:
    return [run for run in before.runs if run.start_at > now and run.pot != pot]


# --- tables --------------------------------------------------------------------------------------------------------

_HEAD = (
    "seed",
    "hand: uns / late / runs / kWh / L",
    "simple",
    "ours",
    "least runs",
    "first s",
    "sizing gap, s",
    "of the plan, s",
    *(f"late at {moment:g} s" for moment in MOMENTS_S),
    "bound",
    "of any runs",
    "proven s",
    "total s",
    "MB",
    "fault",
)


def table(rows: Iterable[Measured]) -> str:
    """One line for each seed."""
    return _markdown(_HEAD, [_row(each) for each in rows])


def _markdown(head: Sequence[str], rows: Iterable[Sequence[str]]) -> str:
    lines = [head, ["---"] * len(head), *rows]
    return "\n".join("| " + " | ".join(line) + " |" for line in lines) + "\n"


def _row(each: Measured) -> list[str]:
    bound = each.lateness.bound if each.lateness else None
    return [
        str(each.seed),
        _figures(each.hand),
        _figures(each.simple),
        _figures(each.ours),
        "–" if each.least_runs is None else str(each.least_runs),
        f"{each.first_s:.2f}",
        _gap(each.alone_gap, each.alone_s),
        _gap(each.sizing_gap, each.sizing_s),
        *(f"{each.late_at(moment):.1f}" for moment in MOMENTS_S),
        "–" if bound is None else f"{bound:.1f}",
        f"{each.least_late_h:.1f}",
        "–" if each.proven_s is None else f"{each.proven_s:.1f}",
        f"{each.total_s:.1f}",
        f"{each.peak_mb:.0f}",
        each.fault or "–",
    ]


def _gap(share: float | None, seconds: float) -> str:
    return "–" if share is None else f"{share:.1%}, {seconds:.1f}"


def _figures(figures: Figures | None) -> str:
    if figures is None:
        return "–"
    return (
        f"{figures.unserved:.2f} / {figures.lateness_h:.1f} / {figures.runs} / {figures.energy_kwh:.0f} / "
        f"{figures.surplus_l:.0f}"
    )


def replan_table(rows: Iterable[Replanned]) -> str:
    """One line for each seed of --replan."""
    head = ("seed", "event", "late before", "late after", "untouched runs", "stayed", "could all stay", "s", "fault")
    return _markdown(
        head,
        [
            [
                str(each.seed),
                each.event,
                f"{each.late_before_h:.1f}",
                f"{each.late_after_h:.1f}",
                str(each.untouched),
                str(each.stayed),
                "yes" if each.could_stay else "no",
                f"{each.seconds:.2f}",
                each.fault or "–",
            ]
            for each in rows
        ],
    )


# --- what was to be reached ----------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Target:
    """What was to be reached, and what was."""

    wanted: str
    found: str
    is_reached: bool


def targets(size: str, rows: Sequence[Measured], *, seconds: float) -> list[Target]:
    """The targets of a size, over all seeds that gave a plan."""
    planned = [each for each in rows if each.ours is not None and each.hand is not None]
    return [
        _every("every plan passes the checker", rows, lambda each: not each.fault),
        _every("time at most 10 % over", planned, lambda each: each.total_s <= 1.1 * seconds),
        *_BY_SIZE.get(size, lambda _: [])(planned),
        *_against_hand(planned),
    ]


def _every(wanted: str, rows: Sequence[Measured], holds: Callable[[Measured], bool], share: float = 1.0) -> Target:
    held = [each for each in rows if holds(each)]
    missed = [str(each.seed) for each in rows if not holds(each)]
    return Target(
        wanted,
        f"{len(held)} of {len(rows)}" + (f" (not {', '.join(missed)})" if missed else ""),
        bool(rows) and len(held) >= share * len(rows) - _HAIR,
    )


def _proven_within(each: Measured, seconds: float) -> bool:
    return each.proven_s is not None and each.proven_s <= seconds


def _small(rows: Sequence[Measured]) -> list[Target]:
    return [_every("lateness proven least within 3 s", rows, lambda each: _proven_within(each, 3.0))]


def _medium(rows: Sequence[Measured]) -> list[Target]:
    return [
        _every(
            "sizing within 1 % of its bound in 10 s",
            rows,
            lambda each: each.alone_gap is not None and each.alone_gap <= 0.01 and each.alone_s <= 10.0,
        ),
        _every(
            "the plan's runs within 1 % too", rows, lambda each: each.sizing_gap is not None and each.sizing_gap <= 0.01
        ),
        _every("lateness <= 5 h after 20 s", rows, lambda each: each.late_at(20.0) <= 5.0),
        _every("lateness proven least within 60 s, 9 of 10", rows, lambda each: _proven_within(each, 60.0), 0.9),
    ]


def _large(rows: Sequence[Measured]) -> list[Target]:
    def far_less(each: Measured) -> bool:
        return each.hand is not None and each.late_at(60.0) <= max(0.02 * each.hand.lateness_h, _HAIR)

    def near_bound(each: Measured) -> bool:
        bound_h = each.lateness.bound if each.lateness else None
        late_h = each.late_at(60.0)
        return late_h < 5.0 or (bound_h is not None and late_h <= 1.25 * bound_h)

    return [
        _every("first plan within 2 s", rows, lambda each: each.first_s <= 2.0),
        _every("98 % less lateness than by hand after 60 s", rows, far_less),
        _every("within 25 % of the bound or < 5 h, 8 of 10", rows, near_bound, 0.8),
        _every("memory below 2 GB", rows, lambda each: each.peak_mb < 2000.0),
    ]


_BY_SIZE = {"small": _small, "medium": _medium, "large": _large}


def _against_hand(rows: Sequence[Measured]) -> list[Target]:
    both = [(each.ours, each.hand) for each in rows if each.ours is not None and each.hand is not None]
    worse = [str(each.seed) for each in rows if each.ours and each.hand and each.ours.is_worse_than(each.hand)]
    late = [(ours, hand) for ours, hand in both if hand.lateness_h > _HAIR]
    short = [(ours, hand) for ours, hand in both if hand.unserved > _HAIR]
    alike = [(ours, hand) for ours, hand in both if abs(hand.unserved - ours.unserved) <= _HAIR]
    found = Target(
        "never worse than by hand, level by level", "never" if not worse else f"seeds {', '.join(worse)}", not worse
    )
    return [
        found,
        _less("a tenth of the lateness by hand where it is late", late, lambda each: each.lateness_h, 0.1),
        _less("a tenth of what is unserved by hand where something is", short, lambda each: each.unserved, 0.1),
        _fewer_runs(rows),
        _less("the same where by hand as much is served", alike, lambda each: float(each.runs), 0.85),
        _less("5 % less energy", both, lambda each: each.energy_kwh, 0.95),
    ]


def _less(
    wanted: str, pairs: Sequence[tuple[Figures, Figures]], value: Callable[[Figures], float], most: float
) -> Target:
    ours, hand = (sum(value(pair[side]) for pair in pairs) for side in (0, 1))
    return Target(wanted, f"{ours:.1f} against {hand:.1f} in {len(pairs)} weeks", ours <= most * hand + _HAIR)


def _fewer_runs(rows: Sequence[Measured]) -> Target:
    """Beside what there is to be reached: what no plan can undercut."""
    known = [(each.ours, each.hand, each.least_runs or 0) for each in rows if each.ours and each.hand]
    found = _less("15 % fewer runs and reductions", [each[:2] for each in known], lambda each: float(each.runs), 0.85)
    return replace(found, found=f"{found.found}; no plan needs fewer than {sum(least for *_, least in known)}")


def replan_targets(rows: Sequence[Replanned]) -> list[Target]:
    """The targets of --replan."""
    done = [each for each in rows if each.untouched or each.seconds]
    untouched, stayed = sum(each.untouched for each in done), sum(each.stayed for each in done)
    could = [each for each in done if each.could_stay]
    could_stay, did_stay = sum(each.untouched for each in could), sum(each.stayed for each in could)
    slowest_s = max((each.seconds for each in done), default=0.0)
    return [
        Target("every plan passes the checker", f"{len(rows)} weeks", not any(each.fault for each in rows)),
        Target("answer within 3 s", f"slowest {slowest_s:.2f} s", slowest_s <= 3.0),
        Target(
            "90 % of untouched runs stay where all could", f"{did_stay} of {could_stay}", did_stay >= 0.9 * could_stay
        ),
        Target("90 % of all untouched runs stay", f"{stayed} of {untouched}", stayed >= 0.9 * untouched),
    ]


def target_table(found: Iterable[Target]) -> str:
    """Wanted, found, yes or no."""
    rows = [[each.wanted, each.found, "yes" if each.is_reached else "no"] for each in found]
    return _markdown(("wanted", "found", "reached"), rows)


# --- the command ---------------------------------------------------------------------------------------------------


def main(arguments: Sequence[str] | None = None) -> None:
    """Measure and print."""
    asked = _arguments(arguments)
    seeds = range(asked.first, asked.first + asked.seeds)
    say = sys.stdout.write
    say(f"{asked.size}, {asked.seeds} seeds from {asked.first}, {asked.seconds:g} s, {asked.workers} workers\n\n")
    if asked.replan:
        again = partial(
            measure_replan, asked.size, seconds=asked.seconds, workers=asked.workers, again_s=asked.again_seconds
        )
        changed = _each(again, seeds)
        say(replan_table(changed) + "\n" + target_table(replan_targets(changed)))
        return
    rows = _each(partial(measure, asked.size, seconds=asked.seconds, workers=asked.workers), seeds)
    say(table(rows) + "\n" + target_table(targets(asked.size, rows, seconds=asked.seconds)))
    planned = [each for each in rows if each.ours is not None]
    if planned:
        say(
            f"\nmedian first plan {median(each.first_s for each in planned):.2f} s, "
            f"median total {median(each.total_s for each in planned):.1f} s\n"
        )


def _each(work: Callable[[int], Row], seeds: Iterable[int]) -> list[Row]:
    """One process after another, each new, so that nothing is remembered and memory is its own."""
    found = []
    for seed in seeds:
        with ProcessPoolExecutor(max_workers=1, mp_context=multiprocessing.get_context("spawn")) as pool:
            found.append(pool.submit(work, seed).result())
        sys.stderr.write(f"seed {seed} done\n")
    return found


def _arguments(arguments: Sequence[str] | None) -> argparse.Namespace:
    parser = argparse.ArgumentParser(description="Measure the planner over made-up kitchens.")
    parser.add_argument("--size", choices=SIZES, default="small")
    parser.add_argument("--seeds", type=int, default=5, help="how many")
    parser.add_argument("--first", type=int, default=0, help="first seed")
    parser.add_argument("--seconds", type=float, default=10.0, help="for each plan")
    parser.add_argument("--workers", type=int, default=2)
    parser.add_argument("--replan", action="store_true", help="let a pot fail on Wednesday at ten")
    parser.add_argument("--again-seconds", type=float, default=3.0, help="for each re-plan")
    return parser.parse_args(arguments)


if __name__ == "__main__":
    main()
