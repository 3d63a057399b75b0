"""Made-up kitchens in four sizes, each with a week of orders; the same size and seed always give the same week.

A kitchen has several kinds of pots with identical ones among them, reduction pans (not the small ones), heat
supplies that do not feed everything at full setting, two shifts that overlap, fewer people on Saturdays and none on
Sundays, ice sinks, blast chillers and an ice machine, cube trays, and orders on the six days from Monday to
Saturday. One kitchen in ten does not simmer overnight. Cooling, ice, hands and pots are short enough that a careful
plan by hand (tests/benchmarks) is late in about half of the small and medium kitchens and in the large ones. The
figures are common practice, no source.
"""

from __future__ import annotations

import random
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from decimal import Decimal
from zoneinfo import ZoneInfo

from production.domain.kitchen import (
    Addition,
    Container,
    CoolingDevice,
    CubeTray,
    Formula,
    HeatSource,
    HeatSupply,
    IceMachine,
    Ingredient,
    IngredientStock,
    Kitchen,
    Offer,
    OrderLine,
    Outlet,
    Person,
    Pot,
    Product,
    SavedBones,
    SecondDraw,
    Shift,
    Solid,
    StockLot,
    Store,
    Supplier,
    TaskMinutes,
    Week,
)

ZONE = ZoneInfo("America/Denver")
STARTS_ON = date(2027, 2, 1)  # a Monday; no change of the clocks near it
SIZES = ("tiny", "small", "medium", "large")
_DISPATCH_DAYS = 6
_WEEKEND_BEFORE = -2  # work begins on the Saturday before


@dataclass(frozen=True, slots=True)
class _Size:
    """How large a kitchen is."""

    kinds: tuple[tuple[str, int], ...]  # kind of pot, how many of it
    pans: tuple[int, int]
    lines: int
    formulas: tuple[int, int]
    people_a_shift: int
    sinks: int
    sink_places: int
    chillers: int
    chiller_places: int
    trays: int
    outlets: int
    most_runs: float  # that the orders are laid out for, where the pots could take more


_SIZES = {
    "tiny": _Size(
        kinds=(("K120", 1), ("T80", 2)),
        pans=(0, 0),
        lines=6,
        formulas=(2, 3),
        people_a_shift=1,
        sinks=1,
        sink_places=5,
        chillers=1,
        chiller_places=8,
        trays=20,
        outlets=3,
        most_runs=7.0,
    ),
    "small": _Size(
        kinds=(("K150", 1), ("T100", 2), ("T80", 1), ("W60", 1)),
        pans=(0, 0),
        lines=15,
        formulas=(4, 5),
        people_a_shift=1,
        sinks=1,
        sink_places=6,
        chillers=1,
        chiller_places=10,
        trays=24,
        outlets=5,
        most_runs=18.0,
    ),
    "medium": _Size(
        kinds=(("K150", 3), ("K120", 2), ("T100", 4), ("W60", 2)),
        pans=(1, 1),
        lines=60,
        formulas=(5, 8),
        people_a_shift=2,
        sinks=3,
        sink_places=5,
        chillers=1,
        chiller_places=14,
        trays=50,
        outlets=12,
        most_runs=50.0,
    ),
    "large": _Size(
        kinds=(("K200", 4), ("K150", 10), ("K120", 6), ("T100", 10), ("T80", 4), ("W60", 4)),
        pans=(2, 3),
        lines=400,
        formulas=(8, 10),
        people_a_shift=5,
        sinks=5,
        sink_places=6,
        chillers=2,
        chiller_places=20,
        trays=200,
        outlets=40,
        most_runs=170.0,
    ),
}


@dataclass(frozen=True, slots=True)
class _PotKind:
    """A make of pot with what it stands on."""

    name: str
    diameter_mm: float
    height_mm: float
    mass_kg: float
    appliance: str
    supply: str
    input_kw: float
    least_fill: float
    first_draw_l: float  # what one filling usually gives; only to lay out the orders


