"""Second draws in a pan together: the least that must be in it for so many whole containers."""

from __future__ import annotations

import itertools
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from production.domain.batches.prices import MOST_POOLED
from production.domain.batches.shapes import Fill, packed_sizes

_HAIR_L = 1e-5  # that the sum of what several give may be off


@dataclass(frozen=True, slots=True, order=True)
class Pool:
    """Draws of kinds of pots, each with at least the fill at a place of its kind's, and what they fill."""

    members: tuple[tuple[int, int], ...]  # kind of pot, place of the fill
    packed_l: float


def least_pools(fills: Mapping[int, Sequence[Fill]], nets_l: Sequence[float], pan_l: float) -> list[Pool]:
    """The pools of up to three draws of which none can do with a smaller draw, or without one, and fill as much.

    Equation: for every choice of kinds and fills packed_l(sum of what they give); kept where it is more than with any
        one draw smaller or left out, and where the second draws go into the pan.
    Units: fills (records, by kind of pot; [L]), nets_l of containers [L], pan_l the most that a pan takes [L];
        returns records.
    Valid: fills by litres; a larger fill gives no less (where one does, it counts as the best below it).
    Errors: none.
    Source: own definition.
    """
    gives = {kind: np.maximum.accumulate([each.gives_l for each in own]) for kind, own in fills.items() if own}
    liquor = {kind: np.array([each.liquor_l for each in fills[kind]]) for kind in gives}
    if not gives:
        return []
    most_l = MOST_POOLED * max(float(each[-1]) for each in gives.values())
    sizes = np.array(packed_sizes(most_l + MOST_POOLED * _HAIR_L, nets_l))
    found: set[Pool] = set()
    for kinds in itertools.combinations_with_replacement(sorted(gives), MOST_POOLED):
        packed = sizes[np.searchsorted(sizes, _sums([gives[kind] for kind in kinds]) + _HAIR_L, side="right") - 1]
        poured = _sums([liquor[kind] for kind in kinds])
        for places in np.argwhere(_is_least(packed) & (poured <= pan_l)):
            members = sorted((kind, int(at) - 1) for kind, at in zip(kinds, places, strict=True) if at)
            found.add(Pool(tuple(members), float(packed[tuple(places)])))
    return sorted(found)


def _sums(each: Sequence[npt.NDArray[np.float64]]) -> npt.NDArray[np.float64]:
    """Sums of one out of each, or nothing; shape (1 + len, ...)."""
    total = np.zeros(())
    for own in each:
        total = np.add.outer(total, np.concatenate([[0.0], own]))
    return total


def _is_least(packed: npt.NDArray[np.float64]) -> npt.NDArray[np.bool_]:
    """Whether along every axis the place before fills less; same shape."""
    least = packed > 0.0
    for axis in range(packed.ndim):
        less = np.diff(packed, axis=axis) > 0.0
        first = np.ones_like(np.take(least, [0], axis=axis))
        least &= np.concatenate([first, less], axis=axis)
    return least
