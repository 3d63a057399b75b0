"""Runs that have begun: what has happened to them, and what of them can still be chosen."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace

from production.domain.cooling_capacity import STEP_MIN
from production.domain.plan.content import PlannedRun
from production.domain.plan.frame import Frame, up_min
from production.domain.plan.holds import Ask, BoilAt, StartedAt
from production.domain.schedule.problem import AdditionTask, CoolingMode, Draw, RunJob, RunOption, Stage
from production.domain.schedule.result import Placed, PlacedCooling, PlacedRun

HEAT_UP = "heat_up"
LONGER_MIN = 12 * 60  # a begun run that fits no shift any more may simmer so much longer than its formula says
WAIT_MIN = 60  # and wait so long at the boil, or for its additions, until hands are free (own choices)


@dataclass(frozen=True, slots=True)
class Shifts:
    """How much later than planned each stage ends, by the minute at which it was planned to end."""

    by_end: dict[int, int]
    start: int

    def after(self, minute: int) -> int:
        """The shift of what was planned from this minute on."""
        ends = [end for end in self.by_end if end <= minute]
        return self.by_end[max(ends)] if ends else self.start


def as_it_is(frame: Frame, run: PlannedRun, asks: Iterable[Ask], *, now_min: int) -> PlacedRun:
    """The placed run with what is known of its real start and its real boil.

    Equation: stages keep their length, but for the heat-up that ends with the boil; what hangs on the end of a stage
        shifts with it. Real times are rounded up to the grid. The washing of a pan that is over is left out.
    Units: frame, run, asks (records), now_min [min]; returns a record, times in min.
    Valid: runs of a plan with the frame's origin.
    Errors: none.
    Source: own definition.
    """
    start, boil = _real_minutes(frame, run.code, asks)
    placed = run.placed
    begin = placed.start_min if start is None else start
    shifts = Shifts({}, begin - placed.start_min)
    stages = []
    for stage in placed.stages:
        end = begin + stage.end_min - stage.start_min
        if stage.name == HEAT_UP and boil is not None:
            end = max(begin + STEP_MIN, boil)
        stages.append(Placed(name=stage.name, start_min=begin, end_min=end))
        shifts.by_end[stage.end_min] = end - stage.end_min
        begin = end
    pan_wash = _later(placed.pan_wash, shifts)
    return replace(
        placed,
        stages=tuple(stages),
        additions=tuple(_with_stage_end(task, placed, shifts) for task in placed.additions),
        coolings=tuple(_cooling_later(each, shifts.after(each.start_min)) for each in placed.coolings),
        wash=_later(placed.wash, shifts),
        pan_wash=pan_wash if pan_wash and pan_wash.end_min > now_min else None,
    )


def _real_minutes(frame: Frame, code: str, asks: Iterable[Ask]) -> tuple[int | None, int | None]:
    start = boil = None
    for ask in asks:
        if isinstance(ask, StartedAt) and ask.run == code:
            start = up_min(frame.minute(ask.start_at))
        if isinstance(ask, BoilAt) and ask.run == code:
            boil = up_min(frame.minute(ask.boil_at))
    return start, boil


def _with_stage_end(task: Placed, placed: PlacedRun, shifts: Shifts) -> Placed:
    """An addition is timed from the end of its stage."""
    stage = next(each for each in placed.stages if each.start_min <= task.start_min < each.end_min)
    return _moved(task, shifts.by_end[stage.end_min])


def _later(task: Placed | None, shifts: Shifts) -> Placed | None:
    return None if task is None else _moved(task, shifts.after(task.start_min))


def _moved(task: Placed, by: int) -> Placed:
    return replace(task, start_min=task.start_min + by, end_min=task.end_min + by)


def _cooling_later(cooling: PlacedCooling, by: int) -> PlacedCooling:
    return replace(
        cooling,
        start_min=cooling.start_min + by,
        end_min=cooling.end_min + by,
        ready_min=cooling.ready_min + by,
    )


def begun_job(job: RunJob, placed: PlacedRun, *, now_min: int, eased: bool = False) -> RunJob:
    """The job of a run that has begun: only what is still to come can be chosen.

    Equation: pot and start stand; what has ended keeps its length, a simmer in progress may end from now on; an
        addition, a cooling and a wash that have begun stand; a pan whose washing is over is not washed again. An eased
        run may simmer beyond its longest, and wait between its steps.
    Units: job, placed (records), now_min [min], eased (yes or no); returns a record.
    Valid: a run placed in one of the job's pots.
    Errors: none.
    Source: own definition.
    """
    option = _option_in(job, placed)
    stages = tuple(
        _begun_stage(stage, placed.stages[index] if index < len(placed.stages) else None, now_min, eased=eased)
        for index, stage in enumerate(option.stages)
    )
    wash = placed.wash if placed.wash and placed.wash.start_min < now_min else None
    pan = option.pan
    if pan is not None and placed.pan_wash is None:
        pan = replace(pan, wash_min=0)
    return replace(
        job,
        options=(
            replace(
                option,
                stages=stages,
                draws=tuple(_begun_draw(draw, placed, now_min) for draw in option.draws),
                additions=_begun_additions(option, placed, now_min, eased=eased),
                wash_min=wash.end_min - wash.start_min if wash else option.wash_min,
                pan=pan,
            ),
        ),
        release_min=0,
        start_at_min=placed.start_min,
        washed_at_min=wash.start_min if wash else None,
    )


def _option_in(job: RunJob, placed: PlacedRun) -> RunOption:
    """The option in the run's pot; in its pan too, where it still has one."""
    in_pot = [option for option in job.options if option.pot == placed.pot]
    return min(in_pot, key=lambda option: (option.pan.code if option.pan else "") != placed.pan)


def _begun_stage(stage: Stage, placed: Placed | None, now_min: int, *, eased: bool) -> Stage:
    flexible = stage.shortest_min < stage.longest_min
    if placed is None or placed.name != stage.kind:
        return stage
    length = placed.end_min - placed.start_min
    if placed.end_min <= now_min:
        return replace(stage, shortest_min=length, longest_min=length)
    if not flexible:
        wait_min = WAIT_MIN if eased and not stage.cooks else 0
        return replace(stage, shortest_min=length, longest_min=length + wait_min)
    shortest = max(stage.shortest_min, now_min - placed.start_min)
    longest = max(stage.longest_min, shortest) + (LONGER_MIN if eased else 0)
    return replace(stage, shortest_min=shortest, longest_min=longest)


def _begun_draw(draw: Draw, placed: PlacedRun, now_min: int) -> Draw:
    cooling = next((each for each in placed.coolings if each.draw == draw.name), None)
    if cooling is None or cooling.start_min >= now_min:
        return draw
    mode = CoolingMode(
        name=cooling.mode,
        places=cooling.places,
        minutes=cooling.end_min - cooling.start_min,
        ice_kg=cooling.ice_kg,
    )
    return replace(draw, modes=(mode,), not_before_min=min(draw.not_before_min, cooling.ready_min))


def _begun_additions(option: RunOption, placed: PlacedRun, now_min: int, *, eased: bool) -> tuple[AdditionTask, ...]:
    done = [task for task in placed.additions if task.start_min < now_min]
    wait_min = WAIT_MIN if eased else 0
    tasks = []
    for task in option.additions:
        at = next((each for each in done if each.name == task.name), None)
        if at is not None:
            done.remove(at)
            tasks.append(replace(task, done_at_min=at.start_min))
        else:
            tasks.append(replace(task, tolerance_min=task.tolerance_min + wait_min))
    return tuple(tasks)
