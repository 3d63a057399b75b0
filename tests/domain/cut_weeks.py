"""A week that goes well, and the same week with one thing cut: what is late or missing then has one cause."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from production.domain.kitchen import HeatSource, Outage, Person, Shift, Week
from tests.builders import a_line, a_pot, a_product, at, small_kitchen

FROZEN = a_product(code="frozen", name="Poultry broth 5 L, frozen", storage="frozen", shelf_life_days=90)


def whole() -> Week:
    """Two tall pots and a wide one, sinks with plenty of ice, and orders that all leave in time."""
    kitchen = small_kitchen()
    second = HeatSource(
        code="range-2", name="Second range", supply="gas", appliance="gas_stockpot_range", input_kw=26.0
    )
    (tall, wide), (sink, _) = kitchen.pots, kitchen.cooling_devices
    assert kitchen.ice_machine is not None
    return replace(
        kitchen,
        heat_supplies=tuple(replace(each, capacity_kw=60.0) for each in kitchen.heat_supplies),
        heat_sources=(*kitchen.heat_sources, second),
        pots=(tall, a_pot(code="tall-2", name="Tall 40, no. 2", heat_source="range-2"), wide),
        cooling_devices=(replace(sink, places=8),),
        people=tuple(Person(code=code, name=code.title()) for code in ("ana", "ben", "cho", "dai")),
        shifts=tuple(
            Shift(person=person, start=at(f"2027-02-0{day} {begin}"), end=at(f"2027-02-0{day} {end}"))
            for day in range(1, 6)
            for person, begin, end in (
                ("ana", "05:30", "14:30"),
                ("cho", "05:30", "14:30"),
                ("ben", "13:30", "22:30"),
                ("dai", "13:30", "22:30"),
            )
        ),
        ice_machine=replace(kitchen.ice_machine, bin_kg=300.0, make_kg_per_day=500.0),
        products=(*kitchen.products, FROZEN),
        order_lines=(
            a_line(code="L1", containers=8, dispatch_at=at("2027-02-03 09:00")),
            a_line(code="L2", containers=8, dispatch_at=at("2027-02-04 07:00")),
            a_line(code="L3", product="fish-2", containers=10, dispatch_at=at("2027-02-03 09:00")),
            a_line(code="L4", product="frozen", containers=6, dispatch_at=at("2027-02-05 12:00")),
            a_line(code="L5", product="poultry-cubes", containers=3, dispatch_at=at("2027-02-05 12:00")),
        ),
    )


def fewer_cooks(week: Week) -> Week:
    return replace(week, shifts=tuple(each for each in week.shifts if each.person in ("ana", "ben")))


def less_ice(week: Week) -> Week:
    assert week.ice_machine is not None
    return replace(week, ice_machine=replace(week.ice_machine, bin_kg=60.0, make_kg_per_day=20.0))


def fewer_sinks(week: Week) -> Week:
    return replace(week, cooling_devices=tuple(replace(each, places=2) for each in week.cooling_devices))


def fewer_pots(week: Week) -> Week:
    out = Outage(start=at("2027-01-30 10:00"), end=at("2027-02-03 12:00"), reason="leaks")
    return replace(
        week, pots=tuple(replace(each, outages=(out,)) if each.code != "wide" else each for each in week.pots)
    )


def less_heat(week: Week) -> Week:
    return replace(week, heat_supplies=tuple(replace(each, capacity_kw=27.0) for each in week.heat_supplies))


def less_room(week: Week) -> Week:
    return replace(
        week, stores=tuple(replace(each, volume_l=40.0) if each.kind == "frozen" else each for each in week.stores)
    )


def fewer_trays(week: Week) -> Week:
    return replace(week, cube_trays=tuple(replace(each, trays=1) for each in week.cube_trays))


CUTS: dict[str, Callable[[Week], Week]] = {
    "cooks": fewer_cooks,
    "ice": less_ice,
    "cooling": fewer_sinks,
    "pots": fewer_pots,
    "heat": less_heat,
    "storage": less_room,
    "trays": fewer_trays,
}
