"""Needs taken apart into single containers, and put together again into portions with their pegs."""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

from production.domain.batches.content import Batch, Peg, Portion
from production.domain.demand import Need
from production.domain.formula import HAIR_L, PotRange
from production.domain.kitchen import Formula, Product, Week
from production.domain.parameters import ParameterSet


@dataclass(frozen=True, slots=True, kw_only=True)
class Making:
    """What the runs of one formula are sized with."""

    week: Week
    parameters: ParameterSet
    formula: Formula
    products: Mapping[str, Product]
    ranges: tuple[PotRange, ...]  # smallest pot first, no more than can be cooled at once

    @property
    def broths(self) -> tuple[Product, ...]:
        """Products that the formula's first draw is filled into."""
        return tuple(p for p in self.products.values() if p.formula == self.formula.code and p.kind == "broth")

    def litres(self, product: str, containers: int) -> float:
        """Litres of so many containers of a product."""
        return containers * self.products[product].net_l


@dataclass(frozen=True, slots=True, kw_only=True)
class Unit:
    """One container of a need."""

    need: Need
    litres: float


def units_of(needs: Iterable[Need], products: Mapping[str, Product]) -> list[Unit]:
    """Needs as single containers, in their order.

    Equation: one unit for each container.
    Units: needs, products (records); returns records with litres [L].
    Valid: needs of known products.
    Errors: none.
    Source: own definition.
    """
    return [Unit(need=need, litres=products[need.product].net_l) for need in needs for _ in range(need.containers)]


def litres_of(units: Iterable[Unit]) -> float:
    """Litres of single containers.

    Equation: the sum.
    Units: units (records); returns [L].
    Valid: any units.
    Errors: none.
    Source: own definition.
    """
    return sum(unit.litres for unit in units)


def take_units(units: list[Unit], room_l: float) -> list[Unit]:
    """Take containers off the front of a list as long as there is room.

    Equation: the longest beginning whose litres do not exceed the room.
    Units: units (records, the taken ones are removed), room_l [L]; returns records.
    Valid: any units.
    Errors: none.
    Source: own definition.
    """
    taken: list[Unit] = []
    while units and litres_of(taken) + units[0].litres <= room_l + HAIR_L:
        taken.append(units.pop(0))
    return taken


def portions_of(units: Iterable[Unit], products: Mapping[str, Product]) -> tuple[Portion, ...]:
    """Single containers put together by product.

    Equation: containers are counted, litres follow from the product.
    Units: units, products (records); returns records with litres [L].
    Valid: any units.
    Errors: none.
    Source: own definition.
    """
    by_product: dict[str, list[Unit]] = {}
    for unit in units:
        by_product.setdefault(unit.need.product, []).append(unit)
    return tuple(
        Portion(
            product=code,
            containers=len(members),
            litres=len(members) * products[code].net_l,
            pegs=tuple(pegs_of(members)),
        )
        for code, members in by_product.items()
    )


def needs_of(units: Iterable[Unit]) -> list[Need]:
    """Single containers put together again into what is left of their needs.

    Equation: containers are counted.
    Units: units (records); returns records.
    Valid: any units.
    Errors: none.
    Source: own definition.
    """
    counts: dict[Need, int] = {}
    for unit in units:
        counts[unit.need] = counts.get(unit.need, 0) + 1
    return [replace(need, containers=count) for need, count in counts.items()]


def coded(batches: Sequence[Batch]) -> list[Batch]:
    """Batches, in the order given, with the codes of the order of their first dispatch.

    Equation: by first dispatch, then by formula; R01, R02 and so on; runs that are reduced together keep each other.
    Units: no quantities; batches (records); returns records.
    Valid: batches of which each has a peg.
    Errors: none.
    Source: own definition.
    """
    order = sorted(range(len(batches)), key=lambda n: (batches[n].first_dispatch_at, batches[n].formula))
    codes = {index: f"R{n:02d}" for n, index in enumerate(order, 1)}
    known = {batch.code: codes[n] for n, batch in enumerate(batches)}
    return [
        replace(
            batch,
            code=codes[n],
            pours_into=known[batch.pours_into] if batch.pours_into else "",
            guests=tuple(known[guest] for guest in batch.guests),
        )
        for n, batch in enumerate(batches)
    ]


def with_surplus(
    portions: tuple[Portion, ...], extra: Mapping[str, int], products: Mapping[str, Product]
) -> tuple[Portion, ...]:
    """Portions with further containers that nobody waits for.

    Equation: containers and litres are added; a product that is not there yet gets a portion without pegs.
    Units: portions, products (records), extra (containers by product); returns records with litres [L].
    Valid: any counts above nothing.
    Errors: none.
    Source: own definition.
    """
    fuller = tuple(
        replace(
            each,
            containers=each.containers + extra.get(each.product, 0),
            litres=(each.containers + extra.get(each.product, 0)) * products[each.product].net_l,
        )
        for each in portions
    )
    there = {each.product for each in portions}
    return fuller + tuple(
        Portion(product=code, containers=count, litres=count * products[code].net_l, pegs=())
        for code, count in extra.items()
        if code not in there
    )


def pegs_of(units: Iterable[Unit]) -> Iterable[Peg]:
    """The order lines that single containers are meant for.

    Equation: neighbours of one line make one peg; its share is of the whole line.
    Units: no quantities; units (records); returns records.
    Valid: units in the order of their needs.
    Errors: none.
    Source: own definition.
    """
    for _, members in itertools.groupby(units, key=lambda unit: unit.need.line):
        group = list(members)
        need = group[0].need
        yield Peg(
            line=need.line,
            containers=len(group),
            share=len(group) / need.of_containers,
            dispatch_at=need.dispatch_at,
            weight=need.weight,
        )
