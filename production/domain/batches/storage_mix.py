"""Room into runs for all products and pots at once: the most valuable filling of the stores."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from decimal import Decimal
from zoneinfo import ZoneInfo

from production.domain.batches.cells import Cell, cells_of, pot_kinds
from production.domain.batches.content import Batch, Filling, StorageMix, StorageShare
from production.domain.batches.highs import Mip
from production.domain.batches.storage_first import container_storage_l, free_room_l
from production.domain.kitchen import Formula, Product, Week
from production.domain.parameters import ParameterSet

_KEPT_SHARE = 0.15  # of hands and pots, left free (own choice)
_RUN_PENALTY = 0.01  # in money: of equally valuable fillings the one with fewer runs


@dataclass(slots=True)
class _Making:
    """A formula's runs in the program, with the containers they fill."""

    formula: Formula
    cells: tuple[Cell, ...]
    runs: list[int] = field(default_factory=list)  # by cell
    litres: list[int] = field(default_factory=list)
    containers: dict[tuple[str, str], int] = field(default_factory=dict)  # by store and product


def fill_stores(
    *,
    week: Week,
    parameters: ParameterSet,
    coolable_l: Mapping[str, float],
    occupied_l: Mapping[str, float] | None = None,
    batches: Iterable[Batch] = (),
    seconds: float = 2.0,
    seed: int = 0,
) -> StorageMix:
    """What to fill the stores with, all products and pots together, so that it is worth most.

    Equation: maximise the value of the containers; room of each store, least and largest fills, pot hours of each kind
        of pot and cook hours that the week's own runs leave. With batches: orders first, then what is left.
    Units: week, parameters (records), coolable_l [L] by formula, occupied_l [L] by store besides the opening stock,
        batches (records, the week's own runs), seconds [s], seed (count); returns litres [L], value in the kitchen's
        currency.
    Valid: broths that still have a day of life beyond what a dispatch asks for; hours are coarse, no schedule.
    Errors: OutOfRange where a container has absurd measures.
    Source: own definition; a knapsack with fixed charges, a standard program of operations research, from memory.
    """
    mip = Mip()
    makings = [
        making
        for formula in week.formulas
        if (making := _making(mip, week, parameters, formula, coolable_l.get(formula.code, 0.0))) is not None
    ]
    _add_rooms(mip, week, parameters, makings, occupied_l or {})
    _add_hours(mip, week, makings, tuple(batches))
    answer = mip.solve(seconds=seconds, seed=seed, gap_share=1e-4) if makings else None
    if answer is None:
        return StorageMix(shares=(), value=Decimal(0), most_value=None)
    shares = tuple(share for making in makings for share in _shares(week, making, answer.values))
    value = sum((share.value for share in shares), Decimal(0))
    return StorageMix(
        shares=shares, value=value, most_value=max(value, Decimal(repr(-answer.bound)).quantize(Decimal("0.01")))
    )


def _making(mip: Mip, week: Week, parameters: ParameterSet, formula: Formula, limit_l: float) -> _Making | None:
    products = [each for each in week.products if each.formula == formula.code and _keeps(each)]
    cells = cells_of(week=week, parameters=parameters, formula=formula, limit_l=limit_l)
    if not products or not cells:
        return None
    making = _Making(formula, cells)
    for cell in cells:
        runs, litres = mip.variable(cost=_RUN_PENALTY, high=1000.0, whole=True), mip.variable()
        mip.row([(litres, 1.0), (runs, -cell.smallest_l)], low=0.0)
        mip.row([(litres, 1.0), (runs, -cell.largest_l)], high=0.0)
        making.runs.append(runs)
        making.litres.append(litres)
    terms = [(litres, -1.0) for litres in making.litres]
    for product in products:
        for store in week.stores:
            if store.kind == product.storage:
                index = mip.variable(cost=-float(product.value), high=100_000.0, whole=True)
                making.containers[store.code, product.code] = index
                terms.append((index, product.net_l))
    mip.row(terms, low=0.0, high=0.0)
    return making


def _keeps(product: Product) -> bool:
    return product.kind == "broth" and product.shelf_life_days > product.life_at_dispatch_days


