"""A small valid week for tests: two pots, poultry with a second draw, fish, one ice sink, one blast chiller."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, time
from decimal import Decimal
from typing import Any
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
    OwnParameter,
    ParLevel,
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


def at(text: str) -> datetime:
    """The moment at which the small kitchen's clock shows this, for instance at("2027-02-02 09:00")."""
    return datetime.fromisoformat(text).replace(tzinfo=ZONE).astimezone(UTC)


def a_kitchen(**changes: Any) -> Kitchen:
    """The small kitchen, with some fields changed."""
    kitchen = Kitchen(
        code="small",
        name="Small test kitchen",
        time_zone="America/Denver",
        altitude_m=300.0,
        units="metric",
        paper="a4",
        currency="USD",
        cooling_rule="FDA_A_C",
        room_temp_c=22.0,
        mains_water_c=10.0,
        unattended_simmer=True,
        hot_hold_max_h=3.0,
        tasks=TaskMinutes(),
    )
    return replace(kitchen, **changes)


def a_pot(**changes: Any) -> Pot:
    """The 100 L pot of the small kitchen, with some fields changed."""
    pot = Pot(
        code="tall",
        name="Tall 100",
        material="steel",
        inner_diameter_mm=500.0,
        inner_height_mm=510.0,
        mass_kg=15.0,
        heat_source="range",
    )
    return replace(pot, **changes)


def poultry(**changes: Any) -> Formula:
    """The poultry formula of the small kitchen, with some fields changed."""
    formula = Formula(
        code="poultry",
        version=1,
        name="Poultry broth",
        solids=(
            Solid(role="frames", ingredient="frames", share=0.8),
            Solid(role="collagen_rich_meat", ingredient="feet", share=0.2),
        ),
        water_kg_per_kg_solids=2.0,
        additions=(
            Addition(ingredient="onion", kind="mirepoix", kg_per_kg_solids=0.1, minutes_before_end=60),
            Addition(ingredient="bay", kind="aromatics", kg_per_kg_solids=0.002, minutes_before_end=30, cook_minutes=5),
        ),
        simmer_below_boil_k=4.0,
        simmer_min_h=3.0,
        simmer_max_h=6.0,
        second_draw=SecondDraw(simmer_min_h=2.0, simmer_max_h=4.0),
        reduction_bx=20.0,
    )
    return replace(formula, **changes)


def fish(**changes: Any) -> Formula:
    """The fish formula of the small kitchen, with some fields changed."""
    formula = Formula(
        code="fish",
        version=1,
        name="Fish stock",
        solids=(Solid(role="frames", ingredient="fish-frames", share=1.0),),
        water_kg_per_kg_solids=1.6,
        additions=(Addition(ingredient="onion", kind="mirepoix", kg_per_kg_solids=0.1, minutes_before_end=30),),
        simmer_below_boil_k=6.0,
        simmer_min_h=0.5,
        simmer_max_h=0.75,
    )
    return replace(formula, **changes)


def a_product(**changes: Any) -> Product:
    """Poultry broth in 5 L tubs, with some fields changed."""
    product = Product(
        code="poultry-5",
        name="Poultry broth 5 L",
        formula="poultry",
        kind="broth",
        container="tub-5",
        net_l=5.0,
        storage="chilled",
        shelf_life_days=6,
        life_at_dispatch_days=2,
        value=Decimal("32.00"),
    )
    return replace(product, **changes)


def a_line(**changes: Any) -> OrderLine:
    """An order for six tubs of poultry broth on Wednesday, with some fields changed."""
    line = OrderLine(code="L1", outlet="bistro", product="poultry-5", containers=6, dispatch_at=at("2027-02-03 09:00"))
    return replace(line, **changes)


