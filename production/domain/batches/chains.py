"""When the stages of a run lie that is drawn off at a moment, after the kitchen's real calendar."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

from production.domain.batches.cells import Cell, Second
from production.domain.batches.slots import Clock, windows_from
from production.domain.kitchen import Formula, Week

SINK_H, CHILLER_H = 1.75, 4.5  # until a draw is cold in ice, and in a chiller's pans (own choice, measured, careful)
_LEAST_PAN_SHARE = 0.1
_TOLERANCE_H = 0.25  # by which an addition may be earlier or later
_HOLD_H = 5.0 / 60.0  # the shortest hot hold
_QUARTERS = 4.0  # moments at which draws are ready are rounded up to quarters of an hour
_HAIR_H = 1e-6

Interval = tuple[float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class SecondTimes:
    """When a second draw is drawn off and reduced."""

    refilled: Interval
    simmered: Interval
    drawn: Interval
    reduced: Interval
    portioned: Interval
    ready_h: float  # cold
    free_h: float  # the pot is washed


@dataclass(frozen=True, slots=True, kw_only=True)
class Times:
    """When a run is loaded, boils, simmers and is drawn off, and when its draws are cold."""

    load_h: float  # it begins
    heated: Interval
    simmered: Interval
    drawn: Interval
    ready_h: float  # cold
    free_h: float  # the pot is washed after one draw
    seconds: tuple[SecondTimes | None, ...]  # for each piece of the cell's second draws


@dataclass(frozen=True, slots=True, kw_only=True)
class Chains:
    """What the times of a formula's runs follow from."""

    clock: Clock
    formula: Formula
    release_h: float  # its goods are there

    @property
    def week(self) -> Week:
        """The week that is planned."""
        return self.clock.week

    def times(self, cell: Cell, draw_at_h: float) -> Times | None:
        """The run that is drawn off at a moment and begins as late as it can; nothing where there is none."""
        preparing_h = self._preparing_h(cell)
        latest_h = draw_at_h - self.formula.simmer_min_h - preparing_h
        earliest_h = max(self.release_h, draw_at_h - self.formula.simmer_max_h - preparing_h)
        start_h = self.clock.latest_from(earliest_h, latest_h, for_h=preparing_h)
        if start_h is None or not self._may_simmer(start_h, draw_at_h):
            return None
        return self._from(cell, start_h, draw_at_h)

    def _may_simmer(self, from_h: float, until_h: float) -> bool:
        return self.week.kitchen.unattended_simmer or self.clock.is_staffed(from_h, until_h)

    def _preparing_h(self, cell: Cell) -> float:
        tasks = self.week.kitchen.tasks
        return (tasks.load_min + tasks.skim_min) / 60.0 + cell.heat_up_h

    def _from(self, cell: Cell, start_h: float, draw_at_h: float) -> Times | None:
        """The whole run, where its additions and its first draw are attended."""
        tasks = self.week.kitchen.tasks
        drawn_h = draw_at_h + (tasks.draw_base_min + tasks.draw_min_per_l * cell.largest_l) / 60.0
        cold_h = drawn_h + cooling_h(self.week, cell.largest_l)
        boils_h = start_h + tasks.load_min / 60.0 + cell.heat_up_h
        if not self.clock.is_staffed(draw_at_h, cold_h) or not self._additions_attended(draw_at_h):
            return None
        return Times(
            load_h=start_h,
            heated=(start_h + tasks.load_min / 60.0, boils_h),
            simmered=(boils_h, draw_at_h),
            drawn=(draw_at_h, drawn_h),
            ready_h=quarters(cold_h),
            free_h=drawn_h + tasks.wash_min / 60.0,
            seconds=tuple(self._second(each, drawn_h) for each in cell.seconds),
        )

    def _additions_attended(self, draw_at_h: float) -> bool:
        for each in self.formula.additions:
            at_h = draw_at_h - each.minutes_before_end / 60.0
            until_h = at_h + _TOLERANCE_H + each.cook_minutes / 60.0
            if self.clock.latest_from(at_h - _TOLERANCE_H, at_h + _TOLERANCE_H, for_h=until_h - at_h) is None:
                return False
        return True

    def _second(self, second: Second, drawn_h: float) -> SecondTimes | None:
        """The earliest reduction that the simmer, the hot hold and the shifts allow."""
        draw = self.formula.second_draw
        refilled_h = drawn_h + self.week.kitchen.tasks.refill_min / 60.0
        simmers_h = refilled_h + second.heat_up_h
        if draw is None or not self.clock.is_staffed(drawn_h, simmers_h):
            return None
        for reduce_at_h in self._reductions(second, simmers_h + draw.simmer_min_h + second.draw_h + _HOLD_H):
            latest_h = min(simmers_h + draw.simmer_max_h, reduce_at_h - second.draw_h - _HOLD_H)
            earliest_h = max(
                simmers_h + draw.simmer_min_h,
                reduce_at_h - second.draw_h - self.week.kitchen.hot_hold_max_h,
            )
            at_h = self.clock.latest_from(earliest_h, latest_h, for_h=second.draw_h)
            if at_h is not None and self._may_simmer(drawn_h, reduce_at_h):
                return self._second_times(second, (drawn_h, refilled_h, simmers_h), at_h, reduce_at_h)
            if reduce_at_h > simmers_h + draw.simmer_max_h + second.draw_h + self.week.kitchen.hot_hold_max_h:
                return None
        return None

    def _reductions(self, second: Second, from_h: float) -> Iterator[float]:
        """Moments from which a reduction is attended until it is cold, earliest first."""
        whole_h = second.reduce_h + second.portion_h + reduction_cooling_h(self.week, second)
        for begin, end in windows_from(self.clock, from_h):
            for at_h in (begin, begin + second.draw_h + _HOLD_H):
                if at_h + whole_h <= end + _HAIR_H:
                    yield at_h

    def _second_times(
        self, second: Second, since: tuple[float, float, float], draw_at_h: float, reduce_at_h: float
    ) -> SecondTimes:
        drawn_h, refilled_h, simmers_h = since
        portion_h = reduce_at_h + second.reduce_h
        done_h = portion_h + second.portion_h
        return SecondTimes(
            refilled=(drawn_h, refilled_h),
            simmered=(simmers_h, reduce_at_h),
            drawn=(draw_at_h, draw_at_h + second.draw_h),
            reduced=(reduce_at_h, portion_h),
            portioned=(portion_h, done_h),
            ready_h=quarters(done_h + reduction_cooling_h(self.week, second)),
            free_h=done_h + self.week.kitchen.tasks.wash_min / 60.0,
        )


