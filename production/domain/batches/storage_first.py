"""Room into runs: what the stores can still take, and the pots that would make it."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable
from decimal import Decimal

from production.domain.batches.content import Filling, StorageChoice
from production.domain.batches.fills import choose_fills
from production.domain.formula import pot_ranges
from production.domain.kitchen import Container, Product, Store, Week
from production.domain.parameters import ParameterSet
from production.domain.thermal.storage import envelope_l


def container_storage_l(*, container: Container, air_gap_mm: float) -> float:
    """Room that one container takes on a shelf, air gap included.

    Equation: (L + 2 g)(W + 2 g)(H + g) of the outside measures (envelope_l); a round one takes its square.
    Units: container (record; outside measures [mm]), air_gap_mm [mm]; returns [L].
    Valid: outside measures of the catalogue.
    Errors: OutOfRange from envelope_l.
    Source: geometry.
    """
    return envelope_l(
        length_mm=container.length_mm,
        width_mm=container.width_mm,
        height_mm=container.height_mm,
        gap_mm=air_gap_mm,
    )


def storage_first(*, week: Week, parameters: ParameterSet) -> tuple[StorageChoice, ...]:
    """How much of each product the stores can still take, and which pots would make it.

    Equation: free room = volume x usable share - room of the opening stock; containers = floor(free / room of one);
        runs = choose_fills of their litres; sorted by value per litre of storage, dearest first.
    Units: week, parameters (records); returns litres [L], value in the kitchen's currency.
    Valid: a week that passed its reader; one product at a time, the choices are alternatives and not a sum.
    Errors: OutOfRange where a container has absurd measures.
    Source: own definition; usable share of shelves is common practice, no source.
    """
    choices = [choice for store in week.stores for choice in _choices_of(week, parameters, store)]
    return tuple(sorted(choices, key=lambda choice: (-choice.value_per_storage_l, choice.store, choice.product)))


def _choices_of(week: Week, parameters: ParameterSet, store: Store) -> Iterable[StorageChoice]:
    free_l = free_room_l(week=week, store=store)
    gap_mm = parameters.value("storage.air_gap_mm") if store.kind == "frozen" else 0.0
    for product in week.products:
        if product.storage != store.kind or product.kind != "broth":
            continue
        one_l = container_storage_l(container=week.get("containers", product.container), air_gap_mm=gap_mm)
        choice = _choice(week, parameters, store, product, free_l, one_l)
        if choice is not None:
            yield choice


def free_room_l(*, week: Week, store: Store) -> float:
    """Usable room of a store beside its opening stock.

    Equation: volume x usable share - room of the lots that stand in it.
    Units: week, store (records); returns [L].
    Valid: a week that passed its reader.
    Errors: OutOfRange where a container has absurd measures.
    Source: own definition; usable share of shelves is common practice, no source.
    """
    products = {each.code: each for each in week.products}
    containers = {each.code: each for each in week.containers}
    standing_l = sum(
        lot.containers * container_storage_l(container=containers[products[lot.product].container], air_gap_mm=0.0)
        for lot in week.lots
        if lot.store == store.code
    )
    return max(0.0, store.volume_l * store.usable_share - standing_l)


def _choice(
    week: Week, parameters: ParameterSet, store: Store, product: Product, free_l: float, one_l: float
) -> StorageChoice | None:
    fitting = math.floor(free_l / one_l)
    ranges = pot_ranges(week=week, parameters=parameters, formula=week.get("formulas", product.formula))
    if fitting < 1 or not ranges:
        return None
    litres = fitting * product.net_l
    fills = choose_fills(total_l=litres, ranges=ranges)
    room = sum(each.largest_l for each in fills)
    return StorageChoice(
        store=store.code,
        product=product.code,
        containers=fitting,
        litres=litres,
        value=product.value * fitting,
        value_per_storage_l=(product.value / Decimal(repr(one_l))).quantize(Decimal("0.01")),
        fillings=tuple(
            Filling(pot=pot, runs=runs, litres=min(largest, litres * largest / room))
            for (pot, largest), runs in Counter((each.pot, each.largest_l) for each in fills).items()
        ),
    )