def small_kitchen(**changes: Any) -> Week:
    """The small kitchen with its catalogue and its staff, without stock and without orders."""
    week = Week(
        starts_on=date(2027, 2, 1),
        days=7,
        plan_from=at("2027-01-30 10:00"),
        kitchen=a_kitchen(),
        heat_supplies=(
            HeatSupply(code="gas", name="Gas line", kind="gas", capacity_kw=40.0),
            HeatSupply(code="mains", name="Electric feed", kind="electric", capacity_kw=20.0),
        ),
        heat_sources=(
            HeatSource(
                code="range", name="Stock-pot range", supply="gas", appliance="gas_stockpot_range", input_kw=26.0
            ),
            HeatSource(code="plate", name="Induction plate", supply="mains", appliance="induction", input_kw=8.0),
        ),
        pots=(
            a_pot(),
            a_pot(
                code="wide",
                name="Wide 45",
                inner_diameter_mm=450.0,
                inner_height_mm=285.0,
                mass_kg=9.0,
                heat_source="plate",
            ),
        ),
        containers=(
            _tub("tub-2", "Tub 2 L", 170.0, 135.0, 2.3),
            _tub("tub-5", "Tub 5 L", 225.0, 190.0, 5.6),
            _tub("jar", "Jar 0.5 L", 100.0, 95.0, 0.58),
            Container(
                code="bag",
                name="Cube bag",
                shape="box",
                material="plastic",
                length_mm=240.0,
                width_mm=160.0,
                height_mm=60.0,
                brim_l=1.0,
            ),
            Container(
                code="cooling-can",
                name="Cooling can 15 L",
                shape="round",
                material="steel",
                length_mm=244.0,
                width_mm=244.0,
                height_mm=345.0,
                brim_l=15.4,
            ),
            Container(
                code="pan",
                name="Shallow pan",
                shape="box",
                material="steel",
                length_mm=530.0,
                width_mm=325.0,
                height_mm=65.0,
                brim_l=9.0,
            ),
        ),
        cooling_devices=(
            CoolingDevice(
                code="sink",
                name="Ice sink",
                kind="ice_sink",
                vessel="cooling-can",
                places=4,
                vessel_fill_l=12.0,
                stirred=True,
            ),
            CoolingDevice(
                code="chiller",
                name="Blast chiller",
                kind="blast_chiller",
                vessel="pan",
                places=6,
                vessel_fill_l=6.0,
                stirred=False,
                rated_kg=40.0,
                rated_from_c=70.0,
                rated_to_c=3.0,
                rated_min=90.0,
                power_kw=8.0,
                air_temp_c=-4.0,
            ),
        ),
        ice_machine=IceMachine(bin_kg=150.0, make_kg_per_day=200.0),
        cube_trays=(CubeTray(code="cube-30", name="Tray of 20", cells=20, cell_ml=30.0, trays=10),),
        stores=(
            Store(
                code="walk-in",
                name="Walk-in",
                kind="chilled",
                volume_l=6000.0,
                usable_share=0.5,
                air_temp_c=2.0,
                spare_kw=2.0,
            ),
            Store(
                code="freezer",
                name="Freezer",
                kind="frozen",
                volume_l=1500.0,
                usable_share=0.5,
                air_temp_c=-20.0,
                spare_kw=1.0,
            ),
        ),
        people=(Person(code="ana", name="Ana"), Person(code="ben", name="Ben")),
        shifts=tuple(
            Shift(person=person, start=at(f"2027-02-{day:02d} {begin}"), end=at(f"2027-02-{day:02d} {end}"))
            for day in range(1, 6)
            for person, begin, end in (("ana", "06:00", "14:30"), ("ben", "13:00", "21:30"))
        ),
        ingredients=(
            _ingredient("frames", "Chicken frames", "poultry_frames", ("frames", "bones")),
            _ingredient("feet", "Chicken feet", "poultry_feet", ("collagen_rich_meat",)),
            _ingredient("fish-frames", "White fish frames", "fish_frames", ("frames",), allergens=("fish",)),
            _ingredient("onion", "Onion", "vegetable_bulb", ("vegetables",), trim_yield_share=0.9),
            _ingredient("bay", "Bay leaf", "herb_spice", (), charge_temp_c=20.0),
        ),
        formulas=(poultry(), fish()),
        products=(
            a_product(),
            a_product(
                code="poultry-glaze",
                name="Poultry glaze 0.5 L",
                kind="reduction",
                container="jar",
                net_l=0.5,
                shelf_life_days=14,
                value=Decimal("28.00"),
            ),
            a_product(
                code="poultry-cubes",
                name="Poultry cubes",
                kind="cubes",
                container="bag",
                net_l=0.55,
                storage="frozen",
                shelf_life_days=180,
                life_at_dispatch_days=30,
                value=Decimal("30.00"),
                cube_tray="cube-30",
                cubes_per_container=20,
            ),
            a_product(
                code="fish-2",
                name="Fish stock 2 L",
                formula="fish",
                container="tub-2",
                net_l=2.0,
                shelf_life_days=4,
                value=Decimal("19.00"),
            ),
        ),
        suppliers=(
            Supplier(
                code="market",
                name="Market hall",
                contact="market@supplier.example",
                order_by=time(16, 0),
                lead_days=1,
                delivers_on=(1, 2, 3, 4, 5),
                delivers_at=time(5, 30),
            ),
        ),
        offers=tuple(
            Offer(code=f"{code}-pack", supplier="market", ingredient=code, pack_kg=pack_kg, price=Decimal(price))
            for code, pack_kg, price in (
                ("frames", 10.0, "14.00"),
                ("feet", 5.0, "11.50"),
                ("fish-frames", 5.0, "17.50"),
                ("onion", 10.0, "12.00"),
                ("bay", 0.25, "6.40"),
            )
        ),
        outlets=(
            Outlet(code="bistro", name="Corner bistro", kind="bistro", contact="bistro@outlet.example"),
            Outlet(
                code="school", name="Hill school", kind="school canteen", contact="+1 555 0100", same_business=False
            ),
        ),
    )
    return replace(week, **changes)


