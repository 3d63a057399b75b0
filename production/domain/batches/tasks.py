"""The needs of a formula and the runs that could serve them, as a question of how many, how big and when."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime
from zoneinfo import ZoneInfo

from production.domain.batches.cells import Cell, Second, cells_of, grid_l
from production.domain.batches.chains import CHILLER_H, SINK_H, Chains, Times
from production.domain.batches.slots import Clock, draw_moments, goods_there_h
from production.domain.batches.units import Making
from production.domain.demand import Need, first_cook_date
from production.domain.formula import HAIR_L, pot_allowed
from production.domain.kitchen import Pot, Product

RUN_COST = 100.0  # the scale of all costs of sizing (own choice, like the costs below)
SECOND_COST = 40.0  # a second draw
REDUCTION_COST = 20.0  # a reduction, of one run or of several together
KWH_COST = 0.2
SURPLUS_L_COST = 8.0
LATE_H_COST = 100.0  # an order line of weight 1, an hour late
UNMADE_COST = 100_000.0  # an order line of weight 1
WISH_COST = 75.0  # a par level of a reduction; a run costs more
START_H_COST = 0.002  # a run that begins an hour later
CHANGE_COST = 5.0  # another slot in which an allergen formula is made
MOST_POOLED = 3  # runs whose second draws are reduced together

_FREEZING_H = 12.0  # before the dispatch of a frozen product (own choice)
_SLACK_H = 6.0  # by which draws are ready before their dispatch at a slack of 1 (own choice)
_LEAST_STEP_H, _MOST_CHOICES = 2.0, 90.0  # between draws; kinds of pots x moments of drawing off (own choice)
_USELESS_H = 24.0  # later than the last dispatch nothing is drawn off (own choice)
_NEVER_H = 1000.0  # a reduction that cannot be made in a slot


@dataclass(frozen=True, slots=True, kw_only=True)
class Group:
    """Needs of one product for one dispatch."""

    product: str
    needs: tuple[Need, ...]
    containers: int
    net_l: float
    ready_by_h: float
    not_before_h: float  # cold before that, its shelf life would not reach the dispatch
    weight_share: float  # sum of weight x share of the line
    is_reduction: bool
    is_wish: bool

    @property
    def litres(self) -> float:
        """Litres wanted."""
        return self.containers * self.net_l


@dataclass(frozen=True, slots=True, kw_only=True)
class Fill:
    """Litres of first draw, in whole containers, of a run in a cell with or without a second draw."""

    cell: Cell
    piece: int | None  # of the cell's second draws
    smallest_l: float
    largest_l: float

    @property
    def second(self) -> Second | None:
        """What a second draw adds; nothing where it is drawn once."""
        return None if self.piece is None else self.cell.seconds[self.piece]


@dataclass(frozen=True, slots=True, kw_only=True)
class Task:
    """All that the sizes of a formula's runs are chosen from; a slot is a moment of drawing off."""

    making: Making
    clock: Clock
    slack_h: float
    fills: tuple[Fill, ...]
    groups: tuple[Group, ...]
    times: tuple[dict[int, Times], ...]  # by slot, then by kind of pot
    reduced_h: tuple[float, ...]  # by slot: when reductions are cold, in the slowest kind of pot
    reduction_grid_l: float
    cube_limits_l: tuple[tuple[tuple[int, ...], float], ...]  # groups of cubes, litres that the trays take at once
    pan_l: float  # largest reduction pan; none = 0

    def makes(self, need: Need) -> bool:
        """Whether a need is one of this formula's."""
        return self.making.products[need.product].formula == self.making.formula.code

    def has_slot(self, fill: Fill, slot: int) -> bool:
        """Whether a run can be made so at this time."""
        times = self.times[slot].get(fill.cell.kind)
        return times is not None and (fill.piece is None or times.seconds[fill.piece] is not None)

    @property
    def choices(self) -> int:
        """Fills and slots that it could be made in."""
        return sum(self.has_slot(fill, slot) for fill in self.fills for slot in range(len(self.times)))

    def cold_h(self, kind: int, slot: int) -> float:
        """When the first draw of a run is cold."""
        return self.times[slot][kind].ready_h

    def reduction_cold_h(self, kind: int, slot: int, piece: int) -> float:
        """When the reduction of a run is cold; where several may be made together, the slowest of the slot."""
        if self.pan_l:
            return self.reduced_h[slot]
        second = self.times[slot][kind].seconds[piece]
        return second.ready_h if second else _NEVER_H

    @property
    def begins_h(self) -> float:
        """The last moment at which its most urgent need can be loaded, roughly: what makes it press."""
        return min((group.ready_by_h for group in self.groups), default=0.0) - self.making.formula.simmer_min_h

    @property
    def has_allergens(self) -> bool:
        """Whether a pot is cleaned longer after it."""
        ingredients = {each.code: each for each in self.making.week.ingredients}
        formula = self.making.formula
        used = [*(each.ingredient for each in formula.solids), *(each.ingredient for each in formula.additions)]
        return any(ingredients[code].allergens for code in used)