_POT_KINDS = {
    "K200": _PotKind("Kettle 200", 660.0, 590.0, 80.0, "gas_steam_kettle", "gas", 46.0, 0.35, 66.0),
    "K150": _PotKind("Kettle 150", 600.0, 530.0, 62.0, "gas_steam_kettle", "gas", 34.0, 0.35, 50.0),
    "K120": _PotKind("Kettle 120", 560.0, 490.0, 48.0, "electric_steam_kettle", "feed", 27.0, 0.35, 39.0),
    "T100": _PotKind("Tall pot 100", 500.0, 510.0, 15.5, "gas_stockpot_range", "gas", 28.0, 0.35, 33.0),
    "T80": _PotKind("Tall pot 80", 450.0, 500.0, 12.5, "gas_stockpot_range", "gas", 24.0, 0.35, 26.0),
    "W60": _PotKind("Wide pot 60", 520.0, 285.0, 10.5, "induction", "feed", 15.0, 0.3, 15.0),
    "pan": _PotKind("Reduction pan", 900.0, 300.0, 42.0, "electric_steam_kettle", "feed", 30.0, 0.1, 0.0),
}
_LOAD_SHARE = 0.85  # of the staffed pot hours
_STAFFED_H = 97.0  # from the first Saturday to the last dispatch
_LONG = ("veal", "beef", "trotter", "pork")  # every kitchen that simmers overnight makes some of them
_DELICATE = ("fish", "crab", "vegetable", "mushroom")  # the only ones made in the wide pots


@dataclass(frozen=True, slots=True)
class _Dish:
    """A formula as it usually is; the kitchens vary it."""

    code: str
    name: str
    solids: tuple[tuple[str, str, float], ...]  # role, ingredient, share
    water: float
    additions: tuple[tuple[str, str, float, int], ...]  # ingredient, kind, kg per kg of solids, minutes before the end
    below_boil_k: float
    lid: str
    simmer_h: tuple[float, float]
    second_h: tuple[float, float] | None
    bx: float | None
    runs: float  # weight: how often it is made against the others
    shelf_days: int
    life_days: int