def _add_rooms(
    mip: Mip, week: Week, parameters: ParameterSet, makings: list[_Making], occupied_l: Mapping[str, float]
) -> None:
    products = {each.code: each for each in week.products}
    for store in week.stores:
        gap_mm = parameters.value("storage.air_gap_mm") if store.kind == "frozen" else 0.0
        terms = [
            (index, _one_l(week, products[product], gap_mm))
            for making in makings
            for (at, product), index in making.containers.items()
            if at == store.code
        ]
        mip.row(terms, high=max(0.0, free_room_l(week=week, store=store) - occupied_l.get(store.code, 0.0)))


def _one_l(week: Week, product: Product, gap_mm: float) -> float:
    return container_storage_l(container=week.get("containers", product.container), air_gap_mm=gap_mm)


def _add_hours(mip: Mip, week: Week, makings: list[_Making], batches: tuple[Batch, ...]) -> None:
    """Pot hours by kind and cook hours; a run of the week counts in the kind with most hours left that takes it."""
    all_h, staffed_h = _week_hours(week)
    kinds = pot_kinds(week=week)
    left_h = {n: (1.0 - _KEPT_SHARE) * len(kind.pots) * all_h for n, kind in enumerate(kinds)}
    hands_h = (1.0 - _KEPT_SHARE) * staffed_h
    by_formula = {making.formula.code: making for making in makings}
    for batch in batches:
        making = by_formula.get(batch.formula)
        taking = [cell for cell in making.cells if cell.largest_l >= batch.first_l - 1e-6] if making else []
        if making and taking:
            cell = max(taking, key=lambda each: left_h[each.kind])
            second = cell.seconds[-1] if batch.has_second_draw and cell.seconds else None
            left_h[cell.kind] -= _held_h(making.formula, cell)
            left_h[cell.kind] -= second.held_h if second else 0.0
            hands_h -= cell.cook_h + (second.cook_h if second else 0.0)
    held: defaultdict[int, list[tuple[int, float]]] = defaultdict(list)
    hands: list[tuple[int, float]] = []
    for making in makings:
        for cell, runs in zip(making.cells, making.runs, strict=True):
            held[cell.kind].append((runs, _held_h(making.formula, cell)))
            hands.append((runs, cell.cook_h))
    for kind, terms in held.items():
        mip.row(terms, high=max(0.0, left_h[kind]))
    mip.row(hands, high=max(0.0, hands_h))


def _held_h(formula: Formula, cell: Cell) -> float:
    """Hours that a run holds its pot: hands, heat and the shortest simmer."""
    return cell.cook_h + cell.heat_up_h + formula.simmer_min_h


def _week_hours(week: Week) -> tuple[float, float]:
    """Hours until the week ends in which a pot may be on the heat, and hours of hands."""
    end = datetime.combine(
        week.starts_on + timedelta(days=week.days), datetime.min.time(), ZoneInfo(week.kitchen.time_zone)
    )
    spans = [(max(each.start, week.plan_from), min(each.end, end)) for each in week.shifts]
    hands_h = sum(max(0.0, (stop - start).total_seconds() / 3600.0) for start, stop in spans)
    if week.kitchen.unattended_simmer:
        return max(0.0, (end - week.plan_from).total_seconds() / 3600.0), hands_h
    staffed_h, until = 0.0, week.plan_from
    for start, stop in sorted(spans):
        staffed_h += max(0.0, (stop - max(start, until)).total_seconds() / 3600.0)
        until = max(until, stop)
    return staffed_h, hands_h


def _shares(week: Week, making: _Making, values: tuple[float, ...]) -> Iterable[StorageShare]:
    """The products of a formula that are made, with the runs of the formula beside each."""
    kinds = pot_kinds(week=week)
    fillings = tuple(
        Filling(pot=kinds[cell.kind].pots[0], runs=round(values[runs]), litres=values[litres] / round(values[runs]))
        for cell, runs, litres in zip(making.cells, making.runs, making.litres, strict=True)
        if round(values[runs])
    )
    for (store, code), index in making.containers.items():
        count = round(values[index])
        if count:
            product = week.get("products", code)
            yield StorageShare(
                store=store,
                product=code,
                containers=count,
                litres=count * product.net_l,
                value=product.value * count,
                formula=making.formula.code,
                fillings=fillings,
            )