def task_of(
    *, making: Making, needs: Iterable[Need], clock: Clock, limit_l: float, slack_share: float, pools: bool
) -> Task | None:
    """Put together what the runs of a formula are chosen from; nothing where no pot, or no shift, makes it.

    Equation: needs of a product and dispatch are one group; a run may serve it when its draw is cold late enough for
        the shelf life to reach the dispatch.
    Units: making, needs, clock (records), limit_l [L] that can be cooled at once, slack_share [0..1] of six hours by
        which every draw should be ready before its dispatch, pools (whether second draws may be reduced together);
        returns a record with L and h.
    Valid: needs of the making's formula.
    Errors: UnknownParameter for an unknown material.
    Source: own definition.
    """
    week = making.week
    cells = cells_of(week=week, parameters=making.parameters, formula=making.formula, limit_l=limit_l)
    sizes = [each.net_l for each in making.broths]
    slack_h = _SLACK_H * slack_share
    groups = tuple(_groups(making, needs, clock, slack_h))
    fills = tuple(fills_of(cells, sizes)) if sizes else ()
    times = tuple(_times(making, cells, groups, clock)) if fills else ()
    if not times:
        return None
    twice = [[second.ready_h for each in by_kind.values() for second in each.seconds if second] for by_kind in times]
    return Task(
        making=making,
        clock=clock,
        slack_h=slack_h,
        fills=fills,
        groups=groups,
        times=times,
        reduced_h=tuple(max(each, default=_NEVER_H) for each in twice),
        reduction_grid_l=grid_l(group.net_l for group in groups if group.is_reduction) or 1.0,
        cube_limits_l=tuple(_cube_limits(making, groups)),
        pan_l=max((pan_room_l(making, pan) for pan in _pans(making)), default=0.0) if pools else 0.0,
    )


def _times(
    making: Making, cells: tuple[Cell, ...], groups: tuple[Group, ...], clock: Clock
) -> Iterable[dict[int, Times]]:
    """For each slot the times of a run in each kind of pot."""
    chains = Chains(
        clock=clock, formula=making.formula, release_h=goods_there_h(week=making.week, formula=making.formula)
    )
    tasks = making.week.kitchen.tasks
    longest_h = (tasks.draw_base_min + tasks.draw_min_per_l * max(each.largest_l for each in cells)) / 60.0 + SINK_H
    last_h = max(group.ready_by_h for group in groups) + _USELESS_H
    moments = draw_moments(
        clock,
        from_h=chains.release_h + making.formula.simmer_min_h,
        step_h=max(_LEAST_STEP_H, clock.staffed_h * len(cells) / _MOST_CHOICES),
        after_begin_h=max((each.minutes_before_end / 60.0 - 0.25 for each in making.formula.additions), default=0.0),
        wished_h=[group.ready_by_h - longest_h for group in groups if not group.is_reduction],
    )
    for at_h in moments:
        if at_h > last_h:
            break
        ways = {cell.kind: chains.times(cell, at_h) for cell in cells}
        found = {kind: times for kind, times in ways.items() if times is not None}
        if found:
            yield found


