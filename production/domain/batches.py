"""Need and pots into runs: how many of what and how big; and the other way round, room into runs."""

from __future__ import annotations

import itertools
import math
from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from decimal import Decimal
from zoneinfo import ZoneInfo

from production.domain.demand import Demand, Need, first_cook_date
from production.domain.formula import HAIR_L, PotRange, least_reduction_l, pot_allowed, pot_ranges
from production.domain.kitchen import Container, Formula, Product, Week
from production.domain.parameters import ParameterSet
from production.domain.thermal.storage import envelope_l

_MOST_RUNS_AT_ONCE = 8  # runs of one formula that are sized together


@dataclass(frozen=True, slots=True, kw_only=True)
class Peg:
    """Containers of a batch that are meant for an order line."""

    line: str
    containers: int
    share: float  # share of the whole line
    dispatch_at: datetime
    weight: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Portion:
    """Containers of one product that a draw is filled into."""

    product: str
    containers: int
    litres: float
    pegs: tuple[Peg, ...]

    @property
    def surplus(self) -> int:
        """Containers that no order waits for."""
        return self.containers - sum(peg.containers for peg in self.pegs)


@dataclass(frozen=True, slots=True, kw_only=True)
class Batch:
    """One run to be made: what its draws are filled into."""

    code: str
    formula: str
    first: tuple[Portion, ...]
    reduction: tuple[Portion, ...]  # empty = no second draw

    @property
    def first_l(self) -> float:
        """Litres of first draw, cold."""
        return sum(portion.litres for portion in self.first)

    @property
    def reduction_l(self) -> float:
        """Litres of reduction, cold."""
        return sum(portion.litres for portion in self.reduction)


@dataclass(frozen=True, slots=True, kw_only=True)
class Unmakeable:
    """A need that no run can serve, with the reason."""

    line: str
    product: str
    containers: int
    resource: str
    missing: float
    unit: str
    sentence: str
    remedy: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Filling:
    """So many runs of one pot."""

    pot: str
    runs: int
    litres: float  # first draw of one run


