"""The scheduling core on published instances, of which the optimum is known.

Instances in tests/reference/instances: ft06, ft10 (Fisher and Thompson, in Muth and Thompson 1963) and la01, la05
(Lawrence 1984) as in the public job-shop library JSPLIB; j301_1 of the project scheduling library PSPLIB (Kolisch and
Sprecher 1996).
"""

from __future__ import annotations

from itertools import pairwise
from pathlib import Path

import pytest

from production.domain.schedule.cpsat import Answer, Core, Task, Time, fixed

INSTANCES = Path(__file__).parent / "instances"
SECONDS = 120.0  # far more than any of these takes

Job = list[tuple[int, int]]  # machine, minutes


def job_shop(name: str) -> list[Job]:
    rows = [[int(word) for word in line.split()] for line in (INSTANCES / f"{name}.txt").read_text().splitlines()[1:]]
    return [list(zip(row[::2], row[1::2], strict=True)) for row in rows]


def shortest(core: Core, ends: list[Time], horizon: int, seconds: float = SECONDS) -> Answer:
    last = core.time(0, horizon)
    for end in ends:
        core.not_before(last, end)
    core.minimise([(last, 1)])
    return core.solve(seconds=seconds, workers=2, seed=1)


def job_shop_optimum(
    jobs: list[Job], *, no_wait: bool = False, hands: int | None = None, seconds: float = SECONDS
) -> Answer:
    """Least makespan; without waiting the tasks of a job follow each other at once; hands bound what runs at once."""
    core, horizon = Core(), sum(minutes for job in jobs for _, minutes in job)
    machines: dict[int, list[Task]] = {}
    everything, ends = [], []
    for job in jobs:
        start = core.time(0, horizon)
        for (machine, minutes), following in pairwise([*job, (-1, 0)]):
            task = core.task(start, start.after(minutes), core.always)
            machines.setdefault(machine, []).append(task)
            everything.append((task, fixed(1)))
            end = start.after(minutes)
            if following[0] >= 0:
                start = end if no_wait else core.time(0, horizon)
                core.not_before(start, end)
        ends.append(end)
    for tasks in machines.values():
        core.unary(tasks)
    if hands is not None:
        core.cumulative(everything, hands)
    return shortest(core, ends, horizon, seconds)


@pytest.mark.parametrize(
    ("name", "optimum"),
    [
        ("ft06", 55),  # JSPLIB
        ("la01", 666),  # JSPLIB
        ("la05", 593),  # JSPLIB
    ],
)
def test_a_job_shop_takes_its_published_optimum(name: str, optimum: int) -> None:
    answer = job_shop_optimum(job_shop(name))

    assert answer.is_proven
    assert (answer.objective, answer.bound) == (optimum, optimum)


def test_the_ten_by_ten_job_shop_is_never_better_than_its_optimum() -> None:
    core_answer = job_shop_optimum(job_shop("ft10"))

    assert core_answer.bound <= 930 <= core_answer.objective  # JSPLIB: 930
    assert core_answer.objective == 930


def test_a_job_shop_without_waiting_takes_longer() -> None:
    answer = job_shop_optimum(job_shop("ft06"), no_wait=True)

    assert answer.is_proven
    assert answer.objective == 73  # computed and proven with another program, not published


@pytest.mark.parametrize(("hands", "makespan"), [(1, 197), (3, 66), (4, 56)])
def test_fewer_hands_make_a_job_shop_longer(hands: int, makespan: int) -> None:
    """197 minutes of work over 1 and 3 hands cannot take less than 197 and 66; 56 was proven with another program."""
    answer = job_shop_optimum(job_shop("ft06"), hands=hands, seconds=5.0)

    assert answer.objective == makespan
    assert answer.bound <= makespan


def test_a_project_with_four_resources_takes_its_published_optimum() -> None:
    text = (INSTANCES / "j301_1.sm").read_text().splitlines()

    def table(title: str, skip: int) -> list[list[int]]:
        first = next(number for number, line in enumerate(text) if line.startswith(title)) + skip
        rows = []
        for line in text[first:]:
            if line.startswith("*"):
                break
            rows.append([int(word) for word in line.split()])
        return rows

    followers = {row[0]: row[3:] for row in table("PRECEDENCE", 2)}
    needs = {row[0]: (row[2], row[3:]) for row in table("REQUESTS", 3)}
    capacities = table("RESOURCEAVAILABILITIES", 2)[0]
    core, horizon = Core(), sum(minutes for minutes, _ in needs.values())
    starts = {number: core.time(0, horizon) for number in needs}
    for number, after in followers.items():
        for other in after:
            core.not_before(starts[other], starts[number], wait=needs[number][0])
    for resource, capacity in enumerate(capacities):
        uses = [
            (core.task(starts[number], starts[number].after(minutes), core.always), fixed(amounts[resource]))
            for number, (minutes, amounts) in needs.items()
            if amounts[resource] and minutes
        ]
        core.cumulative(uses, capacity)
    answer = shortest(core, list(starts.values()), horizon)

    assert answer.is_proven
    assert answer.objective == 43  # PSPLIB, optimum of j301_1
