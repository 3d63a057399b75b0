"""A formula's part in a week: its needs, the shapes of its runs, and the ways they can take."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from zoneinfo import ZoneInfo

from production.domain.batches.cells import Cell, cells_of, common_l, pot_kinds, slim_week
from production.domain.batches.courses import Span, Ways, released_h, spans_of
from production.domain.batches.makings import makings_of
from production.domain.batches.shapes import Shape, shapes_of
from production.domain.batches.units import Making
from production.domain.demand import Demand, Need, first_cook_date
from production.domain.formula import pan_ranges
from production.domain.kitchen import Week
from production.domain.parameters import ParameterSet

_LEAST_STEP_L = 1e-4  # containers that have no larger measure in common are no grid for a solver


@dataclass(frozen=True, slots=True, kw_only=True)
class Quickest:
    """The fewest hours between a draw and its products being ready; nothing known is no time at all."""

    cold_h: Mapping[str, float] = field(default_factory=dict)  # a first draw, by formula
    glaze_h: Mapping[str, float] = field(default_factory=dict)  # a reduction, by formula
    frozen_h: Mapping[str, float] = field(default_factory=dict)  # then frozen, by product


@dataclass(frozen=True, slots=True, kw_only=True)
class Group:
    """Needs of a product for a dispatch."""

    product: str
    litres: float
    net_l: float
    weight_share: float  # sum of weight x share of the line
    leaves_h: float  # the last moment at which it may be cold
    not_before_h: float  # made on an earlier day it would be too old
    is_broth: bool
    is_wish: bool
    needs: tuple[Need, ...]

    @property
    def containers(self) -> int:
        """How many are wanted."""
        return round(self.litres / self.net_l)


@dataclass(frozen=True, slots=True, kw_only=True)
class Part:
    """What the runs of a formula in a week follow from."""

    code: str
    groups: tuple[Group, ...]
    shapes: tuple[Shape, ...]
    ways: Ways
    pan_l: tuple[float, float]  # the least and the most second draw that a pan takes; without a pan nothing
    step_l: float  # every fill is a multiple of it
    nets_l: tuple[float, ...]  # of the containers of reduction that are wanted


@dataclass(frozen=True, slots=True, kw_only=True)
class Parts:
    """All formulas of a week of whose runs enough is known."""

    parts: tuple[Part, ...]
    spans: tuple[Span, ...]
    cells: Mapping[tuple[str, str], Cell]  # by formula and pot


def parts_of(
    *,
    week: Week,
    demand: Demand,
    parameters: ParameterSet,
    coolable_l: Mapping[str, float],
    quickest: Quickest,
) -> Parts:
    """What the runs of a week's needs can be like at their shortest, and when.

    Equation: shapes_of in each kind of pot; spans_of until the last dispatch.
    Units: week, demand, parameters (records), coolable_l [L] at once by formula, quickest (record, [h]); returns
        records with L and h.
    Valid: a week that passed its reader; left out is a formula with a pot of which nothing is known, or with containers
        of broth that have no measure in common.
    Errors: UnknownParameter for an unknown material.
    Source: as shapes_of.
    """
    makings, _ = makings_of(week, demand, parameters, coolable_l)
    kinds = pot_kinds(week=week)
    known: list[tuple[Making, Sequence[Need], tuple[Cell, ...]]] = []
    cells: dict[tuple[str, str], Cell] = {}
    for code, (making, needs) in makings.items():
        limit_l = max(each.largest_l for each in making.ranges)
        found = cells_of(week=week, parameters=parameters, formula=making.formula, limit_l=limit_l)
        cells |= {(code, pot): cell for cell in found for pot in kinds[cell.kind].pots}
        if common_l(each.net_l for each in making.broths) >= _LEAST_STEP_L and all(
            (code, each.pot) in cells for each in making.ranges
        ):
            known.append((making, needs, found))
    groups = [tuple(_groups(making, needs, quickest)) for making, needs, _ in known]
    spans = spans_of(week=week, last_due_h=max((g.leaves_h for each in groups for g in each), default=0.0))
    parts = (_part(making, own, found, spans, quickest) for (making, _, found), own in zip(known, groups, strict=True))
    return Parts(parts=tuple(parts), spans=spans, cells=cells)


def _part(
    making: Making, groups: tuple[Group, ...], cells: Iterable[Cell], spans: tuple[Span, ...], quickest: Quickest
) -> Part:
    week, code = making.week, making.formula.code
    slim, kinds = slim_week(week), pot_kinds(week=week)
    pans = pan_ranges(week=week, parameters=making.parameters, formula=code)
    nets_l = tuple(sorted({group.net_l for group in groups if not group.is_broth and not group.is_wish}))
    step_l = common_l(each.net_l for each in making.broths)
    shapes = (
        shape
        for cell in cells
        for shape in shapes_of(
            week=slim,
            parameters=making.parameters,
            formula=making.formula,
            cell=cell,
            pot=slim.get("pots", kinds[cell.kind].pots[0]),
            step_l=step_l,
            nets_l=nets_l,
        )
    )
    return Part(
        code=code,
        groups=groups,
        shapes=tuple(shapes),
        ways=Ways(
            week=week,
            formula=making.formula,
            spans=spans,
            release_h=released_h(week=week, formula=making.formula),
            cold_h=quickest.cold_h.get(code, 0.0),
            glaze_h=quickest.glaze_h.get(code, 0.0),
            edges_h=tuple(sorted({edge for g in groups if g.is_broth for edge in (g.leaves_h, g.not_before_h)})),
            has_pan=bool(pans),
        ),
        pan_l=(
            min((each.smallest_l for each in pans), default=0.0),
            max((each.largest_l for each in pans), default=0.0),
        ),
        step_l=step_l,
        nets_l=nets_l,
    )


def _groups(making: Making, needs: Iterable[Need], quickest: Quickest) -> Iterable[Group]:
    zone = ZoneInfo(making.week.kitchen.time_zone)

    def hours(moment: datetime) -> float:
        return (moment - making.week.plan_from).total_seconds() / 3600.0

    found: dict[tuple[datetime, str, bool], list[Need]] = {}
    for need in needs:
        found.setdefault((need.dispatch_at, need.product, need.is_wish), []).append(need)
    for (dispatch_at, code, is_wish), members in sorted(found.items()):
        product = making.products[code]
        first_day = first_cook_date(dispatch_on=dispatch_at.astimezone(zone).date(), product=product)
        yield Group(
            product=code,
            litres=sum(need.containers for need in members) * product.net_l,
            net_l=product.net_l,
            weight_share=sum(need.weight * need.containers / need.of_containers for need in members),
            leaves_h=hours(dispatch_at) - quickest.frozen_h.get(code, 0.0),
            not_before_h=hours(datetime.combine(first_day, datetime.min.time(), zone)),
            is_broth=product.kind == "broth",
            is_wish=is_wish,
            needs=tuple(sorted(members, key=lambda need: (-need.weight, need.line))),
        )