def a_week(**changes: Any) -> Week:
    """The small kitchen with stock, saved bones, orders, par levels and a coefficient of its own."""
    week = replace(
        small_kitchen(),
        lots=(
            StockLot(
                code="lot-1",
                product="poultry-5",
                containers=2,
                made_on=date(2027, 1, 29),
                use_by=date(2027, 2, 3),
                store="walk-in",
            ),
        ),
        ingredient_stock=(IngredientStock(code="bay-jar", ingredient="bay", mass_kg=0.3, use_by=date(2027, 12, 31)),),
        saved_bones=(
            SavedBones(
                code="bank-1",
                ingredient="frames",
                mass_kg=6.0,
                saved_on=date(2027, 1, 20),
                use_by=date(2027, 3, 20),
            ),
        ),
        order_lines=(
            a_line(),
            a_line(code="L2", outlet="school", containers=2, dispatch_at=at("2027-02-02 09:00")),
            a_line(code="L3", product="poultry-glaze", containers=2, dispatch_at=at("2027-02-05 14:00")),
            a_line(code="L4", product="fish-2", containers=8, dispatch_at=at("2027-02-05 09:00"), weight=2.0),
        ),
        par_levels=(ParLevel(product="poultry-cubes", containers=1),),
        parameters=(
            OwnParameter(
                code="evaporation.simmer_flux_scale",
                value=0.9,
                confidence="B",
                n=6,
                low=0.8,
                high=1.0,
                source="six weighed runs",
            ),
        ),
    )
    return replace(week, **changes)


def _tub(code: str, name: str, diameter_mm: float, height_mm: float, brim_l: float) -> Container:
    return Container(
        code=code,
        name=name,
        shape="round",
        material="plastic",
        length_mm=diameter_mm,
        width_mm=diameter_mm,
        height_mm=height_mm,
        brim_l=brim_l,
    )


def _ingredient(
    code: str,
    name: str,
    material: str,
    roles: tuple[str, ...],
    *,
    trim_yield_share: float = 1.0,
    charge_temp_c: float = 4.0,
    allergens: tuple[str, ...] = (),
) -> Ingredient:
    return Ingredient(
        code=code,
        name=name,
        material=material,
        roles=roles,
        charge_temp_c=charge_temp_c,
        trim_yield_share=trim_yield_share,
        allergens=allergens,
    )