_ROOTS = (("onion", "mirepoix", 0.06, 90), ("carrot", "mirepoix", 0.04, 90), ("spice-bag", "aromatics", 0.0015, 60))
_LIGHT = (("onion", "mirepoix", 0.05, 60), ("parsley", "aromatics", 0.004, 30))
_DISHES = (
    _Dish(
        "poultry",
        "Poultry broth",
        (("frames", "chicken-frames", 0.75), ("collagen_rich_meat", "chicken-feet", 0.25)),
        2.0,
        _ROOTS,
        4.0,
        "ajar",
        (4.0, 8.0),
        (3.0, 6.0),
        20.0,
        2.0,
        7,
        3,
    ),
    _Dish(
        "veal",
        "Brown veal stock",
        (("bones", "veal-bones", 0.7), ("collagen_rich_meat", "beef-shin", 0.3)),
        1.8,
        _ROOTS,
        5.0,
        "ajar",
        (9.0, 15.0),
        (5.0, 9.0),
        24.0,
        2.5,
        7,
        3,
    ),
    _Dish(
        "pork",
        "Pork broth",
        (("bones", "pork-bones", 0.7), ("collagen_rich_meat", "pork-feet", 0.3)),
        2.0,
        (("onion", "mirepoix", 0.05, 90), ("ginger", "aromatics", 0.006, 60)),
        3.0,
        "ajar",
        (7.0, 14.0),
        None,
        None,
        2.0,
        7,
        3,
    ),
    _Dish(
        "vegetable",
        "Vegetable broth",
        (("vegetables", "onion", 0.4), ("vegetables", "carrot", 0.3), ("vegetables", "leek", 0.3)),
        2.6,
        (("parsley", "aromatics", 0.008, 30),),
        3.0,
        "open",
        (0.75, 1.5),
        None,
        None,
        0.8,
        6,
        2,
    ),
    _Dish(
        "fish",
        "Fish stock",
        (("frames", "fish-frames", 1.0),),
        1.5,
        (("leek", "mirepoix", 0.05, 30), ("parsley", "aromatics", 0.004, 20)),
        8.0,
        "open",
        (0.6, 0.8),
        None,
        None,
        0.7,
        4,
        2,
    ),
    _Dish(
        "beef",
        "Beef marrow broth",
        (("bones", "beef-bones", 0.7), ("collagen_rich_meat", "beef-shin", 0.3)),
        2.0,
        _ROOTS,
        4.0,
        "ajar",
        (12.0, 18.0),
        (5.0, 9.0),
        22.0,
        2.5,
        7,
        3,
    ),
    _Dish(
        "crab",
        "Crab and fish stock",
        (("frames", "crab-and-heads", 1.0),),
        1.6,
        (("onion", "mirepoix", 0.06, 30),),
        7.0,
        "open",
        (0.75, 1.0),
        None,
        None,
        0.5,
        4,
        2,
    ),
    _Dish(
        "game",
        "Farmhouse broth",
        (("frames", "chicken-frames", 0.85), ("scrap", "pork-trim", 0.15)),
        2.1,
        _LIGHT,
        4.0,
        "ajar",
        (4.0, 9.0),
        None,
        None,
        1.0,
        7,
        3,
    ),
    _Dish(
        "mushroom",
        "Mushroom broth",
        (("vegetables", "mushroom", 0.6), ("vegetables", "onion", 0.4)),
        2.8,
        (("spice-bag", "aromatics", 0.0015, 30),),
        3.0,
        "ajar",
        (1.0, 2.0),
        None,
        None,
        0.6,
        6,
        2,
    ),
    _Dish(
        "trotter",
        "Trotter broth",
        (("bones", "pork-bones", 0.5), ("collagen_rich_meat", "pork-feet", 0.5)),
        2.2,
        (("onion", "mirepoix", 0.05, 120), ("ginger", "aromatics", 0.006, 90)),
        2.0,
        "ajar",
        (12.0, 18.0),
        None,
        None,
        1.5,
        7,
        3,
    ),
)
_INGREDIENTS = (  # code, name, material, roles, temperature, trim, allergens, pack, price, supplier
    ("chicken-frames", "Chicken frames", "poultry_frames", ("frames",), 4.0, 0.97, (), 10.0, "14.00", "meats"),
    ("chicken-feet", "Chicken feet", "poultry_feet", ("collagen_rich_meat",), 4.0, 0.96, (), 5.0, "11.50", "meats"),
    ("veal-bones", "Veal bones", "veal_bones", ("bones",), 4.0, 0.98, (), 15.0, "33.00", "meats"),
    ("beef-bones", "Beef marrow bones", "beef_bones", ("bones",), 4.0, 0.98, (), 15.0, "27.00", "meats"),
    ("beef-shin", "Beef shin", "collagen_meat", ("collagen_rich_meat",), 4.0, 0.94, (), 5.0, "42.00", "meats"),
    ("pork-bones", "Pork neck bones", "pork_bones", ("bones",), 4.0, 0.98, (), 15.0, "21.00", "meats"),
    ("pork-feet", "Pork feet", "pork_feet", ("collagen_rich_meat",), 4.0, 0.97, (), 10.0, "19.50", "meats"),
    ("pork-trim", "Pork trim", "lean_meat", ("scrap",), 4.0, 1.0, (), 5.0, "13.00", "meats"),
    ("fish-frames", "White fish frames", "fish_frames", ("frames",), 2.0, 0.92, ("fish",), 5.0, "17.50", "harbour"),
    (
        "crab-and-heads",
        "Crab shells and fish heads",
        "fish_frames",
        ("frames",),
        2.0,
        0.95,
        ("fish", "crustaceans"),
        5.0,
        "24.00",
        "harbour",
    ),
    ("onion", "Onion", "vegetable_bulb", ("vegetables",), 12.0, 0.9, (), 10.0, "12.00", "produce"),
    ("carrot", "Carrot", "vegetable_root", ("vegetables",), 6.0, 0.88, (), 10.0, "11.00", "produce"),
    ("leek", "Leek", "vegetable_bulb", ("vegetables",), 6.0, 0.78, (), 5.0, "13.50", "produce"),
    ("mushroom", "Field mushroom", "mushroom", ("vegetables",), 5.0, 0.95, (), 5.0, "24.00", "produce"),
    ("ginger", "Ginger", "vegetable_root", (), 12.0, 0.86, (), 1.0, "7.50", "produce"),
    ("parsley", "Parsley stems", "herb_spice", (), 6.0, 0.95, (), 1.0, "6.00", "produce"),
    ("spice-bag", "Bay and peppercorn", "herb_spice", (), 18.0, 1.0, (), 0.5, "12.40", "produce"),
)
_ROUND = (  # code, name, material, diameter, height, brim
    ("pail-10", "Pail 10 L", "plastic", 266.0, 248.0, 11.6),
    ("tub-5", "Tub 5 L", "plastic", 225.0, 190.0, 5.7),
    ("tub-2", "Tub 2 L", "plastic", 172.0, 132.0, 2.35),
    ("jar-half", "Jar 0.5 L", "plastic", 102.0, 96.0, 0.6),
    ("can-14", "Cooling can 14 L", "steel", 240.0, 325.0, 13.8),
)
_BOX = (
    ("bag-cubes", "Bag of 20 cubes", "plastic", 250.0, 170.0, 60.0, 1.2),
    ("pan-65", "Shallow pan", "steel", 530.0, 325.0, 65.0, 8.6),
)


