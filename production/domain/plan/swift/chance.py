"""Chance of a search: one number of state, so that a search can be repeated and taken back."""

from __future__ import annotations

import math

import numpy as np

from production.domain.plan.swift.compiled import compiled
from production.domain.plan.swift.tables import Stand

_SCALE = 1.0 / 9_007_199_254_740_992.0  # 2 to the 53rd
_A, _B, _C, _D = np.uint64(12), np.uint64(25), np.uint64(27), np.uint64(11)
_FACTOR = np.uint64(2_685_821_657_736_338_717)


@compiled
def chance(stand: Stand) -> float:
    """A number by chance.

    Equation: xorshift64* (12, 25, 27), its upper 53 bits.
    Units: returns [0..1).
    Valid: a state that is not 0.
    Errors: none.
    Source: Vigna, An experimental exploration of Marsaglia's xorshift generators, scrambled (2016), from memory.
    """
    state = stand.chance[0]
    state ^= state >> _A
    state ^= state << _B
    state ^= state >> _C
    stand.chance[0] = state
    return float((state * _FACTOR) >> _D) * _SCALE


@compiled
def one_of(stand: Stand, many: int) -> int:
    """A whole number by chance.

    Equation: floor(chance x many).
    Units: many (count); returns [0..many).
    Valid: many > 0.
    Errors: none.
    Source: own definition.
    """
    return int(chance(stand) * many)


@compiled
def noise(stand: Stand, spread: float) -> float:
    """A number by chance around 0.

    Equation: spread x sqrt(-2 ln(1 - u)) x cos(2 pi v).
    Units: spread [any]; returns the same.
    Valid: any spread.
    Errors: none.
    Source: Box and Muller (1958), from memory.
    """
    radius = math.sqrt(-2.0 * math.log(1.0 - chance(stand)))
    return spread * radius * math.cos(2.0 * math.pi * chance(stand))
