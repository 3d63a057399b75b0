"""Many readings of one container put together to few that say the same."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

Floats: TypeAlias = NDArray[np.float64]
Ints: TypeAlias = NDArray[np.int64]

MOST = 24
READING_SD_K = 0.38  # a hand-held probe in a pot that is not quite even (own estimate, class C)
SHARED_SD_K = 0.1  # what averaging does not take away: the probe's place, and a law that is only nearly first-order
_BINS = 192


@dataclass(frozen=True, slots=True)
class Readings:
    """Means of neighbouring readings; minutes are counted from the first reading."""

    minutes: Floats
    temps_c: Floats
    variances_k2: Floats
    last_min: float

    def from_reading(self, first: int) -> Readings:
        """Without those before; minutes stay on the same clock."""
        return replace(
            self,
            minutes=self.minutes[first:],
            temps_c=self.temps_c[first:],
            variances_k2=self.variances_k2[first:],
        )


def thinned(minutes: Floats, temps_c: Floats, sink_c: float) -> Readings:
    """At most 24 means of neighbours, evenly spread over time and over the way from hot to cold.

    Equation: bounds at equal parts of (share of the time + share of the drop of ln(T - Ts)) / 2, T never rising;
        variance = 0.38^2 / n + 0.1^2.
    Units: minutes [min] in order, temps_c [degC], sink_c [degC]; returns [min], [degC], [K2].
    Valid: at least one reading; the mean of a block differs from the curve by less than the shared error.
    Errors: none.
    Source: own definition.
    """
    starts = _bounds(minutes, temps_c, sink_c)
    counts = np.diff(np.append(starts, len(minutes)))
    times, temps = (np.add.reduceat(each, starts) / counts for each in (minutes - minutes[0], temps_c))
    variances = READING_SD_K**2 / counts + SHARED_SD_K**2
    return Readings(times, temps, variances, float(minutes[-1] - minutes[0]))


def _bounds(minutes: Floats, temps_c: Floats, sink_c: float) -> Ints:
    """Index of the first reading of each block."""
    count = len(minutes)
    if count <= MOST:
        return np.arange(count, dtype=np.int64)
    bins = np.unique(np.linspace(0, count, min(count, _BINS), endpoint=False).astype(np.int64))
    falling = np.minimum.accumulate(np.add.reduceat(temps_c, bins) / np.diff(np.append(bins, count)))
    way = -np.log(np.maximum(falling - sink_c, 1.0))
    passed = (_share(minutes[bins]) + _share(way)) / 2.0
    block = np.minimum((passed * MOST).astype(np.int64), MOST - 1)
    return bins[np.unique(block, return_index=True)[1]]


def _share(rising: Floats) -> Floats:
    length = max(float(rising[-1] - rising[0]), 1e-9)
    return np.asarray((rising - rising[0]) / length)
