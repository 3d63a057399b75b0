"""Ways in which a cooling may have gone so far: unchanged, or changed between two of the readings."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from scipy.special import ndtr

from production.domain.records.fitting.surroundings import Surroundings
from production.domain.records.fitting.thinning import Floats, Ints, Readings

FAR_MIN = 1e9
START_C, START_SD_K = 70.0, 30.0
CHANGES_PER_FOLD = 0.12  # changes while the difference to the surroundings falls by e once (own estimate, class C)
# Both kinds of change, as often: ln of the rate's factor (mean, sd), warming of the surroundings [K] (mean, sd).
# Sets, is stirred or no longer; and: ice gone, moved elsewhere. Own estimates, class C.
CHANGES = np.array([[-0.3, 0.7, 0.0, 0.3], [-0.3, 0.7, 6.0, 6.0]])
_NO_KIND = (0.0, 1.0, 0.0, 1.0)  # nothing is learnt about a change to come: standard normals until it is drawn

# The unknowns of a cooling: ln(1/min), degC, degC, ln of a factor, K, and where in its gap the change lies, as a
# standard normal.
RATE, START, SINK, TURN, SHIFT, PLACE = range(6)


@dataclass(frozen=True, slots=True)
class Ways:
    """The first is without a change; every gap between readings has one per kind of change."""

    opens_min: Floats
    closes_min: Floats
    means: Floats
    sds: Floats

    @property
    def each(self) -> Ints:
        """The ways, numbered."""
        return np.arange(len(self.means), dtype=np.int64)

    def change_min(self, way: Ints, unknowns: Floats) -> Floats:
        """Minute of the change: anywhere in its gap, as likely as anywhere else there."""
        opens = self.opens_min[way]
        return np.asarray(opens + (self.closes_min[way] - opens) * ndtr(unknowns[:, PLACE]))

    def log_prior(self, way: Ints, unknowns: Floats, last_min: float) -> Floats:
        """ln of how likely a cooling is before the readings, a change at random per e-fold included."""
        away = (unknowns - self.means[way]) / self.sds[way]
        hazard = CHANGES_PER_FOLD * np.exp(unknowns[:, RATE])
        width = self.closes_min[way] - self.opens_min[way]
        changed = np.log(hazard * np.maximum(width, 1e-12) / len(CHANGES)) - hazard * self.change_min(way, unknowns)
        chance = np.where(way == 0, -hazard * last_min, changed)
        return np.asarray(chance - 0.5 * (away**2).sum(axis=1) - np.log(self.sds[way]).sum(axis=1))


def ways_of(readings: Readings, surroundings: Surroundings) -> Ways:
    """All ways with what is known of their unknowns beforehand, as normals.

    Equation: ln k, Ts as the surroundings say; T0 = 70 +- 30 degC; changes as CHANGES says.
    Units: readings (record; [min], [degC]), surroundings (record; [degC], [1/h]); returns [min], ln [1/min], [degC].
    Valid: at least one reading; readings at the same minute leave no gap.
    Errors: none.
    Source: own definition; the numbers are own estimates, class C.
    """
    opens, closes = readings.minutes[:-1], readings.minutes[1:]
    wide, kinds = closes > opens, len(CHANGES)
    change = np.vstack([_NO_KIND, np.tile(CHANGES, (int(wide.sum()), 1))])
    before = np.array([math.log(surroundings.rate_per_h / 60.0), START_C, surroundings.temp_c])
    spread = np.array([math.log(surroundings.rate_factor), START_SD_K, surroundings.temp_sd_k])
    rows = (len(change), 1)
    return Ways(
        np.r_[FAR_MIN, np.repeat(opens[wide], kinds)],
        np.r_[FAR_MIN, np.repeat(closes[wide], kinds)],
        np.hstack([np.tile(before, rows), change[:, [0, 2]], np.zeros(rows)]),
        np.hstack([np.tile(spread, rows), change[:, [1, 3]], np.ones(rows)]),
    )


def add_changes_to_come(unknowns: Floats, change_min: Floats, way: Ints, kind: Floats, last_min: float) -> None:
    """Fill in a change after the last reading for each cooling that has not changed yet.

    Equation: wait = -ln(u) / (0.12 k) with u the evenly spread number that PLACE stands for; TURN and SHIFT as the
        kind of change says.
    Units: unknowns [as numbered], change_min [min], way [no unit], kind [share, evenly spread], last_min [min];
        returns nothing, unknowns and change_min are changed.
    Valid: coolings drawn from the ways.
    Errors: none.
    Source: exponential waiting time, standard text-book form.
    """
    waits = -np.log(ndtr(unknowns[:, PLACE])) / (CHANGES_PER_FOLD * np.exp(unknowns[:, RATE]))
    change = CHANGES[np.minimum((kind * len(CHANGES)).astype(np.int64), len(CHANGES) - 1)]
    later = change[:, [0, 2]] + change[:, [1, 3]] * unknowns[:, [TURN, SHIFT]]
    unchanged = way == 0
    change_min[unchanged] = (last_min + waits)[unchanged]
    unknowns[unchanged, TURN:PLACE] = later[unchanged]