def frozen_h(product: Product) -> float:
    """Hours that a product needs to freeze, roughly.

    Equation: twelve hours for what is kept frozen.
    Units: product (record); returns [h].
    Valid: every product; the schedule reckons them exactly.
    Errors: none.
    Source: own definition.
    """
    return _FREEZING_H if product.storage == "frozen" else 0.0


def pan_room_l(making: Making, pan: Pot) -> float:
    """Litres that a reduction pan takes up to its freeboard.

    Equation: area x (height - freeboard at the boil).
    Units: making, pan (records; [mm]); returns [L].
    Valid: straight round pans.
    Errors: none.
    Source: geometry; freeboard is common practice, no source.
    """
    area_m2 = math.pi / 4.0 * (pan.inner_diameter_mm / 1000.0) ** 2
    return area_m2 * max(0.0, pan.inner_height_mm - making.parameters.value("pot.freeboard_boil_mm"))


def _pans(making: Making) -> Iterable[Pot]:
    pots = making.week.pots
    return (pot for pot in pots if pot.reduction_pan and pot_allowed(formula=making.formula, pot=pot))


def _groups(making: Making, needs: Iterable[Need], clock: Clock, slack_h: float) -> Iterable[Group]:
    zone = ZoneInfo(making.week.kitchen.time_zone)
    found: dict[tuple[datetime, str, bool], list[Need]] = {}
    for need in needs:
        found.setdefault((need.dispatch_at, need.product, need.is_wish), []).append(need)
    for (dispatch_at, code, wish), members in sorted(found.items()):
        product = making.products[code]
        yield Group(
            product=code,
            needs=tuple(sorted(members, key=lambda need: (-need.weight, need.line))),
            containers=sum(need.containers for need in members),
            net_l=product.net_l,
            ready_by_h=clock.hours(dispatch_at) - frozen_h(product) - slack_h,
            not_before_h=_not_before_h(clock, dispatch_at.astimezone(zone).date(), product),
            weight_share=sum(need.weight * need.containers / need.of_containers for need in members),
            is_reduction=product.kind != "broth",
            is_wish=wish,
        )


def _not_before_h(clock: Clock, dispatch_on: date, product: Product) -> float:
    """When it is cold at the earliest: on its first day, after the longest way to cool it."""
    return clock.midnight_h(first_cook_date(dispatch_on=dispatch_on, product=product)) + CHILLER_H


def fills_of(cells: Iterable[Cell], sizes: list[float]) -> Iterable[Fill]:
    """The fills of cells, in whole containers, with each of their second draws and without.

    Equation: least and largest volume rounded inwards to the measure of which every container holds a whole number.
    Units: cells (records), sizes [L] of the containers; returns records with L.
    Valid: at least one size.
    Errors: none.
    Source: own definition.
    """
    step_l = grid_l(sizes)
    for cell in cells:
        for piece, second in enumerate((None, *cell.seconds)):
            least_l = second.smallest_l if second else cell.smallest_l
            most_l = second.largest_l if second else cell.largest_l
            smallest_l = step_l * math.ceil(least_l / step_l - HAIR_L)
            largest_l = step_l * math.floor(most_l / step_l + HAIR_L)
            if smallest_l <= largest_l:
                yield Fill(cell=cell, piece=piece - 1 if second else None, smallest_l=smallest_l, largest_l=largest_l)


def _cube_limits(making: Making, groups: tuple[Group, ...]) -> Iterable[tuple[tuple[int, ...], float]]:
    """For each tray the groups of its cubes, and the litres it takes at once."""
    for tray in making.week.cube_trays:
        of_tray = [n for n, group in enumerate(groups) if making.products[group.product].cube_tray == tray.code]
        if of_tray:
            most = max(cubes_l(making.products[groups[n].product], tray.cells, tray.trays) for n in of_tray)
            yield tuple(of_tray), most


def cubes_l(product: Product, cells: int, trays: int) -> float:
    """Litres of cubes that trays take at once, in whole containers.

    Equation: floor(cells x trays / cubes per container) x net litres.
    Units: product (record), cells, trays (counts); returns [L].
    Valid: products made in trays.
    Errors: none.
    Source: own definition.
    """
    return cells * trays // max(1, product.cubes_per_container or 1) * product.net_l