def random_week(size: str, seed: int) -> Week:
    """The made-up week of this size and seed."""
    how, rng = _SIZES[size], random.Random(f"{size}-{seed}")
    overnight = rng.random() < 0.9
    dishes = _dishes(rng, rng.randint(*how.formulas), overnight=overnight)
    formulas = tuple(_formula(rng, dish, overnight=overnight) for dish in dishes)
    products = tuple(product for dish in dishes for product in _products(rng, dish, overnight=overnight))
    pots = tuple(_pots(rng, how, tuple(dish.code for dish in dishes)))
    people = tuple(Person(code=f"p{n:02d}", name=f"Cook {n}") for n in range(1, 2 * how.people_a_shift + 2))
    outlets = tuple(
        Outlet(code=f"o{n:02d}", name=f"Outlet {n}", kind="bistro", contact=f"o{n:02d}@outlet.example")
        for n in range(1, how.outlets + 1)
    )
    lines = tuple(_order_lines(rng, how, dishes, products, pots, outlets, overnight=overnight))
    return Week(
        starts_on=STARTS_ON,
        days=7,
        plan_from=_at(-3, "10:00"),
        kitchen=_kitchen(rng, size, seed, overnight=overnight),
        heat_supplies=tuple(_heat_supplies(rng, how)),
        heat_sources=tuple(_heat_source(pot) for pot in pots),
        pots=pots,
        containers=tuple(_containers()),
        cooling_devices=tuple(_cooling_devices(rng, how)),
        ice_machine=_ice_machine(rng, how),
        cube_trays=(CubeTray(code="cube-30", name="Tray of 20", cells=20, cell_ml=30.0, trays=how.trays),),
        stores=tuple(_stores(lines, products)),
        people=people,
        shifts=tuple(_shifts(rng, how, people)),
        ingredients=tuple(_ingredients()),
        formulas=formulas,
        products=products,
        suppliers=tuple(_suppliers(rng)),
        offers=tuple(_offers()),
        lots=tuple(_lots(rng, lines, products)),
        ingredient_stock=(
            IngredientStock(
                code="shelf-spice", ingredient="spice-bag", mass_kg=2.0, use_by=STARTS_ON + timedelta(days=200)
            ),
        ),
        saved_bones=(
            SavedBones(
                code="bank",
                ingredient="chicken-frames",
                mass_kg=float(rng.randint(5, 20)),
                saved_on=STARTS_ON - timedelta(days=10),
                use_by=STARTS_ON + timedelta(days=50),
            ),
        ),
        outlets=outlets,
        order_lines=lines,
    )


def _at(day: int, clock: str) -> datetime:
    """The clock on the wall on a day counted from the week's Monday."""
    return datetime.combine(STARTS_ON + timedelta(days=day), time.fromisoformat(clock), ZONE).astimezone(UTC)


