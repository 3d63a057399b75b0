"""Runs for the broths: needs are grouped along time and filled into pots."""

from __future__ import annotations

import math
from dataclasses import replace
from datetime import date, timedelta
from zoneinfo import ZoneInfo

from production.domain.batches.content import Batch, Portion
from production.domain.batches.fills import choose_fills
from production.domain.batches.units import Making, Unit, litres_of, portions_of, units_of
from production.domain.demand import Need, first_cook_date
from production.domain.formula import HAIR_L, PotRange


def first_draw_batches(making: Making, needs: list[Need]) -> list[Batch]:
    """Runs whose first draws serve the needs for broth.

    Equation: needs are grouped while one day of cooking can serve the whole group; each group is filled by
        choose_fills, and its containers go to the fillings in order of dispatch.
    Units: making, needs (records); returns records with litres [L].
    Valid: needs for broths of the formula; at least one pot.
    Errors: none.
    Source: own definition.
    """
    batches: list[Batch] = []
    for group in _groups(making, needs):
        total_l = sum(making.litres(need.product, need.containers) for need in group)
        batches.extend(_fill(making, group, choose_fills(total_l=total_l, ranges=making.ranges), total_l))
    return batches


def _groups(making: Making, needs: list[Need]) -> list[list[Need]]:
    """Needs in order of dispatch, cut where one day of cooking can no longer serve both ends."""
    zone = ZoneInfo(making.week.kitchen.time_zone)
    groups: list[list[Need]] = []
    latest_first_cook: date | None = None
    for need in sorted(needs, key=lambda need: (need.dispatch_at, -need.weight, need.line)):
        leaves_on = need.dispatch_at.astimezone(zone).date()
        cook_from = first_cook_date(dispatch_on=leaves_on, product=making.products[need.product])
        if groups and latest_first_cook is not None:
            opens_on = groups[-1][0].dispatch_at.astimezone(zone).date()
            if max(latest_first_cook, cook_from) <= opens_on - timedelta(days=1):
                groups[-1].append(need)
                latest_first_cook = max(latest_first_cook, cook_from)
                continue
        groups.append([need])
        latest_first_cook = cook_from
    return groups


def _fill(making: Making, needs: list[Need], fills: tuple[PotRange, ...], total_l: float) -> list[Batch]:
    units = units_of(needs, making.products)
    room = sum(each.largest_l for each in fills)
    ordered = sorted(fills, key=lambda each: -each.largest_l)
    groups: list[tuple[PotRange, list[Unit]]] = []
    for n, fill in enumerate(ordered):
        rest_l = sum(each.largest_l for each in ordered[n + 1 :])
        share_l = max(fill.smallest_l, min(fill.largest_l, total_l * fill.largest_l / room))
        groups.append((fill, _share_of(units, fill, share_l, rest_l)))
    for unit in units:  # whole containers do not always divide: first filling with room, else one more
        fitting = next(
            (taken for fill, taken in groups if litres_of(taken) + unit.litres <= fill.largest_l + HAIR_L), None
        )
        if fitting is None:
            groups.append((ordered[0], [unit]))
        else:
            fitting.append(unit)
    return [_batch(making, taken, fill.smallest_l) for fill, taken in groups if taken]


def _share_of(units: list[Unit], fill: PotRange, share_l: float, rest_l: float) -> list[Unit]:
    """Containers for one filling: its share, and what the other fillings could not take."""
    taken: list[Unit] = []
    while units and litres_of(taken) + units[0].litres <= fill.largest_l + HAIR_L:
        wanted = litres_of(taken) + units[0].litres <= share_l + HAIR_L
        if not wanted and litres_of(units) <= rest_l + HAIR_L:
            break
        taken.append(units.pop(0))
    return taken


def _batch(making: Making, units: list[Unit], smallest_l: float) -> Batch:
    portions = portions_of(units, making.products)
    short_l = smallest_l - sum(portion.litres for portion in portions)
    if short_l > HAIR_L:
        portions = _top_up(making, portions, short_l)
    return Batch(code="", formula=making.formula.code, first=portions, reduction=())


def _top_up(making: Making, portions: tuple[Portion, ...], short_l: float) -> tuple[Portion, ...]:
    """Fill up to the pot's least fill with the product that keeps longest."""
    keeper = max(portions, key=lambda portion: (making.products[portion.product].shelf_life_days, portion.litres))
    extra = math.ceil(short_l / making.products[keeper.product].net_l - HAIR_L)
    fuller = replace(
        keeper,
        containers=keeper.containers + extra,
        litres=keeper.litres + making.litres(keeper.product, extra),
    )
    return tuple(fuller if portion is keeper else portion for portion in portions)
