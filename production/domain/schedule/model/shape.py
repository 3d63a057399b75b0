"""A problem read for the solver: which vessels are interchangeable, and every run as a row of slots for stages."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from difflib import SequenceMatcher
from itertools import combinations

from production.domain.schedule.problem import Problem, RunJob, RunOption

MOST_ORDERS = 2_000  # pairs of runs whose order in a vessel is decided one by one; beyond, soaking is padded


@dataclass(frozen=True, slots=True)
class Vessels:
    """Pots (or pans) that no run tells apart, and how they are soaked."""

    codes: tuple[str, ...]
    padded: bool = False  # the soak is added to the stay of every run that could need it
    ordered: bool = False  # the order of the runs is decided pair by pair


@dataclass(frozen=True, slots=True)
class Way:
    """Options of a run that differ only in which of interchangeable vessels they use."""

    option: RunOption  # one of them
    indexes: Mapping[tuple[str, str], int]  # option by pot and pan
    pot: int  # group of vessels
    pan: int | None
    slots: tuple[int, ...]  # slot of each stage


@dataclass(frozen=True, slots=True)
class Row:
    """A run: its ways over a common row of slots; a way that lacks a slot spends no time in it."""

    job: RunJob
    ways: tuple[Way, ...]
    slots: int


@dataclass(frozen=True, slots=True)
class Shape:
    """The problem as rows and groups of vessels."""

    problem: Problem
    rows: tuple[Row, ...]
    vessels: tuple[Vessels, ...]
    on_grid: bool  # every length and window lies on the problem's grid
    unit: int  # greatest common divisor of all lengths and windows

    @property
    def is_strict(self) -> bool:
        """Whether a model of it is anywhere stricter than the check: padded soaks, buckets of ice, the grid."""
        padded = any(each.padded for each in self.vessels)
        return padded or not self.on_grid or ice_binds(self.problem)


def shape_of(problem: Problem) -> Shape:
    """Read a problem: group its vessels and lay its runs out in slots.

    Equation: two vessels are one group when no outage, memory or option of a run tells them apart.
    Units: problem (record); returns a Shape.
    Valid: any problem.
    Errors: none.
    Source: own definition.
    """
    group = _groups(problem, alone=_worth_ordering(problem))
    codes: dict[int, list[str]] = {}
    for code, number in group.items():
        codes.setdefault(number, []).append(code)
    rows = tuple(_row(job, group) for job in problem.jobs)
    unit = math.gcd(*_measures(problem))
    return Shape(
        problem=problem,
        rows=rows,
        vessels=_soaked(problem, rows, [tuple(codes[number]) for number in range(len(codes))]),
        on_grid=unit % problem.step_min == 0,
        unit=math.gcd(unit, problem.step_min),
    )


# Interchangeable vessels


def _worth_ordering(problem: Problem) -> bool:
    """Whether every vessel stands alone, so that the soak between its runs can be exact."""
    vessels = {option.pot for job in problem.jobs for option in job.options}
    clashes = sum(1 for _ in clashing(problem, problem.jobs))
    return 0 < clashes * len(vessels) <= MOST_ORDERS


def _groups(problem: Problem, *, alone: bool) -> dict[str, int]:
    marks: dict[str, set[tuple[object, ...]]] = {}
    bare: dict[RunOption, int] = {}
    for number, job in enumerate(problem.jobs):
        for option in job.options:
            pan = "" if option.pan is None else option.pan.code
            plain = replace(option, pot="", pan=None if option.pan is None else replace(option.pan, code=""))
            content = bare.setdefault(plain, len(bare))
            marks.setdefault(option.pot, set()).add((number, content, "pot", pan))
            if pan:
                marks.setdefault(pan, set()).add((number, content, "pan", option.pot))
        if job.was is not None:
            marks.setdefault(job.was.pot, set()).add((job.was.pot,))
    for code in list(marks) if alone else [code for code, _ in problem.outages if code in marks]:
        marks[code].add((code,))
    known: dict[frozenset[tuple[object, ...]], int] = {}
    return {code: known.setdefault(frozenset(seen), len(known)) for code, seen in marks.items()}


def _soaked(problem: Problem, rows: Sequence[Row], groups: Sequence[tuple[str, ...]]) -> tuple[Vessels, ...]:
    """How each group soaks after allergens: not at all, exactly by the order of its runs, or by padded stays."""
    out = {code for code, _ in problem.outages}
    users: list[list[RunJob]] = [[] for _ in groups]
    for row in rows:
        for number in {way.pot for way in row.ways} | {way.pan for way in row.ways if way.pan is not None}:
            users[number].append(row.job)
    clashes = [sum(1 for _ in clashing(problem, jobs)) for jobs in users]
    exact = sum(clashes) <= MOST_ORDERS
    vessels = []
    for codes, clash in zip(groups, clashes, strict=True):
        ordered = clash > 0 and exact and len(codes) == 1 and not out & set(codes)
        vessels.append(Vessels(codes, padded=clash > 0 and not ordered, ordered=ordered))
    return tuple(vessels)


def clashing(problem: Problem, jobs: Iterable[RunJob]) -> Iterator[tuple[RunJob, RunJob]]:
    """Pairs of runs between which a vessel soaks, in one order at least.

    Equation: one run has an allergen that the other does not contain.
    Units: problem, jobs (records); yields records.
    Valid: any runs.
    Errors: none.
    Source: own definition.
    """
    if problem.soak_min > 0:
        yield from ((one, two) for one, two in combinations(jobs, 2) if one.allergens != two.allergens)


# Slots


def _row(job: RunJob, group: Mapping[str, int]) -> Row:
    kinds: list[str] = []
    for option in job.options:
        kinds = _merged(kinds, [stage.kind for stage in option.stages])
    ways: dict[tuple[int, int | None, RunOption], dict[tuple[str, str], int]] = {}
    for index, option in enumerate(job.options):
        pan = None if option.pan is None else group[option.pan.code]
        plain = replace(option, pot="", pan=None if option.pan is None else replace(option.pan, code=""))
        code = "" if option.pan is None else option.pan.code
        ways.setdefault((group[option.pot], pan, plain), {}).setdefault((option.pot, code), index)
    return Row(
        job=job,
        ways=tuple(
            Way(
                option=job.options[min(indexes.values())],
                indexes=indexes,
                pot=pot,
                pan=pan,
                slots=_slots(kinds, [stage.kind for stage in plain.stages]),
            )
            for (pot, pan, plain), indexes in ways.items()
        ),
        slots=len(kinds),
    )


def _merged(kinds: list[str], more: list[str]) -> list[str]:
    """A row of kinds that holds both rows in their order."""
    merged: list[str] = []
    for _, first, last, start, stop in SequenceMatcher(None, kinds, more, autojunk=False).get_opcodes():
        same = kinds[first:last] == more[start:stop]
        merged += kinds[first:last] + ([] if same else more[start:stop])
    return merged


def _slots(kinds: Sequence[str], own: Sequence[str]) -> tuple[int, ...]:
    slots: list[int] = []
    for kind in own:
        slots.append(kinds.index(kind, slots[-1] + 1 if slots else 0))
    return tuple(slots)


# The grid


def _measures(problem: Problem) -> Iterator[int]:
    """Every length and window that the times of a schedule can hang on; dispatches do not."""
    for window in (*problem.cooks, *(window for _, window in problem.outages)):
        yield from (window.start_min, window.end_min)
    yield from (problem.horizon_min, problem.soak_min)
    for job in problem.jobs:
        yield from (job.start_at_min or 0, job.washed_at_min or 0)
        for option in job.options:
            yield from _lengths(option)


def _lengths(option: RunOption) -> Iterator[int]:
    yield option.wash_min
    if option.pan is not None:
        yield option.pan.wash_min
    for stage in option.stages:
        yield from (stage.shortest_min, stage.longest_min)
    for task in option.additions:
        yield from (task.before_end_min, task.cook_min, task.tolerance_min, task.done_at_min or 0)
    for draw in option.draws:
        yield from (draw.freeze_min, draw.not_before_min)
        yield from (mode.minutes for mode in draw.modes)


# Ice


def ice_binds(problem: Problem) -> bool:
    """Whether all draws together could take more ice than the bin holds.

    Equation: sum over the draws of the largest need > ice at the start.
    Units: problem (record); returns a truth value.
    Valid: any problem.
    Errors: none.
    Source: own definition.
    """
    most = 0.0
    for job in problem.jobs:
        most += max(
            (sum(max((m.ice_kg for m in d.modes), default=0.0) for d in option.draws) for option in job.options),
            default=0.0,
        )
    return most > min(problem.ice_start_kg, problem.ice_bin_kg)