def _kitchen(rng: random.Random, size: str, seed: int, *, overnight: bool) -> Kitchen:
    return Kitchen(
        code=f"{size}-{seed}",
        name=f"Made-up kitchen, {size} {seed}",
        time_zone=ZONE.key,
        altitude_m=float(rng.choice((20, 300, 900, 1530))),
        units="metric",
        paper="a4",
        currency="USD",
        cooling_rule="FDA_A_C",
        room_temp_c=float(rng.randint(20, 26)),
        mains_water_c=float(rng.randint(8, 14)),
        unattended_simmer=overnight,
        hot_hold_max_h=float(rng.choice((3, 4))),
        tasks=TaskMinutes(
            load_min=float(rng.choice((15, 20))),
            skim_min=15.0,
            draw_base_min=10.0,
            draw_min_per_l=rng.choice((0.15, 0.2, 0.25)),
            finish_min=float(rng.choice((20, 30))),
            wash_min=float(rng.choice((20, 25))),
            soak_min=float(rng.choice((20, 30))),
        ),
    )


# --- equipment ---------------------------------------------------------------------------------------------------


def _pots(rng: random.Random, how: _Size, dishes: tuple[str, ...]) -> Iterator[Pot]:
    pans = rng.randint(*how.pans)
    kinds = dict(how.kinds)
    if pans > how.pans[0]:  # a further pan stands where a pot stood
        kinds["T80"] -= pans - how.pans[0]
    delicate = tuple(code for code in dishes if code in _DELICATE)
    if "W60" in kinds and not delicate:
        kinds["T80"] = kinds.get("T80", 0) + kinds.pop("W60")
    for kind, many in kinds.items():
        for n in range(1, many + 1):
            yield _pot(kind, n, delicate if kind == "W60" else ())
    for n in range(1, pans + 1):
        yield _pot("pan", n, (), pan=True)


def _pot(kind: str, n: int, formulas: tuple[str, ...], *, pan: bool = False) -> Pot:
    make = _POT_KINDS[kind]
    code = f"{kind}-{n}" if not formulas else f"{kind}-{n}w"
    return Pot(
        code=code,
        name=f"{make.name}, no. {n}",
        material="steel",
        inner_diameter_mm=make.diameter_mm,
        inner_height_mm=make.height_mm,
        mass_kg=make.mass_kg,
        heat_source=f"under-{code}",
        min_fill_share=make.least_fill,
        formulas=formulas,
        reduction_pan=pan,
    )


def _kind_of(pot: Pot) -> _PotKind:
    return _POT_KINDS[pot.code.split("-")[0]]


def _heat_source(pot: Pot) -> HeatSource:
    make = _kind_of(pot)
    return HeatSource(
        code=pot.heat_source,
        name=f"Under {pot.name}",
        supply=make.supply,
        appliance=make.appliance,
        input_kw=make.input_kw,
    )


def _heat_supplies(rng: random.Random, how: _Size) -> Iterator[HeatSupply]:
    """About half of what everything takes at full setting, never less than the largest two."""
    most = {"gas": 0.0, "feed": 30.0 * how.pans[1]}
    largest = {"gas": 0.0, "feed": 30.0 if how.pans[1] else 0.0}
    for kind, many in how.kinds:
        make = _POT_KINDS[kind]
        most[make.supply] += many * make.input_kw
        largest[make.supply] = max(largest[make.supply], make.input_kw)
    for code, name, kind in (("gas", "Gas line", "gas"), ("feed", "Electric feed", "electric")):
        share = rng.uniform(0.45, 0.7)
        yield HeatSupply(
            code=code, name=name, kind=kind, capacity_kw=float(round(max(2 * largest[code], share * most[code], 30.0)))
        )


def _containers() -> Iterator[Container]:
    for code, name, material, diameter_mm, height_mm, brim_l in _ROUND:
        yield Container(
            code=code,
            name=name,
            shape="round",
            material=material,
            length_mm=diameter_mm,
            width_mm=diameter_mm,
            height_mm=height_mm,
            brim_l=brim_l,
        )
    for code, name, material, length_mm, width_mm, height_mm, brim_l in _BOX:
        yield Container(
            code=code,
            name=name,
            shape="box",
            material=material,
            length_mm=length_mm,
            width_mm=width_mm,
            height_mm=height_mm,
            brim_l=brim_l,
        )


