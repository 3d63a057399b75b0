"""A plan made again from now on: what has begun stands, the rest moves as little as it can."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import datetime

from production.domain.batches import size_batches
from production.domain.demand import net_demand
from production.domain.errors import PotwrightError
from production.domain.kitchen import IceMachine, Outage, Pot, Week
from production.domain.plan.assemble import plan_batches
from production.domain.plan.begun import as_it_is, begun_job
from production.domain.plan.coefficients import parameters_of
from production.domain.plan.content import Plan, PlannedRun
from production.domain.plan.effort import Better, Cancelled, Progress
from production.domain.plan.file import mark_of
from production.domain.plan.frame import Frame, frame_of, up_min
from production.domain.plan.goods import ordered_by, source_from, with_ordered
from production.domain.plan.holds import Ask, LockRun, PotOut, RunLost, StartedAt, check_asks
from production.domain.plan.make import coolable_l
from production.domain.plan.problem import ice_kg_per_min
from production.domain.plan.renet import kept_of, with_new_codes
from production.domain.plan.repair import repaired
from production.domain.schedule.problem import Problem, RunJob, Was
from production.domain.schedule.result import PlacedRun, Schedule


@dataclass(frozen=True, slots=True, kw_only=True)
class _Now:
    """A plan at a moment: what has begun, what of it is lost, and what is asked."""

    base: Plan
    asks: tuple[Ask, ...]
    frame: Frame
    now_min: int
    placed: Mapping[str, PlacedRun]  # every run of the base as it really is
    begun: Mapping[str, PlannedRun]  # that go on
    lost: tuple[PlannedRun, ...]
    eased: frozenset[str] = frozenset()  # begun runs that may wait and simmer beyond their longest

    def lock(self, run: str) -> LockRun | None:
        """The last lock of a run, if there is one."""
        locks = [ask for ask in self.asks if isinstance(ask, LockRun) and ask.run == run]
        return locks[-1] if locks else None


def replan(
    *,
    base: Plan,
    week: Week,
    asks: tuple[Ask, ...],
    now: datetime,
    seed: int = 0,
    seconds: float = 0.0,
    workers: int = 1,
    progress: Progress | None = None,
    better: Better | None = None,
    cancelled: Cancelled | None = None,
) -> Plan:
    """Plan a week again from now on, as close to the plan before as its levels allow.

    Equation: begun runs keep pot, start and all that is over; runs to come keep batch, code and orders as long as
        somebody wants them; what is wanted beyond is sized into further runs. The schedule starts from every run left
        where it was. A begun run that finds no way on may wait for hands and simmer beyond its longest, and is lost
        where even that does not help.
    Units: base, week, asks (records), now [instant], seed, workers [count], seconds [s]; returns a Plan whose minutes
        are those of the base.
    Valid: a plan of the same kitchen; now no earlier than the planning of the base.
    Errors: PotwrightError `ask-does-not-hold`; DoesNotFit and `plan-breaks-a-limit` as make_plan.
    Source: own definition.
    """
    check_asks(base=base, asks=asks, now=now)
    at = _now(base, week, asks, max(now, base.week.plan_from))
    for _ in range(3):
        plan = _planned(
            at,
            seed=seed,
            seconds=seconds,
            workers=workers,
            progress=progress,
            better=better,
            cancelled=cancelled,
        )
        stuck = {out.job for out in plan.schedule.unplaced} & at.begun.keys()
        if not stuck:
            break
        at = _eased(at, stuck)
    return _completed(at, plan)


def _planned(
    at: _Now,
    *,
    seed: int,
    seconds: float,
    workers: int,
    progress: Progress | None,
    better: Better | None,
    cancelled: Cancelled | None,
) -> Plan:
    frame = at.frame
    demand = net_demand(week=frame.week)
    lost = {run.code for run in at.lost}
    kept = kept_of(
        frame,
        demand,
        [run for run in at.base.runs if run.code not in lost],
        begun=at.begun,
        sized_as_they_are=[run.code for run in at.base.runs if (lock := at.lock(run.code)) and lock.keep_size],
    )
    further = size_batches(week=frame.week, demand=kept.left, parameters=frame.parameters, coolable_l=coolable_l(frame))
    sized = with_new_codes(further, _codes_taken(at))

    def first(problem: Problem) -> Schedule:
        return repaired(problem, at.placed, seed=seed, cancelled=cancelled)

    return plan_batches(
        frame,
        demand,
        replace(sized, batches=(*kept.batches, *sized.batches)),
        adjust=lambda job: _adjusted(at, job),
        begun=at.begun,
        source=source_from(at.base, frame.week, _used(at), frame.week.plan_from),
        first=first,
        seconds=seconds,
        workers=workers,
        seed=seed,
        progress=progress,
        better=better,
        cancelled=cancelled,
    )


def _used(at: _Now) -> tuple[PlannedRun, ...]:
    """Runs that have taken their goods."""
    lost = [run for run in at.lost if run in at.base.lost_runs or at.placed[run.code].start_min < at.now_min]
    return (*at.begun.values(), *lost)


def _codes_taken(at: _Now) -> Iterable[str]:
    yield from (run.code for run in (*at.base.runs, *at.lost))
    yield from (out.job for out in at.base.schedule.unplaced)


def _adjusted(at: _Now, job: RunJob) -> RunJob:
    """The job of a run: what has begun stands, what is locked is held, and where it was is remembered."""
    placed = at.placed.get(job.code)
    if placed is None:
        return job
    if job.code in at.begun:
        return begun_job(job, placed, now_min=at.now_min, eased=job.code in at.eased)
    lock = at.lock(job.code)
    # Its goods were there for its former start; whether they suffice for another pot is seen once it has one.
    release_min = min(job.release_min, placed.start_min)
    was = replace(job, was=Was(pot=placed.pot, start_min=placed.start_min), release_min=release_min)
    return was if lock is None else _locked(at, was, lock)


def _locked(at: _Now, job: RunJob, lock: LockRun) -> RunJob:
    options = tuple(option for option in job.options if lock.pot in (None, option.pot))
    if not options:
        raise PotwrightError(
            f"{job.code} does not fit into {at.frame.pots[lock.pot or ''].name} as large as it is.",
            code="ask-does-not-hold",
            numbers={"ask": lock.kind, "about": job.code},
            remedy="Lock it to another pot, or lift the lock.",
        )
    start = None if lock.start_at is None else up_min(at.frame.minute_after(lock.start_at))
    return replace(job, options=options, start_at_min=start)


def _eased(at: _Now, stuck: set[str]) -> _Now:
    """Begun runs without a way on may simmer longer; where that was tried already they are lost."""
    given_up = stuck & at.eased
    return replace(
        at,
        eased=at.eased | stuck,
        begun={code: run for code, run in at.begun.items() if code not in given_up},
        lost=(*at.lost, *(at.begun[code] for code in sorted(given_up))),
    )


def _completed(at: _Now, plan: Plan) -> Plan:
    told = {ask.run for ask in at.asks if isinstance(ask, RunLost)} | {run.code for run in at.base.lost_runs}
    cautions = (
        *plan.cautions,
        *(
            f"{code} may have to wait or simmer longer than its formula says, until hands or cooling are free."
            for code in sorted(at.eased & at.begun.keys())
        ),
        *(f"{run.code} is lost: what it was to give has to be made again." for run in at.lost if run.code not in told),
    )
    whole = replace(
        plan,
        purchases=with_ordered(plan.purchases, ordered_by(at.base, at.frame.week.plan_from)),
        cautions=cautions,
        asks=at.asks,
        lost_runs=at.lost,
        mark="",
    )
    return replace(whole, mark=mark_of(whole))


# The kitchen at the moment


def _now(base: Plan, week: Week, asks: tuple[Ask, ...], now: datetime) -> _Now:
    before = frame_of(base.week, parameters_of(week=base.week), origin=base.origin)
    now_min = up_min(before.minute_after(now))
    placed = {run.code: as_it_is(before, run, asks, now_min=now_min) for run in base.runs}
    started = {ask.run for ask in asks if isinstance(ask, StartedAt)}
    lost = _lost_codes(base, placed, asks, before, now_min)
    begun = {
        run.code: run
        for run in base.runs
        if run.code not in lost and (placed[run.code].start_min < now_min or run.code in started)
    }
    iced = [*placed.values(), *(run.placed for run in base.lost_runs)]
    week = replace(
        week,
        plan_from=now,
        pots=tuple(_pot_now(pot, asks, begun, placed, before) for pot in week.pots),
        ice_machine=_ice_now(before, week.ice_machine, iced, now_min),
    )
    frame = frame_of(week, parameters_of(week=week), origin=base.origin)
    return _Now(
        base=base,
        asks=asks,
        frame=frame,
        now_min=now_min,
        placed=placed,
        begun=begun,
        lost=(*base.lost_runs, *(run for run in base.runs if run.code in lost)),
    )


def _lost_codes(
    base: Plan, placed: Mapping[str, PlacedRun], asks: Iterable[Ask], frame: Frame, now_min: int
) -> set[str]:
    lost = set()
    for ask in asks:
        if isinstance(ask, RunLost):
            lost |= {ask.run} & placed.keys()
        if isinstance(ask, PotOut) and ask.batch_lost:
            minute = frame.minute(ask.start)
            lost |= {code for code, run in placed.items() if run.start_min < now_min and _is_in(run, ask.pot, minute)}
    return lost


def _is_in(run: PlacedRun, pot: str, minute: int) -> bool:
    """Whether the run has something in a pot or pan at a minute; a pot that is being washed is empty."""
    emptied = _emptied_min(run)
    if run.pot == pot:
        return run.start_min <= minute < emptied
    return run.pan == pot and emptied <= minute < run.stages[-1].end_min


def _emptied_min(run: PlacedRun) -> int:
    """When the pot is empty: at the end of the chain, or once it is poured over into its pan."""
    poured = [stage.end_min for stage in run.stages if stage.name == "pour_over"]
    return poured[0] if poured else run.stages[-1].end_min


def _pot_now(
    pot: Pot, asks: Iterable[Ask], begun: Mapping[str, PlannedRun], placed: Mapping[str, PlacedRun], frame: Frame
) -> Pot:
    """A pot with the outages that are asked for; what has been begun in it is finished first."""
    asked = [
        Outage(start=ask.start, end=ask.end, reason=ask.reason)
        for ask in asks
        if isinstance(ask, PotOut) and ask.pot == pot.code
    ]
    free = [
        (frame.at(placed[code].start_min), frame.at(_free_min(placed[code], pot.code)))
        for code in begun
        if pot.code in (placed[code].pot, placed[code].pan)
    ]
    outages = []
    for outage in dict.fromkeys((*pot.outages, *asked)):
        inside = [until for start, until in free if start < outage.end and outage.start < until]
        start = max([outage.start, *inside])
        if start < outage.end:
            outages.append(replace(outage, start=start))
    return replace(pot, outages=tuple(outages))


def _free_min(run: PlacedRun, pot: str) -> int:
    return run.pot_free_min if run.pot == pot else run.pan_free_min


def _ice_now(frame: Frame, machine: IceMachine | None, runs: Iterable[PlacedRun], now_min: int) -> IceMachine | None:
    """The ice machine with what should be in its bin now: filled, drawn and delivered to as planned until now."""
    before = frame.week.ice_machine
    if machine is None or before is None:
        return machine
    start_min = up_min(frame.minute(frame.week.plan_from))
    level, last = before.bin_kg * before.start_share, start_min
    kg_per_min = ice_kg_per_min(frame)
    draws = [(c.start_min, -c.ice_kg) for run in runs for c in run.coolings if start_min <= c.start_min < now_min]
    brought = [(up_min(frame.minute_after(each.at)), each.mass_kg) for each in frame.week.ice_deliveries]
    brought = [each for each in brought if start_min <= each[0] < now_min]
    for minute, mass_kg in [*sorted([*draws, *brought], key=lambda each: (each[0], -each[1])), (now_min, 0.0)]:
        level = min(before.bin_kg, level + kg_per_min * (minute - last))
        level = max(0.0, min(before.bin_kg, level + mass_kg))
        last = minute
    return replace(machine, start_share=min(1.0, level / machine.bin_kg))
