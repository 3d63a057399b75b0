"""A second reader of every schedule: event sweeps on plain minutes, sharing nothing with the scheduler but the problem.

A violation is always a fault of the program. A schedule with one is never shown. What lies before `now_min` has
happened: a begun run must be told as it was, but it breaks no limit there.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import combinations, pairwise

from production.domain.schedule.problem import AdditionTask, Draw, Problem, RunJob, RunOption
from production.domain.schedule.result import Placed, PlacedCooling, PlacedRun, Schedule, Violation

ROUNDING = 1e-4  # kW, kg, litres: rounding of sums, far below anything a kitchen can measure

_Span = tuple[int, int]
_Event = tuple[int, float]
_Pair = tuple[PlacedRun, RunJob, RunOption]


@dataclass(frozen=True, slots=True)
class _Stay:
    """A run in a vessel, pot or pan, from the first drop to the end of washing."""

    run: PlacedRun
    allergens: frozenset[str]
    start_min: int
    free_min: int


def check_schedule(problem: Problem, schedule: Schedule) -> tuple[Violation, ...]:
    """List every limit of the problem that a schedule breaks.

    Equation: each chain is compared stage by stage with the run's option; each resource is swept over the minutes at
        which its use changes, from now on; the ice bin is refilled and drawn in the order of time; runs that are
        reduced together are poured over in the same minute; late dispatches are counted anew.
    Units: no quantities; a violation carries its minute.
    Valid: any schedule of this problem, also a damaged one.
    Errors: none; faults are returned, in the order of time.
    Source: own definition.
    """
    found = list(_membership(problem, schedule))
    pairs = _pairs(problem, schedule)
    for run, job, option in pairs:
        found += _chain(problem, run, job, option)
        found += _additions(run, option)
        found += _draws(problem, run, option)
        found += _wash(run, job, option)
    found += _joins(problem, pairs)
    found += _horizon(problem, pairs)
    found += _attendance(problem, pairs)
    found += _cooks(problem, pairs)
    found += _heat(problem, pairs)
    found += _vessels(problem, pairs)
    found += _devices_and_trays(problem, pairs)
    found += _ice(problem, pairs)
    found += _stores(problem, pairs)
    found += _lateness(schedule, pairs)
    return tuple(sorted(found, key=lambda violation: (violation.at_min, violation.code, violation.sentence)))


def _fault(code: str, at_min: int, sentence: str) -> Violation:
    return Violation(code=code, sentence=sentence, at_min=at_min)


# Who is in the schedule


def _membership(problem: Problem, schedule: Schedule) -> Iterator[Violation]:
    named = Counter([run.job for run in schedule.runs] + [item.job for item in schedule.unplaced])
    known = {job.code: job for job in problem.jobs}
    for code in named.keys() - known.keys():
        yield _fault("unknown-run", 0, f"{code} is not a run of this problem.")
    for code in known:
        if named[code] != 1:
            yield _fault("run-count", 0, f"{code} is named {named[code]} times, not once.")
    for run in schedule.runs:
        if not run.stages:
            yield _fault("stages", 0, f"{run.job} has no stages.")
        if run.job in known and not 0 <= run.option < len(known[run.job].options):
            yield _fault("unknown-option", 0, f"{run.job} uses an option that it does not have.")
    status = "complete" if not schedule.unplaced else "partial"
    if (schedule.status != status) if schedule.runs else (schedule.status != "empty"):
        yield _fault("status", 0, f"The schedule calls itself {schedule.status}.")


def _pairs(problem: Problem, schedule: Schedule) -> list[_Pair]:
    known = {job.code: job for job in problem.jobs}
    return [
        (run, known[run.job], known[run.job].options[run.option])
        for run in schedule.runs
        if run.job in known and 0 <= run.option < len(known[run.job].options) and run.stages
    ]


# One run by itself


def _chain(problem: Problem, run: PlacedRun, job: RunJob, option: RunOption) -> Iterator[Violation]:
    if run.pot != option.pot:
        yield _fault("wrong-pot", run.start_min, f"{run.job} stands in {run.pot}, its option says {option.pot}.")
    if run.pan != (option.pan.code if option.pan else ""):
        yield _fault("wrong-pan", run.start_min, f"{run.job} is not poured over as its option says.")
    yield from _start(problem, run, job)
    if [placed.name for placed in run.stages] != [stage.kind for stage in option.stages]:
        yield _fault("stages", run.start_min, f"{run.job} does not have the stages of its option.")
        return
    for before, after in pairwise(run.stages):
        if before.end_min != after.start_min:
            yield _fault("gap", before.end_min, f"{run.job}: {after.name} does not follow {before.name} at once.")
    for placed, stage in zip(run.stages, option.stages, strict=True):
        if not stage.shortest_min <= placed.end_min - placed.start_min <= stage.longest_min:
            yield _fault("stage-length", placed.start_min, f"{run.job}: {placed.name} has a length it must not have.")


def _start(problem: Problem, run: PlacedRun, job: RunJob) -> Iterator[Violation]:
    if job.start_at_min is not None and run.start_min != job.start_at_min:
        yield _fault("moved", run.start_min, f"{run.job} does not start when it has been begun or locked to start.")
    begun = job.start_at_min is not None and job.start_at_min < problem.now_min
    if not begun and run.start_min < max(problem.now_min, job.release_min):
        yield _fault("too-early", run.start_min, f"{run.job} starts before its ingredients or before now.")


def _stage_of(run: PlacedRun, index: int) -> Placed | None:
    return run.stages[index] if index < len(run.stages) else None


def _additions(run: PlacedRun, option: RunOption) -> Iterator[Violation]:
    left = sorted(run.additions, key=lambda placed: placed.start_min)
    for task in sorted(option.additions, key=lambda task: (task.stage, task.tolerance_min - task.before_end_min)):
        placed = next((item for item in left if item.name == task.name and _addition_right(run, task, item)), None)
        if placed is None:
            yield _fault("addition", run.start_min, f"{run.job}: {task.name} is not added at its time.")
        else:
            left.remove(placed)
    for item in left:
        yield _fault("addition", item.start_min, f"{run.job}: {item.name} is an addition too many or misplaced.")


def _addition_right(run: PlacedRun, task: AdditionTask, placed: Placed) -> bool:
    if task.done_at_min is not None:
        return (placed.start_min, placed.end_min) == (task.done_at_min, task.done_at_min + task.cook_min)
    stage = _stage_of(run, task.stage)
    return (
        stage is not None
        and placed.end_min - placed.start_min == task.cook_min
        and stage.start_min <= placed.start_min
        and placed.end_min <= stage.end_min
        and abs(stage.end_min - task.before_end_min - placed.start_min) <= task.tolerance_min
    )


def _draws(problem: Problem, run: PlacedRun, option: RunOption) -> Iterator[Violation]:
    if [cooling.draw for cooling in run.coolings] != [draw.name for draw in option.draws]:
        yield _fault("draws", run.start_min, f"{run.job} does not cool exactly its own draws.")
    for draw, cooling in _cooled(run, option):
        stage = _stage_of(run, draw.stage)
        at = cooling.start_min
        if stage is None or at != stage.end_min:
            yield _fault("cooling-start", at, f"{run.job}: the {draw.name} draw does not go into cooling at once.")
        if not any(
            (mode.name, mode.places, mode.minutes, mode.ice_kg)
            == (cooling.mode, cooling.places, cooling.end_min - at, cooling.ice_kg)
            for mode in draw.modes
        ):
            yield _fault("cooling-mode", at, f"{run.job}: the {draw.name} draw is cooled in a way it does not have.")
        if cooling.ready_min != cooling.end_min + draw.freeze_min:
            yield _fault("freezing", at, f"{run.job}: the {draw.name} draw is ready before or after it is frozen.")
        if at >= problem.now_min and cooling.ready_min < draw.not_before_min:
            yield _fault(
                "shelf-life", cooling.ready_min, f"{run.job}: the {draw.name} draw is ready too early to keep."
            )
        if not _within(_staffed(problem), max(at, problem.now_min), cooling.end_min):
            yield _fault("cooling-unattended", at, f"{run.job}: nobody is there to read the {draw.name} draw.")


def _cooled(run: PlacedRun, option: RunOption) -> list[tuple[Draw, PlacedCooling]]:
    by_name = {draw.name: draw for draw in option.draws}
    return [(by_name[cooling.draw], cooling) for cooling in run.coolings if cooling.draw in by_name]


def _wash(run: PlacedRun, job: RunJob, option: RunOption) -> Iterator[Violation]:
    emptied = _stage_of(run, option.last_pot_stage)
    yield from _washed(run, "pot", run.wash, option.wash_min, emptied)
    yield from _washed(run, "pan", run.pan_wash, option.pan.wash_min if option.pan else 0, run.stages[-1])
    if job.washed_at_min is not None and run.wash and run.wash.start_min != job.washed_at_min:
        yield _fault("wash", run.wash.start_min, f"{run.job}: the pot is not washed when its washing has begun.")


def _washed(
    run: PlacedRun, vessel: str, wash: Placed | None, wash_min: int, emptied: Placed | None
) -> Iterator[Violation]:
    if (wash.end_min - wash.start_min if wash else 0) != wash_min:
        yield _fault("wash", run.start_min, f"{run.job}: the {vessel} is not washed for as long as it takes.")
    if wash and emptied and wash.start_min < emptied.end_min:
        yield _fault("wash", wash.start_min, f"{run.job}: the {vessel} is washed before it is empty.")


def _joins(problem: Problem, pairs: Sequence[_Pair]) -> Iterator[Violation]:
    """Runs that are reduced together are all there, and are poured over in the same minute."""
    placed = {run.job: (run, option) for run, _, option in pairs}
    for join in problem.joins:
        here = [code for code in (join.host, *join.guests) if code in placed]
        if here and len(here) <= len(join.guests):
            yield _fault("join", placed[here[0]][0].start_min, f"{join.host} is not reduced with all of its guests.")
        if join.host not in here:
            continue
        host, option = placed[join.host]
        poured = _stage_of(host, option.pan.pour_stage) if option.pan else None
        for guest in (placed[code][0] for code in join.guests if code in placed):
            last = guest.stages[-1]
            if poured is None or last.start_min != poured.start_min:
                yield _fault("join", last.start_min, f"{guest.job} is not poured over together with {join.host}.")


def _horizon(problem: Problem, pairs: Sequence[_Pair]) -> Iterator[Violation]:
    for run, _, _ in pairs:
        washes = [wash for wash in (run.wash, run.pan_wash) if wash]
        ends = [placed.end_min for placed in (*run.stages, *run.additions, *washes)]
        last = max(ends + [cooling.ready_min for cooling in run.coolings])
        if last > problem.horizon_min:
            yield _fault("horizon", last, f"{run.job} goes on after the end of the plan.")


# People


def _staffed(problem: Problem) -> list[_Span]:
    """Staffed time as spans that do not touch."""
    spans: list[_Span] = []
    for window in sorted(problem.cooks, key=lambda window: window.start_min):
        if window.amount <= 0:
            continue
        if spans and window.start_min <= spans[-1][1]:
            spans[-1] = (spans[-1][0], max(spans[-1][1], window.end_min))
        else:
            spans.append((window.start_min, window.end_min))
    return spans


def _within(spans: Iterable[_Span], start: int, end: int) -> bool:
    return start >= end or any(first <= start and end <= last for first, last in spans)


def _attendance(problem: Problem, pairs: Sequence[_Pair]) -> Iterator[Violation]:
    staffed = _staffed(problem)
    for run, _, option in pairs:
        for stage, placed in zip(option.stages, run.stages, strict=False):
            if _within(staffed, max(placed.start_min, problem.now_min), placed.end_min):
                continue
            if stage.cooks or stage.on_site:
                yield _fault("nobody-on-site", placed.start_min, f"{run.job}: {placed.name} needs somebody on site.")
            elif not problem.unattended_simmer:
                yield _fault("unattended", placed.start_min, f"{run.job}: {placed.name} would run with nobody there.")


def _cooks(problem: Problem, pairs: Sequence[_Pair]) -> Iterator[Violation]:
    events = [event for w in problem.cooks for event in _use(problem, w.start_min, w.end_min, -w.amount)]
    for run, _, option in pairs:
        for stage, placed in zip(option.stages, run.stages, strict=False):
            events += _use(problem, placed.start_min, placed.end_min, stage.cooks)
        washes = [wash for wash in (run.wash, run.pan_wash) if wash]
        for task in (*run.additions, *washes):
            events += _use(problem, task.start_min, task.end_min, 1)
    for minute, over in _sweep(events):
        if over > 0:
            yield _fault("cooks", minute, f"{over:g} cooks more are at work than are on duty.")


# Things: sweeps over the minutes at which a use changes


def _use(problem: Problem, start: int, end: int, amount: float) -> list[_Event]:
    """A use from now on."""
    begin = max(start, problem.now_min)
    return [(begin, amount), (end, -amount)] if end > begin else []


def _sweep(events: Iterable[_Event]) -> Iterator[tuple[int, float]]:
    """The level after each minute at which it changes."""
    level = 0.0
    changes: dict[int, list[float]] = {}
    for minute, change in events:
        changes.setdefault(minute, []).append(change)
    for minute in sorted(changes):
        level += sum(changes[minute])
        yield minute, level


def _over(code: str, what: str, events: Iterable[_Event], limit: float) -> Iterator[Violation]:
    for minute, level in _sweep(events):
        if level > limit + ROUNDING:
            yield _fault(code, minute, f"{what} is used with {level:g}, it has {limit:g}.")


def _heat(problem: Problem, pairs: Sequence[_Pair]) -> Iterator[Violation]:
    for supply, limit in problem.supplies_kw:
        events: list[_Event] = []
        for run, _, option in pairs:
            for number, (stage, placed) in enumerate(zip(option.stages, run.stages, strict=False)):
                if option.supply_of(number) == supply:
                    events += _use(problem, placed.start_min, placed.end_min, stage.power_kw)
        yield from _over("heat", f"Heat supply {supply}", events, limit)


def _devices_and_trays(problem: Problem, pairs: Sequence[_Pair]) -> Iterator[Violation]:
    coolings = [(draw, cooling) for run, _, option in pairs for draw, cooling in _cooled(run, option)]
    for device, places in problem.devices:
        events: list[_Event] = []
        for _, cooling in coolings:
            taken = sum(count for name, count in cooling.places if name == device)
            events += _use(problem, cooling.start_min, cooling.end_min, taken)
        yield from _over("cooling-places", f"Cooling device {device}", events, places)
    for tray, count in problem.trays:
        events = []
        for draw, cooling in coolings:
            taken = sum(number for name, number in draw.trays if name == tray)
            events += _use(problem, cooling.start_min, cooling.ready_min, taken)
        yield from _over("trays", f"Tray {tray}", events, count)


def _stores(problem: Problem, pairs: Sequence[_Pair]) -> Iterator[Violation]:
    """Opening stock may overfill a store by itself; a run may not add to that."""
    for store in problem.stores:
        ours: list[_Event] = []
        for run, _, option in pairs:
            for draw, cooling in _cooled(run, option):
                for keep in draw.keep:
                    if keep.store == store.code:
                        ours += _use(problem, cooling.ready_min, keep.until_min, keep.litres)
        opening = [event for until_min, litres in store.opening for event in _use(problem, 0, until_min, litres)]
        standing = dict(_sweep([*ours, *((minute, 0.0) for minute, _ in opening)]))
        for minute, level in _sweep([*ours, *opening]):
            if standing[minute] > ROUNDING and level > store.litres + ROUNDING:
                yield _fault(
                    "store", minute, f"Store {store.code} holds {level:g} l, it has room for {store.litres:g} l."
                )


def _ice(problem: Problem, pairs: Sequence[_Pair]) -> Iterator[Violation]:
    """The bin is filled at a steady rate until it is full; each draw-off takes its ice at once.

    Ice that is delivered goes in before the draws of its minute; what the bin cannot hold is lost.
    """
    level = min(problem.ice_start_kg, problem.ice_bin_kg)
    last = problem.now_min
    brought = [(delivery.minute, 0, delivery.mass_kg) for delivery in problem.ice_deliveries]
    drawn = [(c.start_min, 1, -c.ice_kg) for run, _, _ in pairs for c in run.coolings]
    for minute, _, kg in sorted(event for event in (*brought, *drawn) if event[0] >= problem.now_min):
        level = min(problem.ice_bin_kg, level + problem.ice_kg_per_min * (minute - last))
        level = min(problem.ice_bin_kg, level + kg)
        last = minute
        if kg < 0 and level < -ROUNDING:
            yield _fault("ice", minute, f"The ice bin is {-level:.4g} kg short.")


# Pots and pans


def _vessels(problem: Problem, pairs: Sequence[_Pair]) -> Iterator[Violation]:
    for vessel, stays in _stays(problem, pairs).items():
        outages = sorted((w.start_min, w.end_min) for name, w in problem.outages if name == vessel)
        stays.sort(key=lambda stay: stay.start_min)
        for stay in stays:
            begin = max(stay.start_min, problem.now_min)
            if any(start < stay.free_min and begin < end for start, end in outages):
                yield _fault("outage", stay.start_min, f"{stay.run.job}: {vessel} is out of order.")
        for before, after in combinations(stays, 2):
            yield from _one_after_another(problem, vessel, before, after, outages)


def _stays(problem: Problem, pairs: Sequence[_Pair]) -> dict[str, list[_Stay]]:
    """Who is in which vessel; what is poured over leaves the allergens of all its runs in the pan."""
    poured = {join.host: {join.host, *join.guests} for join in problem.joins}
    stays: dict[str, list[_Stay]] = {}
    for run, job, option in pairs:
        emptied = _stage_of(run, option.last_pot_stage) or run.stages[-1]
        free = run.wash.end_min if run.wash else emptied.end_min
        stays.setdefault(run.pot, []).append(_Stay(run, job.allergens, run.start_min, free))
        begin = _stage_of(run, option.pan.pour_stage) if option.pan else None
        if begin is not None:
            inside = [other.allergens for other in problem.jobs if other.code in poured.get(job.code, {job.code})]
            free = run.pan_wash.end_min if run.pan_wash else run.stages[-1].end_min
            stays.setdefault(run.pan, []).append(_Stay(run, frozenset().union(*inside), begin.start_min, free))
    return stays


def _one_after_another(
    problem: Problem, vessel: str, before: _Stay, after: _Stay, outages: Sequence[_Span]
) -> Iterator[Violation]:
    both_from, both_until = max(after.start_min, problem.now_min), min(before.free_min, after.free_min)
    if both_from < both_until:
        yield _fault("pot", both_from, f"{before.run.job} and {after.run.job} are in {vessel} at the same time.")
        return
    soak_min = problem.soak_min if before.allergens - after.allergens else 0
    if after.start_min >= problem.now_min and _longest_free(before.free_min, after.start_min, outages) < soak_min:
        yield _fault("soak", after.start_min, f"{vessel} is not soaked between {before.run.job} and {after.run.job}.")


def _longest_free(start: int, end: int, outages: Sequence[_Span]) -> int:
    longest, clear_from = 0, start
    for out_from, out_until in outages:
        longest = max(longest, min(out_from, end) - clear_from)
        clear_from = max(clear_from, out_until)
    return max(longest, end - clear_from)


# Dispatches


def _lateness(schedule: Schedule, pairs: Sequence[_Pair]) -> Iterator[Violation]:
    missed = Counter[tuple[str, str, int, int]]()
    total = 0.0
    for run, _, option in pairs:
        for draw, cooling in _cooled(run, option):
            for due in draw.dues:
                late_min = cooling.ready_min - due.minute
                if late_min > 0:
                    missed[run.job, due.label, due.minute, cooling.ready_min] += 1
                    total += due.weight * due.share * late_min / 60
    listed = Counter((late.job, late.label, late.due_min, late.ready_min) for late in schedule.late)
    for (job, label, due_min, _), count in ((missed - listed) + (listed - missed)).items():
        yield _fault("late-list", due_min, f"{label} of {job}: {count} late dispatch listed wrongly or not at all.")
    if abs(total - schedule.lateness_h) > 1e-6:
        yield _fault("lateness", 0, f"The schedule counts {schedule.lateness_h:g} late hours; they are {total:g}.")