def _cooling_devices(rng: random.Random, how: _Size) -> Iterator[CoolingDevice]:
    for n in range(1, how.sinks + 1):
        yield CoolingDevice(
            code=f"sink-{n}",
            name=f"Ice sink {n}",
            kind="ice_sink",
            vessel="can-14",
            places=how.sink_places,
            vessel_fill_l=12.0,
            stirred=True,
        )
    for n in range(1, how.chillers + 1):
        yield CoolingDevice(
            code=f"chiller-{n}",
            name=f"Blast chiller {n}",
            kind="blast_chiller",
            vessel="pan-65",
            places=how.chiller_places,
            vessel_fill_l=6.0,
            stirred=False,
            rated_kg=6.0 * how.chiller_places,
            rated_from_c=70.0,
            rated_to_c=3.0,
            rated_min=90.0,
            power_kw=round(how.chiller_places * rng.uniform(1.0, 1.2), 1),
            air_temp_c=-4.0,
        )


def _ice_machine(rng: random.Random, how: _Size) -> IceMachine:
    """A bin for two rounds of the sinks, and as much again in two days to one and a half."""
    round_kg = 20.0 * how.sinks * how.sink_places
    return IceMachine(
        bin_kg=float(round(round_kg * rng.uniform(1.0, 1.5))),
        make_kg_per_day=float(round(round_kg * rng.uniform(1.2, 1.8))),
    )


def _stores(lines: Iterable[OrderLine], products: tuple[Product, ...]) -> Iterator[Store]:
    """Room for most of what the week sends out, of either kind."""
    by_code = {product.code: product for product in products}
    litres = {"chilled": 0.0, "frozen": 0.0}
    for line in lines:
        litres[by_code[line.product].storage] += line.containers * by_code[line.product].net_l
    yield Store(
        code="walk-in",
        name="Walk-in",
        kind="chilled",
        volume_l=float(round(3.0 * litres["chilled"] + 3000)),
        usable_share=0.45,
        air_temp_c=2.0,
        spare_kw=3.0,
    )
    yield Store(
        code="freezer",
        name="Freezer",
        kind="frozen",
        volume_l=float(round(6.0 * litres["frozen"] + 2500)),
        usable_share=0.45,
        air_temp_c=-20.0,
        spare_kw=2.0,
    )