def quarters(hours: float) -> float:
    """Hours rounded up to quarters.

    Equation: ceil(4 h) / 4.
    Units: hours [h]; returns [h].
    Valid: any.
    Errors: none.
    Source: own definition.
    """
    return math.ceil(_QUARTERS * hours - _HAIR_H) / _QUARTERS


def cooling_h(week: Week, litres: float) -> float:
    """How long a draw cools: in ice where the sinks take it whole, else in a chiller.

    Equation: litres <= places x fill of all sinks.
    Units: week (record), litres [L]; returns [h].
    Valid: coarse; the ways to cool are worked out once the run is known.
    Errors: none.
    Source: own definition.
    """
    sinks_l, chillers_l = cooled_at_once_l(week)
    return SINK_H if litres <= sinks_l or not chillers_l else CHILLER_H


def reduction_cooling_h(week: Week, second: Second) -> float:
    """How long a reduction cools in a chiller's pan.

    Equation: in proportion to the depth of one pan, at most a whole one.
    Units: week, second (records); returns [h].
    Valid: coarse, as cooling_h.
    Errors: none.
    Source: own definition.
    """
    pans_l = [each.vessel_fill_l for each in week.cooling_devices if each.kind == "blast_chiller"]
    most_l = second.most_l.at(second.largest_l)
    return CHILLER_H * min(1.0, max(_LEAST_PAN_SHARE, most_l / max(pans_l))) if pans_l else CHILLER_H


def cooled_at_once_l(week: Week) -> tuple[float, float]:
    """Litres that all sinks, and all chillers, take at once.

    Equation: sum of places x fill of a vessel.
    Units: week (record); returns [L], [L].
    Valid: a week that passed its reader.
    Errors: none.
    Source: own definition.
    """
    taken = {"ice_sink": 0.0, "blast_chiller": 0.0}
    for each in week.cooling_devices:
        taken[each.kind] += each.places * each.vessel_fill_l
    return taken["ice_sink"], taken["blast_chiller"]