@dataclass(frozen=True, slots=True, kw_only=True)
class StorageChoice:
    """What a store could still take of a product, and the pots that would make it."""

    store: str
    product: str
    containers: int
    litres: float
    value: Decimal
    value_per_storage_l: Decimal
    fillings: tuple[Filling, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Unit:
    """One container of a need."""

    need: Need
    litres: float


def choose_fills(*, total_l: float, ranges: tuple[PotRange, ...]) -> tuple[PotRange, ...]:
    """The fewest fillings of pots that make a volume, and among those the least room.

    Equation: minimise (number of fillings, sum of largest volumes) subject to
        sum of largest >= total and sum of smallest <= total; a total below every least fill takes the smallest pot.
    Units: total_l [L]; ranges (records; volumes [L]); returns (records).
    Valid: total_l > 0, at least one pot; at most eight fillings, more are taken as the largest pot again and again.
    Errors: none.
    Source: own definition.
    """
    distinct = tuple({(each.smallest_l, each.largest_l): each for each in ranges}.values())
    largest = max(distinct, key=lambda each: each.largest_l)
    head: tuple[PotRange, ...] = ()
    while total_l > _MOST_RUNS_AT_ONCE * largest.largest_l:
        head += (largest,)
        total_l -= largest.largest_l
    for fillings in range(max(1, math.ceil(total_l / largest.largest_l - HAIR_L)), _MOST_RUNS_AT_ONCE + 1):
        fitting = [
            combo
            for combo in itertools.combinations_with_replacement(distinct, fillings)
            if sum(each.largest_l for each in combo) >= total_l - HAIR_L
            and sum(each.smallest_l for each in combo) <= total_l + HAIR_L
        ]
        if fitting:
            return head + min(fitting, key=lambda combo: sum(each.largest_l for each in combo))
    return (*head, min(distinct, key=lambda each: each.smallest_l))


def size_batches(
    *, week: Week, demand: Demand, parameters: ParameterSet, coolable_l: Mapping[str, float]
) -> tuple[tuple[Batch, ...], tuple[Unmakeable, ...]]:
    """Turn the week's needs into runs, formula by formula.

    Equation: needs of a formula are grouped along time while one day of cooking can serve the whole group (shelf life);
        each group is filled by choose_fills and its containers go to the fillings in order of dispatch; reductions take
        second draws of as few runs as give enough, largest first; where these do not suffice for the orders a further
        run is added (not for par levels).
        Every container of a need is in one batch, or in what comes back as unmakeable.
    Units: week, demand, parameters (records); coolable_l [L] most litres of one draw by formula; returns litres [L].
    Valid: a week that passed its reader.
    Errors: none; what cannot be made comes back as Unmakeable.
    Source: own definition; co-production of broth and second extraction is common practice, no source.
    """
    batches: list[Batch] = []
    unmakeable: list[Unmakeable] = []
    products = {product.code: product for product in week.products}
    for formula in week.formulas:
        needs = [need for need in demand.needs if products[need.product].formula == formula.code]
        if not needs:
            continue
        limit = coolable_l.get(formula.code, 0.0)
        allowed = pot_ranges(week=week, parameters=parameters, formula=formula)
        ranges = tuple(
            replace(each, largest_l=min(each.largest_l, limit)) for each in allowed if each.smallest_l <= limit
        )
        if not ranges:
            unmakeable.extend(_no_pot(week, needs, products, formula, limit, allowed))
            continue
        sized, left = _size_formula(week, formula, needs, products, ranges, parameters)
        batches.extend(sized)
        unmakeable.extend(_no_second_draw(left, products, formula))
    ordered = sorted(batches, key=lambda batch: (_first_dispatch(batch), batch.formula))
    return tuple(replace(batch, code=f"R{n:02d}") for n, batch in enumerate(ordered, 1)), tuple(unmakeable)


def _first_dispatch(batch: Batch) -> datetime:
    pegs = [peg.dispatch_at for portion in (*batch.first, *batch.reduction) for peg in portion.pegs]
    return min(pegs)


def _no_pot(
    week: Week,
    needs: Iterable[Need],
    products: dict[str, Product],
    formula: Formula,
    limit_l: float,
    ranges: tuple[PotRange, ...],
) -> list[Unmakeable]:
    """Why no pot can make a formula: none is allowed, none holds it, or its least fill is too much to cool at once."""
    if not any(pot_allowed(formula=formula, pot=pot) for pot in week.pots):
        resource, missing = "pots", 0.0
        reason = f"no pot may be used for {formula.name}"
        remedy = "Allow a pot for this formula."
    elif not ranges:
        resource, missing = "pots", 0.0
        reason = (
            f"no pot that may be used for {formula.name} takes a charge of it: too little room between least fill and "
            "freeboard, too little heat for the simmer, or a simmer too cold to reckon with"
        )
        remedy = "Allow another pot, keep the lid on, shorten the simmer, or hold it nearer to the boil."
    else:
        least = min(each.smallest_l for each in ranges)
        resource, missing = "cooling", least - limit_l
        reason = (
            f"the least draw of {formula.name} is {least:.0f} L, and the cooling devices take {limit_l:.0f} L at once "
            "through the critical limits"
        )
        remedy = f"Add cooling for {missing:.0f} L (an ice sink, a blast chiller, more ice), or allow a smaller pot."
    return [
        Unmakeable(
            line=need.line,
            product=need.product,
            containers=need.containers,
            resource=resource,
            missing=missing or need.containers * products[need.product].net_l,
            unit="L",
            sentence=f"{need.containers} × {products[need.product].name}: {reason}.",
            remedy=remedy,
        )
        for need in needs
    ]


def _no_second_draw(units: Iterable[_Unit], products: dict[str, Product], formula: Formula) -> Iterable[Unmakeable]:
    """Containers of reduction for which no second draw was found."""
    for peg, product in _left_over(units):
        yield Unmakeable(
            line=peg.line,
            product=product,
            containers=peg.containers,
            resource="pots",
            missing=peg.containers * products[product].net_l,
            unit="L",
            sentence=f"{peg.containers} × {products[product].name}: no run of {formula.name} gives its second draw.",
            remedy="Allow a larger pot for this formula, or enter a broth that the first draw can be filled into.",
        )


def _left_over(units: Iterable[_Unit]) -> Iterable[tuple[Peg, str]]:
    for (_, product), members in itertools.groupby(units, key=lambda unit: (unit.need.line, unit.need.product)):
        for peg in _pegs(members):
            yield peg, product


def _size_formula(
    week: Week,
    formula: Formula,
    needs: list[Need],
    products: dict[str, Product],
    ranges: tuple[PotRange, ...],
    parameters: ParameterSet,
) -> tuple[list[Batch], list[_Unit]]:
    zone = ZoneInfo(week.kitchen.time_zone)
    broth = [need for need in needs if products[need.product].kind == "broth"]
    reduced = sorted(
        (need for need in needs if products[need.product].kind != "broth"), key=lambda need: need.dispatch_at
    )
    batches: list[Batch] = []
    for group in _groups(broth, products, zone):
        total_l = sum(need.containers * products[need.product].net_l for need in group)
        fills = choose_fills(total_l=total_l, ranges=ranges)
        batches.extend(_fill(formula, group, products, fills, total_l))
    if not reduced:
        return batches, []
    return _with_second_draws(week, formula, reduced, products, ranges, parameters, batches)


def _groups(needs: list[Need], products: dict[str, Product], zone: ZoneInfo) -> list[list[Need]]:
    """Needs in order of dispatch, cut where one day of cooking can no longer serve both ends."""
    groups: list[list[Need]] = []
    latest_first_cook: date | None = None
    for need in sorted(needs, key=lambda need: (need.dispatch_at, -need.weight, need.line)):
        leaves_on = need.dispatch_at.astimezone(zone).date()
        cook_from = first_cook_date(dispatch_on=leaves_on, product=products[need.product])
        if groups and latest_first_cook is not None:
            opens_on = groups[-1][0].dispatch_at.astimezone(zone).date()
            if max(latest_first_cook, cook_from) <= opens_on - timedelta(days=1):
                groups[-1].append(need)
                latest_first_cook = max(latest_first_cook, cook_from)
                continue
        groups.append([need])
        latest_first_cook = cook_from
    return groups


def _fill(
    formula: Formula,
    needs: list[Need],
    products: dict[str, Product],
    fills: tuple[PotRange, ...],
    total_l: float,
) -> list[Batch]:
    units = [_Unit(need=need, litres=products[need.product].net_l) for need in needs for _ in range(need.containers)]
    room = sum(each.largest_l for each in fills)
    ordered = sorted(fills, key=lambda each: -each.largest_l)
    groups: list[tuple[PotRange, list[_Unit]]] = []
    for n, fill in enumerate(ordered):
        rest_l = sum(each.largest_l for each in ordered[n + 1 :])
        share = max(fill.smallest_l, min(fill.largest_l, total_l * fill.largest_l / room))
        taken: list[_Unit] = []
        while units and _sum(taken) + units[0].litres <= fill.largest_l + HAIR_L:
            wanted = _sum(taken) + units[0].litres <= share + HAIR_L
            if not wanted and _sum(units) <= rest_l + HAIR_L:
                break  # the other fillings take what is left
            taken.append(units.pop(0))
        groups.append((fill, taken))
    for unit in units:  # whole containers do not always divide: first filling with room, else one more
        fitting = next((taken for fill, taken in groups if _sum(taken) + unit.litres <= fill.largest_l + HAIR_L), None)
        if fitting is None:
            groups.append((ordered[0], [unit]))
        else:
            fitting.append(unit)
    return [_batch(formula, taken, products, fill.smallest_l) for fill, taken in groups if taken]


def _sum(units: Iterable[_Unit]) -> float:
    return sum(unit.litres for unit in units)


def _batch(formula: Formula, units: list[_Unit], products: dict[str, Product], smallest_l: float) -> Batch:
    portions = _portions(units, products)
    short_l = smallest_l - sum(portion.litres for portion in portions)
    if short_l > HAIR_L:
        portions = _top_up(portions, products, short_l)
    return Batch(code="", formula=formula.code, first=portions, reduction=())


def _portions(units: Iterable[_Unit], products: dict[str, Product]) -> tuple[Portion, ...]:
    by_product: dict[str, list[_Unit]] = {}
    for unit in units:
        by_product.setdefault(unit.need.product, []).append(unit)
    return tuple(
        Portion(
            product=code,
            containers=len(members),
            litres=len(members) * products[code].net_l,
            pegs=tuple(_pegs(members)),
        )
        for code, members in by_product.items()
    )


def _pegs(units: Iterable[_Unit]) -> Iterable[Peg]:
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


def _top_up(portions: tuple[Portion, ...], products: dict[str, Product], short_l: float) -> tuple[Portion, ...]:
    """Fill up to the pot's least fill with the product that keeps longest."""
    keeper = max(portions, key=lambda portion: (products[portion.product].shelf_life_days, portion.litres))
    extra = math.ceil(short_l / products[keeper.product].net_l - HAIR_L)
    fuller = replace(
        keeper,
        containers=keeper.containers + extra,
        litres=keeper.litres + extra * products[keeper.product].net_l,
    )
    return tuple(fuller if portion is keeper else portion for portion in portions)


def _with_second_draws(
    week: Week,
    formula: Formula,
    needs: list[Need],
    products: dict[str, Product],
    ranges: tuple[PotRange, ...],
    parameters: ParameterSet,
    batches: list[Batch],
) -> tuple[list[Batch], list[_Unit]]:
    """Batches with their reductions, and the containers that no second draw was found for."""

    def gives_l(batch: Batch) -> float:
        return least_reduction_l(week=week, parameters=parameters, formula=formula, drawn_l=batch.first_l)

    units = [_Unit(need=need, litres=products[need.product].net_l) for need in needs for _ in range(need.containers)]
    wanted_l = _sum(units)
    rooms = [gives_l(batch) for batch in batches]
    chosen: list[int] = []
    for index in sorted(range(len(batches)), key=lambda i: -rooms[i]):
        if sum(rooms[i] for i in chosen) >= wanted_l - HAIR_L:
            break
        chosen.append(index)
    others = [index for index in range(len(batches)) if index not in chosen]
    for index in (*sorted(chosen, key=lambda i: _earliest_peg(batches[i])), *others):
        taken = _take_units(units, rooms[index])
        if taken:
            batches[index] = replace(batches[index], reduction=_portions(taken, products))
    while any(not unit.need.is_wish for unit in units):
        for litres in (_sum(units) / wanted_l * ranges[-1].largest_l, ranges[-1].largest_l):
            extra = _surplus_run(formula, products, ranges, litres)
            taken = _take_units(units, gives_l(extra)) if extra is not None else []
            if extra is not None and taken:
                batches.append(replace(extra, reduction=_portions(taken, products)))
                break
        else:
            break
    return batches, units


def _take_units(units: list[_Unit], room_l: float) -> list[_Unit]:
    taken: list[_Unit] = []
    while units and _sum(taken) + units[0].litres <= room_l + HAIR_L:
        taken.append(units.pop(0))
    return taken


def _earliest_peg(batch: Batch) -> float:
    dispatches = [peg.dispatch_at.timestamp() for portion in batch.first for peg in portion.pegs]
    return min(dispatches, default=math.inf)


def _surplus_run(
    formula: Formula, products: dict[str, Product], ranges: tuple[PotRange, ...], litres: float
) -> Batch | None:
    """A run whose first draw nobody ordered: it is filled into the broth that keeps longest."""
    broths = [p for p in products.values() if p.formula == formula.code and p.kind == "broth"]
    if not broths:
        return None
    fill = choose_fills(total_l=min(litres, ranges[-1].largest_l), ranges=ranges)[0]
    made_l = min(fill.largest_l, max(fill.smallest_l, litres))
    keeper = max(broths, key=lambda product: (product.storage == "frozen", product.shelf_life_days))
    containers = math.floor(made_l / keeper.net_l + HAIR_L)
    if containers * keeper.net_l < fill.smallest_l:
        containers += 1
    portion = Portion(product=keeper.code, containers=containers, litres=containers * keeper.net_l, pegs=())
    return Batch(code="", formula=formula.code, first=(portion,), reduction=())


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
    gap = parameters.value("storage.air_gap_mm")
    containers = {each.code: each for each in week.containers}
    products = {each.code: each for each in week.products}
    choices = []
    for store in week.stores:
        gap_here = gap if store.kind == "frozen" else 0.0
        standing_l = sum(
            lot.containers * container_storage_l(container=containers[products[lot.product].container], air_gap_mm=0.0)
            for lot in week.lots
            if lot.store == store.code
        )
        free_l = max(0.0, store.volume_l * store.usable_share - standing_l)
        for product in week.products:
            if product.storage != store.kind or product.kind != "broth":
                continue
            one_l = container_storage_l(container=containers[product.container], air_gap_mm=gap_here)
            fitting = math.floor(free_l / one_l)
            formula = week.get("formulas", product.formula)
            ranges = pot_ranges(week=week, parameters=parameters, formula=formula)
            if fitting < 1 or not ranges:
                continue
            litres = fitting * product.net_l
            fills = choose_fills(total_l=litres, ranges=ranges)
            room = sum(each.largest_l for each in fills)
            value = product.value * fitting
            choices.append(
                StorageChoice(
                    store=store.code,
                    product=product.code,
                    containers=fitting,
                    litres=litres,
                    value=value,
                    value_per_storage_l=(product.value / Decimal(repr(one_l))).quantize(Decimal("0.01")),
                    fillings=tuple(
                        Filling(pot=pot, runs=runs, litres=min(largest, litres * largest / room))
                        for (pot, largest), runs in Counter((each.pot, each.largest_l) for each in fills).items()
                    ),
                )
            )
    return tuple(sorted(choices, key=lambda choice: (-choice.value_per_storage_l, choice.store, choice.product)))
