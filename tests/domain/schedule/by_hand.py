"""Schedules set by hand, minute by minute, without any scheduler."""

from __future__ import annotations

from itertools import pairwise

from production.domain.schedule.problem import Problem, RunJob
from production.domain.schedule.result import Late, Placed, PlacedCooling, PlacedRun, Schedule


def set_run(
    job: RunJob,
    start_min: int,
    *,
    option: int = 0,
    longer: dict[int, int] | None = None,
    mode: int = 0,
    wash_at: int | None = None,
    pan_wash_at: int | None = None,
) -> PlacedRun:
    """A run from a start, each stage as short as it may be or `longer` by some minutes, washed at once unless told."""
    chosen = job.options[option]
    marks = [start_min]
    for number, stage in enumerate(chosen.stages):
        marks.append(marks[-1] + stage.shortest_min + (longer or {}).get(number, 0))
    stages = tuple(
        Placed(name=stage.kind, start_min=begin, end_min=end)
        for stage, (begin, end) in zip(chosen.stages, pairwise(marks), strict=True)
    )
    coolings = []
    for draw in chosen.draws:
        way, at = draw.modes[mode], stages[draw.stage].end_min
        coolings.append(
            PlacedCooling(
                draw=draw.name,
                mode=way.name,
                places=way.places,
                ice_kg=way.ice_kg,
                start_min=at,
                end_min=at + way.minutes,
                ready_min=at + way.minutes + draw.freeze_min,
            )
        )
    additions = []
    for task in chosen.additions:
        planned = stages[task.stage].end_min - task.before_end_min
        at = planned if task.done_at_min is None else task.done_at_min
        additions.append(Placed(name=task.name, start_min=at, end_min=at + task.cook_min))
    emptied = stages[chosen.last_pot_stage].end_min
    return PlacedRun(
        job=job.code,
        option=option,
        pot=chosen.pot,
        stages=stages,
        additions=tuple(additions),
        coolings=tuple(coolings),
        wash=_wash(emptied if wash_at is None else wash_at, chosen.wash_min),
        why_here="",
        pan=chosen.pan.code if chosen.pan else "",
        pan_wash=_wash(marks[-1] if pan_wash_at is None else pan_wash_at, chosen.pan.wash_min) if chosen.pan else None,
    )


def _wash(start_min: int, minutes: int) -> Placed | None:
    return Placed(name="wash", start_min=start_min, end_min=start_min + minutes) if minutes else None


def set_schedule(problem: Problem, *runs: PlacedRun) -> Schedule:
    """A complete schedule of these runs with its late dispatches counted."""
    jobs = {job.code: job for job in problem.jobs}
    missed = [
        (run.job, due, cooling.ready_min)
        for run in runs
        for draw, cooling in zip(jobs[run.job].options[run.option].draws, run.coolings, strict=True)
        for due in draw.dues
        if cooling.ready_min > due.minute
    ]
    return Schedule(
        status="complete" if runs else "empty",
        method="by hand",
        runs=runs,
        unplaced=(),
        late=tuple(
            Late(job=job, label=due.label, due_min=due.minute, ready_min=ready, resource="", sentence="")
            for job, due, ready in missed
        ),
        lateness_h=sum(due.weight * due.share * (ready - due.minute) / 60 for _, due, ready in missed),
        seconds=0.0,
        seed=0,
    )
