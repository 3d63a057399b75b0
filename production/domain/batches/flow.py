"""Where what is drawn goes to: rows that the programs of one formula and of all formulas have in common."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from typing import TypeVar

from production.domain.batches.courses import Course
from production.domain.batches.highs import Mip
from production.domain.batches.parts import Group, Part
from production.domain.batches.prices import Measure

K = TypeVar("K")
Terms = list[tuple[int, float]]


def late_for(part: Part, course: Course) -> tuple[float, ...]:
    """How late each broth of a formula would be that a course serves.

    Equation: max(0, the later of when it is cold and when it may be made - when it leaves); for ever where it would be
        too old by then.
    Units: part, course (records); returns [h] by broth.
    Valid: a course of the part.
    Errors: none.
    Source: own definition.
    """
    return tuple(
        max(0.0, max(course.cold_from_h, group.not_before_h) - group.leaves_h)
        if course.cold_until_h >= group.not_before_h
        else math.inf
        for group in part.groups
        if group.is_broth
    )


def serve(
    mip: Mip,
    groups: Sequence[Group],
    draws: Mapping[K, Terms],
    late_of: Callable[[K, int], float],
    measure: Measure,
    *,
    whole: bool,
) -> Terms:
    """Serve every need by something that is cold at some time, or not at all; wishes may stay.

    Equation: containers by all draws + unmade = wanted; each draw gives what it serves.
    Units: mip (program, is added to), groups, measure (records), draws (terms in [L], are added to), late_of (asked for
        [h]), whole (whether containers are); returns the terms of lateness in weighted [h].
    Valid: draws of one formula.
    Errors: none.
    Source: own definition.
    """
    late: Terms = []
    for n, group in enumerate(groups):
        terms: Terms = []
        for key, taken in draws.items():
            late_h = late_of(key, n)
            if late_h < math.inf:
                each_h = 0.0 if group.is_wish else group.weight_share * late_h / group.containers
                terms.append((_containers(mip, group, measure.late_h * each_h, whole=whole), 1.0))
                taken.append((terms[-1][0], -group.net_l))
                late += [(terms[-1][0], each_h)] if each_h else []
        if measure.unmade is not None and not group.is_wish:
            cost = measure.unmade * group.weight_share / group.containers
            terms.append((_containers(mip, group, cost, whole=whole), 1.0))
        if terms:  # what nothing can serve is no part of the bargain
            mip.row(terms, low=0.0 if group.is_wish else group.containers, high=group.containers)
    return late


def serve_broths(mip: Mip, part: Part, cold: dict[tuple[float, ...], Terms], measure: Measure, *, whole: bool) -> Terms:
    """Serve the broths of a formula: a draw is served or is surplus, and nothing else.

    Equation: litres drawn = litres served + surplus, by how late a draw is for whom.
    Units: mip (program, is added to), part, measure (records), cold (terms in [L], are added to), whole (whether
        containers are); returns the terms of lateness in weighted [h].
    Valid: draws of the part.
    Errors: none.
    Source: own definition.
    """
    for draws in cold.values():
        surplus = mip.variable(cost=measure.surplus_l * part.step_l, whole=whole)
        draws.append((surplus, -part.step_l))
    broths = [group for group in part.groups if group.is_broth]
    late = serve(mip, broths, cold, lambda late, n: late[n], measure, whole=whole)
    for draws in cold.values():
        mip.row(draws, low=0.0, high=0.0)
    return late


def wanted_reductions(part: Part) -> list[Group]:
    """What is ordered of a formula's reductions.

    Equation: needs that are neither of broth nor wishes.
    Units: part (record); returns records.
    Valid: any part.
    Errors: none.
    Source: own definition.
    """
    return [group for group in part.groups if not group.is_broth and not group.is_wish]


def serve_reductions(
    mip: Mip, groups: Sequence[Group], reduced: Mapping[float, Terms], measure: Measure, *, whole: bool
) -> tuple[Terms, Terms]:
    """Serve the reductions of a formula out of what is given at each time.

    Equation: litres served at a time <= litres given at it.
    Units: mip (program, is added to), groups, measure (records), reduced (terms in [L] by [h], are added to), whole
        (whether containers are); returns terms: lateness in weighted [h], and litres served, below 0.
    Valid: reductions of one formula.
    Errors: none.
    Source: own definition.
    """
    before = {key: len(terms) for key, terms in reduced.items()}
    late = serve(mip, groups, reduced, lambda ready_h, n: max(0.0, ready_h - groups[n].leaves_h), measure, whole=whole)
    for terms in reduced.values():
        mip.row(terms, low=0.0)
    return late, [term for key, terms in reduced.items() for term in terms[before[key] :]]


def _containers(mip: Mip, group: Group, cost: float, *, whole: bool) -> int:
    """So many containers of a group."""
    return mip.variable(cost=cost, high=group.containers, whole=whole)