def _shifts(rng: random.Random, how: _Size, people: tuple[Person, ...]) -> Iterator[Shift]:
    """An early and a late shift that overlap at noon, one person between them; fewer on Saturdays, none on Sundays.

    The shifts of the days after the week are known too, so that what is late can still be made.
    """
    many = how.people_a_shift
    early, late, between = people[:many], people[many : 2 * many], people[2 * many]
    opens, closes = rng.choice((("05:30", "21:30"), ("06:00", "22:00")))
    for day in range(_WEEKEND_BEFORE, 10):
        weekday = day % 7
        if weekday == 6:
            continue
        if weekday == 5:
            for person in early[: max(1, (2 * many + 2) // 3)]:
                yield Shift(person=person.code, start=_at(day, "06:00"), end=_at(day, "16:00"))
            continue
        for person in early:
            yield Shift(person=person.code, start=_at(day, opens), end=_at(day, "14:00"))
        for person in late:
            yield Shift(person=person.code, start=_at(day, "13:00"), end=_at(day, closes))
        yield Shift(person=between.code, start=_at(day, "09:00"), end=_at(day, "17:30"))


# --- catalogue ---------------------------------------------------------------------------------------------------


def _dishes(rng: random.Random, many: int, *, overnight: bool) -> list[_Dish]:
    """Poultry and two long ones; without a night of simmering nothing that takes longer than a day's shifts."""
    if overnight:
        chosen = {"poultry", *rng.sample(_LONG, 2 if many > 3 else 1)}
        rest = [dish.code for dish in _DISHES if dish.code not in chosen]
        chosen |= set(rng.sample(rest, many - len(chosen)))
    else:
        chosen = {dish.code for dish in _DISHES if dish.simmer_h[0] <= 4.0}
    return [dish for dish in _DISHES if dish.code in chosen]


def _held_h(dish: _Dish, *, overnight: bool) -> float:
    """Hours for which a run usually holds its pot: a little more than the shortest, since hands are not always free."""
    simmers_h = dish.simmer_h[0]
    if dish.second_h is not None and overnight:
        simmers_h += 0.5 * (dish.second_h[0] + 6.0)  # about every other run is drawn twice
    return 3.0 + 1.2 * simmers_h


def _formula(rng: random.Random, dish: _Dish, *, overnight: bool) -> Formula:
    shortest, longest = dish.simmer_h
    second = dish.second_h if overnight else None
    return Formula(
        code=dish.code,
        version=rng.randint(1, 5),
        name=dish.name,
        solids=tuple(Solid(role=role, ingredient=ingredient, share=share) for role, ingredient, share in dish.solids),
        water_kg_per_kg_solids=dish.water,
        additions=tuple(
            Addition(
                ingredient=ingredient, kind=kind, kg_per_kg_solids=share, minutes_before_end=minutes, cook_minutes=5
            )
            for ingredient, kind, share, minutes in dish.additions
            if minutes <= 60.0 * shortest
        ),
        simmer_below_boil_k=dish.below_boil_k,
        lid=dish.lid,
        simmer_min_h=shortest,
        simmer_max_h=longest,
        second_draw=None
        if second is None
        else SecondDraw(refill_share=0.9, simmer_min_h=second[0], simmer_max_h=second[1]),
        reduction_bx=dish.bx if second is not None else None,
    )


def _products(rng: random.Random, dish: _Dish, *, overnight: bool) -> Iterator[Product]:
    sizes = rng.sample((("pail-10", 10.0), ("tub-5", 5.0), ("tub-2", 2.0)), rng.randint(1, 2))
    if dish.code in ("fish", "crab"):
        sizes = [("tub-2", 2.0)]
    for container, net_l in sizes:
        yield Product(
            code=f"{dish.code}-{net_l:g}",
            name=f"{dish.name}, {net_l:g} L",
            formula=dish.code,
            kind="broth",
            container=container,
            net_l=net_l,
            storage="chilled",
            shelf_life_days=dish.shelf_days,
            life_at_dispatch_days=dish.life_days,
            value=Decimal(round(6 * net_l)),
        )
    if dish.second_h is None or not overnight:
        return
    if rng.random() < 0.7:
        yield Product(
            code=f"{dish.code}-glaze",
            name=f"{dish.name}, glaze 0.5 L",
            formula=dish.code,
            kind="reduction",
            container="jar-half",
            net_l=0.5,
            storage="chilled",
            shelf_life_days=14,
            life_at_dispatch_days=5,
            value=Decimal(30),
        )
    if rng.random() < 0.5:
        yield Product(
            code=f"{dish.code}-cubes",
            name=f"{dish.name}, bag of 20 cubes",
            formula=dish.code,
            kind="cubes",
            container="bag-cubes",
            net_l=0.55,
            storage="frozen",
            shelf_life_days=180,
            life_at_dispatch_days=60,
            value=Decimal(33),
            cube_tray="cube-30",
            cubes_per_container=20,
        )


def _ingredients() -> Iterator[Ingredient]:
    for code, name, material, roles, temp_c, trim, allergens, *_ in _INGREDIENTS:
        yield Ingredient(
            code=code,
            name=name,
            material=material,
            roles=roles,
            charge_temp_c=temp_c,
            trim_yield_share=trim,
            allergens=allergens,
        )


def _suppliers(rng: random.Random) -> Iterator[Supplier]:
    for code, name, days, clock in (
        ("meats", "Bend Meats", (1, 2, 3, 4, 5, 6), "05:15"),
        ("produce", "Larch Produce", (1, 2, 3, 4, 5, 6), "05:00"),
        ("harbour", "Harbour Counter", rng.choice(((2, 4, 6), (1, 2, 4, 5), (2, 3, 4, 5))), "06:00"),
    ):
        yield Supplier(
            code=code,
            name=name,
            contact=f"orders@{code}.example",
            order_by=time(16, 0),
            lead_days=1,
            delivers_on=days,
            delivers_at=time.fromisoformat(clock),
        )


def _offers() -> Iterator[Offer]:
    for code, *_, pack_kg, price, supplier in _INGREDIENTS:
        yield Offer(code=f"{code}-pack", supplier=supplier, ingredient=code, pack_kg=pack_kg, price=Decimal(price))


# --- stock and orders --------------------------------------------------------------------------------------------


def _order_lines(
    rng: random.Random,
    how: _Size,
    dishes: list[_Dish],
    products: tuple[Product, ...],
    pots: tuple[Pot, ...],
    outlets: tuple[Outlet, ...],
    *,
    overnight: bool,
) -> Iterator[OrderLine]:
    """Lines over the dishes by how often each is made; a line's litres vary around what its dish gives in the week."""
    weights = [dish.runs * rng.uniform(0.7, 1.3) for dish in dishes]
    usual_h = sum(
        weight * _held_h(dish, overnight=overnight) for dish, weight in zip(dishes, weights, strict=True)
    ) / sum(weights)
    stock_pots = sum(not pot.reduction_pan for pot in pots)
    runs = min(how.most_runs, _LOAD_SHARE * _STAFFED_H * stock_pots / usual_h)
    fillings = {dish.code: runs * weight / sum(weights) for dish, weight in zip(dishes, weights, strict=True)}
    fill_l = {dish.code: _usual_fill_l(dish, pots) for dish in dishes}
    of_line = _shared_out(how.lines, weights, dishes)
    n = 0
    for dish in dishes:
        many = of_line[dish.code]
        parts = [rng.uniform(0.4, 1.6) for _ in range(many)]
        for part in parts:
            n += 1
            litres = fillings[dish.code] * fill_l[dish.code] * part / sum(parts)
            yield _order_line(rng, n, dish, litres, products, outlets)


def _usual_fill_l(dish: _Dish, pots: tuple[Pot, ...]) -> float:
    taking = [
        _kind_of(pot).first_draw_l
        for pot in pots
        if not pot.reduction_pan and (not pot.formulas or dish.code in pot.formulas)
    ]
    return sum(taking) / len(taking)


def _shared_out(lines: int, weights: list[float], dishes: list[_Dish]) -> dict[str, int]:
    """Lines by dish, at least one each, together exactly as many as wanted."""
    counts = [max(1, int(lines * weight / sum(weights))) for weight in weights]
    while sum(counts) != lines:
        worst = max(
            range(len(counts)),
            key=lambda i: (lines * weights[i] / sum(weights) - counts[i]) * (1 if sum(counts) < lines else -1),
        )
        counts[worst] += 1 if sum(counts) < lines else -1
    return {dish.code: count for dish, count in zip(dishes, counts, strict=True)}


def _order_line(
    rng: random.Random, n: int, dish: _Dish, litres: float, products: tuple[Product, ...], outlets: tuple[Outlet, ...]
) -> OrderLine:
    mine = [product for product in products if product.formula == dish.code]
    product = rng.choice(mine)
    if product.kind == "broth":
        containers = max(1, round(litres / product.net_l))
    else:  # a second draw boils down to a thirtieth of the first or so
        containers = max(1, round(litres / 28.0 / product.net_l))
    earliest = 3 if product.formula in ("fish", "crab") else 0 if product.kind == "broth" else 2
    day = rng.choices(range(_DISPATCH_DAYS), (0.3, 1.2, 1.2, 1.2, 1.2, 0.8))[0]
    return OrderLine(
        code=f"L{n:03d}",
        outlet=rng.choice(outlets).code,
        product=product.code,
        containers=containers,
        dispatch_at=_at(max(day, earliest), rng.choice(("09:30", "14:30"))),
        weight=rng.choice((1.0, 1.0, 1.0, 2.0)),
    )


def _lots(rng: random.Random, lines: tuple[OrderLine, ...], products: tuple[Product, ...]) -> Iterator[StockLot]:
    """What Monday and part of Tuesday ask for of broths stands in the walk-in; a few bags of cubes in the freezer."""
    made_on = STARTS_ON - timedelta(days=3)
    for product in products:
        due = [line for line in lines if line.product == product.code]
        monday = sum(line.containers for line in due if line.dispatch_at < _at(1, "00:00"))
        tuesday = sum(line.containers for line in due if _at(1, "00:00") <= line.dispatch_at < _at(2, "00:00"))
        frozen = product.storage == "frozen"
        containers = rng.randint(0, 2) if frozen else monday + round(tuesday * rng.uniform(0.3, 0.7))
        if containers:
            yield StockLot(
                code=f"stock-{product.code}",
                product=product.code,
                containers=containers,
                made_on=made_on,
                use_by=made_on + timedelta(days=product.shelf_life_days - 1),
                store="freezer" if frozen else "walk-in",
            )
