"""What a week is planned from: kitchen, equipment, people, catalogue, stock and orders, as frozen dataclasses.

Every field carries its own description (unit, bounds, what it refers to) as metadata; the week file's JSON Schema, its
reader and its writer, and the rows of the database are all derived from or checked against this one place.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date, datetime, time
from decimal import Decimal
from typing import Any

UNITS = ("metric", "us")
PAPERS = ("a4", "letter")
SUPPLY_KINDS = ("gas", "electric", "steam")
APPLIANCES = (
    "gas_open_burner",
    "gas_stockpot_range",
    "gas_hot_top",
    "electric_element",
    "induction",
    "gas_steam_kettle",
    "electric_steam_kettle",
)
POT_MATERIALS = ("steel", "aluminium")
VESSEL_MATERIALS = ("steel", "plastic", "glass")
SHAPES = ("round", "box")
DEVICE_KINDS = ("ice_sink", "blast_chiller")
STORAGE_KINDS = ("chilled", "frozen")
PRODUCT_KINDS = ("broth", "reduction", "cubes")
SOLID_ROLES = ("bones", "frames", "collagen_rich_meat", "lean_meat", "scrap", "vegetables")
LIDS = ("open", "ajar", "on")
ADDITION_KINDS = ("mirepoix", "aromatics")
ALLERGENS = (
    "gluten cereals",
    "crustaceans",
    "eggs",
    "fish",
    "peanuts",
    "soybeans",
    "milk",
    "tree nuts",
    "celery",
    "mustard",
    "sesame",
    "sulphites",
    "lupin",
    "molluscs",
)


def _quantity(unit: str, *, low: float, high: float, doc: str, default: Any = None, optional: bool = False) -> Any:
    """Describe a physical quantity: unit it is stored in and the range within which it is not absurd."""
    meta = {"kind": "quantity", "unit": unit, "low": low, "high": high, "doc": doc}
    if optional:
        return field(default=None, metadata=meta)
    return field(metadata=meta) if default is None else field(default=default, metadata=meta)


def _count(*, low: int, high: int, doc: str, default: int | None = None, optional: bool = False) -> Any:
    """Describe a whole number."""
    meta = {"kind": "count", "low": low, "high": high, "doc": doc}
    if optional:
        return field(default=None, metadata=meta)
    return field(metadata=meta) if default is None else field(default=default, metadata=meta)


def _text(*, doc: str, default: str | None = None, longest: int = 120, choices: tuple[str, ...] = ()) -> Any:
    """Describe a text, free or one of the given words."""
    meta = {"kind": "choice" if choices else "text", "choices": choices, "longest": longest, "doc": doc}
    return field(metadata=meta) if default is None else field(default=default, metadata=meta)


def _code(*, doc: str) -> Any:
    """Describe the code by which other entries refer to this one (unique in its list)."""
    return field(metadata={"kind": "code", "doc": doc})


def _ref(to: str, *, doc: str, optional: bool = False) -> Any:
    """Describe a reference to another list's code; `to` is the attribute of Week that holds the list."""
    meta = {"kind": "ref", "to": to, "doc": doc}
    return field(default=None, metadata=meta) if optional else field(metadata=meta)


def _refs(to: str, *, doc: str) -> Any:
    """Describe a list of references."""
    return field(default=(), metadata={"kind": "refs", "to": to, "doc": doc})


def _words(*, choices: tuple[str, ...], doc: str) -> Any:
    """Describe a set of words out of the given ones."""
    return field(default=(), metadata={"kind": "words", "choices": choices, "doc": doc})


def _money(*, doc: str, low: str = "0", high: str = "100000", optional: bool = False) -> Any:
    """Describe an amount of money, decimal, in the kitchen's currency."""
    meta = {"kind": "money", "low": Decimal(low), "high": Decimal(high), "doc": doc}
    return field(default=None, metadata=meta) if optional else field(metadata=meta)


def _plain(kind: str, *, doc: str, default: Any = None) -> Any:
    """Describe a flag, date, clock time, instant, or list of weekdays."""
    meta = {"kind": kind, "doc": doc}
    return field(metadata=meta) if default is None else field(default=default, metadata=meta)


def _items(of: type, *, doc: str, at_least: int = 0) -> Any:
    """Describe a list of entries."""
    meta = {"kind": "items", "of": of, "doc": doc, "at_least": at_least}
    return field(default=(), metadata=meta) if at_least == 0 else field(metadata=meta)


def _item(of: type, *, doc: str, optional: bool = False) -> Any:
    """Describe one nested entry."""
    meta = {"kind": "item", "of": of, "doc": doc}
    return field(default=None, metadata=meta) if optional else field(metadata=meta)


# --- kitchen and equipment ---------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class TaskMinutes:
    """How long the kitchen's hands-on work takes."""

    load_min: float = _quantity("min", low=1, high=240, doc="weigh and load one charge", default=20.0)
    skim_min: float = _quantity("min", low=1, high=240, doc="skim after the boil is reached", default=20.0)
    draw_base_min: float = _quantity("min", low=1, high=240, doc="draw off and strain: fixed part", default=10.0)
    draw_min_per_l: float = _quantity("min", low=0, high=5, doc="draw off and strain: per litre drawn", default=0.2)
    refill_min: float = _quantity("min", low=1, high=240, doc="refill the bones for the second draw", default=10.0)
    finish_min: float = _quantity("min", low=1, high=240, doc="last part of a reduction that is watched", default=30.0)
    portion_base_min: float = _quantity("min", low=1, high=240, doc="portion a reduction: fixed part", default=10.0)
    portion_min_per_l: float = _quantity("min", low=0, high=30, doc="portion a reduction: per litre", default=2.0)
    wash_min: float = _quantity("min", low=1, high=240, doc="empty and wash the pot", default=25.0)
    soak_min: float = _quantity("min", low=0, high=480, doc="extra clean after an allergen formula", default=30.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Kitchen:
    """The kitchen itself: where it stands and the rules it has chosen."""

    code: str = _code(doc="the kitchen's code")
    name: str = _text(doc="name printed on documents")
    time_zone: str = _text(doc="IANA time zone, for instance America/Denver")
    altitude_m: float = _quantity("m", low=-100, high=4000, doc="height above sea level; sets the boiling point")
    units: str = _text(doc="units that people see and type", choices=UNITS)
    paper: str = _text(doc="paper size of documents", choices=PAPERS)
    currency: str = _text(doc="three-letter currency", longest=3)
    cooling_rule: str = _text(doc="code of the cooling rule the kitchen works under")
    room_temp_c: float = _quantity("degC", low=0, high=45, doc="air in the kitchen")
    mains_water_c: float = _quantity("degC", low=0, high=40, doc="cold water as it is poured in")
    unattended_simmer: bool = _plain("flag", doc="may a bare simmer run with nobody on site")
    hot_hold_max_h: float = _quantity("h", low=0, high=24, doc="longest hot hold of a second draw before it is reduced")
    tasks: TaskMinutes = _item(TaskMinutes, doc="minutes of hands-on work")


@dataclass(frozen=True, slots=True, kw_only=True)
class HeatSupply:
    """A gas line or electric feed shared by several heat sources."""

    code: str = _code(doc="the supply's code")
    name: str = _text(doc="name")
    kind: str = _text(doc="what it carries", choices=SUPPLY_KINDS)
    capacity_kw: float = _quantity("kW", low=1, high=2000, doc="greatest input power at one time")


@dataclass(frozen=True, slots=True, kw_only=True)
class HeatSource:
    """A burner, plate or kettle jacket under one pot."""

    code: str = _code(doc="the heat source's code")
    name: str = _text(doc="name")
    supply: str = _ref("heat_supplies", doc="supply that feeds it")
    appliance: str = _text(doc="kind of appliance; sets the efficiency", choices=APPLIANCES)
    input_kw: float = _quantity("kW", low=0.5, high=200, doc="input power at full setting")


@dataclass(frozen=True, slots=True, kw_only=True)
class Outage:
    """A stretch of time in which a pot cannot be used."""

    start: datetime = _plain("instant", doc="from")
    end: datetime = _plain("instant", doc="until")
    reason: str = _text(doc="why")


@dataclass(frozen=True, slots=True, kw_only=True)
class Pot:
    """A stock pot or kettle, a cylinder for all computations."""

    code: str = _code(doc="the pot's code")
    name: str = _text(doc="name painted on the pot")
    material: str = _text(doc="wall material", choices=POT_MATERIALS)
    inner_diameter_mm: float = _quantity("mm", low=100, high=2000, doc="inside diameter")
    inner_height_mm: float = _quantity("mm", low=100, high=2000, doc="inside height to the rim")
    mass_kg: float = _quantity("kg", low=0.5, high=800, doc="mass of the pot that is heated with the charge")
    heat_source: str = _ref("heat_sources", doc="heat source it stands on")
    min_fill_share: float = _quantity("share", low=0.05, high=0.9, doc="least fill, share of the brim", default=0.35)
    formulas: tuple[str, ...] = _refs("formulas", doc="formulas allowed in it; none named = all")
    reduction_pan: bool = _plain(
        "flag",
        doc="a wide pan that second draws of one or several runs are reduced in; no stock is made in it",
        default=False,
    )
    outages: tuple[Outage, ...] = _items(Outage, doc="when it cannot be used")


@dataclass(frozen=True, slots=True, kw_only=True)
class Container:
    """A bucket, tub, pan or cooling vessel; product containers and cooling vessels alike."""

    code: str = _code(doc="the container's code")
    name: str = _text(doc="name")
    shape: str = _text(doc="round (length = diameter) or box", choices=SHAPES)
    material: str = _text(doc="wall material", choices=VESSEL_MATERIALS)
    length_mm: float = _quantity("mm", low=10, high=2000, doc="outside length, or diameter when round")
    width_mm: float = _quantity("mm", low=10, high=2000, doc="outside width, or diameter when round")
    height_mm: float = _quantity("mm", low=10, high=2000, doc="outside height")
    brim_l: float = _quantity("L", low=0.01, high=500, doc="volume to the brim")


@dataclass(frozen=True, slots=True, kw_only=True)
class CoolingDevice:
    """An ice sink or a blast chiller, with the vessel it is loaded with."""

    code: str = _code(doc="the device's code")
    name: str = _text(doc="name")
    kind: str = _text(doc="how it cools", choices=DEVICE_KINDS)
    vessel: str = _ref("containers", doc="vessel the product stands in while it cools")
    places: int = _count(low=1, high=200, doc="vessels it takes at once")
    vessel_fill_l: float = _quantity("L", low=0.1, high=200, doc="litres poured into one vessel")
    stirred: bool = _plain("flag", doc="is the product stirred while it cools")
    rated_kg: float | None = _quantity("kg", low=1, high=500, doc="chiller: rated load", optional=True)
    rated_from_c: float | None = _quantity("degC", low=30, high=100, doc="chiller: rating from", optional=True)
    rated_to_c: float | None = _quantity("degC", low=-5, high=20, doc="chiller: rating to", optional=True)
    rated_min: float | None = _quantity("min", low=10, high=600, doc="chiller: minutes of the rating", optional=True)
    power_kw: float | None = _quantity("kW", low=0.2, high=100, doc="chiller: cooling power", optional=True)
    air_temp_c: float | None = _quantity("degC", low=-40, high=4, doc="chiller: air temperature", optional=True)


@dataclass(frozen=True, slots=True, kw_only=True)
class IceMachine:
    """The ice bin and what fills it."""

    bin_kg: float = _quantity("kg", low=1, high=5000, doc="what the bin holds")
    make_kg_per_day: float = _quantity("kg/d", low=0, high=20000, doc="rated production")
    start_share: float = _quantity("share", low=0, high=1, doc="how full the bin is when planning starts", default=1.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class IceDelivery:
    """Ice that is bought in and poured into the bin."""

    code: str = _code(doc="the delivery's code")
    at: datetime = _plain("instant", doc="when it is in the bin")
    mass_kg: float = _quantity("kg", low=1, high=5000, doc="how much; what the bin does not take is lost")


@dataclass(frozen=True, slots=True, kw_only=True)
class CubeTray:
    """A kind of cube tray and how many there are."""

    code: str = _code(doc="the tray's code")
    name: str = _text(doc="name")
    cells: int = _count(low=1, high=1000, doc="cells in one tray")
    cell_ml: float = _quantity("mL", low=1, high=1000, doc="volume of one cell to the brim")
    trays: int = _count(low=1, high=1000, doc="how many trays the kitchen has")


@dataclass(frozen=True, slots=True, kw_only=True)
class Store:
    """A fridge, walk-in or freezer as a volume."""

    code: str = _code(doc="the store's code")
    name: str = _text(doc="name")
    kind: str = _text(doc="chilled or frozen", choices=STORAGE_KINDS)
    volume_l: float = _quantity("L", low=10, high=200000, doc="inside volume")
    usable_share: float = _quantity("share", low=0.1, high=1, doc="share of it that shelves can use")
    air_temp_c: float = _quantity("degC", low=-40, high=8, doc="air temperature")
    spare_kw: float = _quantity("kW", low=0, high=200, doc="cooling power not needed for what is in it")


@dataclass(frozen=True, slots=True, kw_only=True)
class Person:
    """Somebody who works in the kitchen."""

    code: str = _code(doc="the person's code")
    name: str = _text(doc="name on sheets and logs")


@dataclass(frozen=True, slots=True, kw_only=True)
class Shift:
    """One person's working time."""

    person: str = _ref("people", doc="who")
    start: datetime = _plain("instant", doc="from")
    end: datetime = _plain("instant", doc="until")


# --- catalogue ---------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class Ingredient:
    """Something bought or saved; `material` names its coefficients in the parameter set."""

    code: str = _code(doc="the ingredient's code")
    name: str = _text(doc="name")
    material: str = _text(doc="material whose coefficients it has (parameter set)")
    roles: tuple[str, ...] = _words(choices=SOLID_ROLES, doc="roles it may fill among a formula's solids")
    charge_temp_c: float = _quantity("degC", low=-30, high=40, doc="temperature when it goes into the pot")
    trim_yield_share: float = _quantity("share", low=0.05, high=1, doc="edible portion of what is bought")
    allergens: tuple[str, ...] = _words(
        choices=ALLERGENS, doc="allergens it brings (the supplier's specification wins)"
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Solid:
    """One role among a formula's solids and what fills it."""

    role: str = _text(doc="role", choices=SOLID_ROLES)
    ingredient: str = _ref("ingredients", doc="what fills the role")
    share: float = _quantity("share", low=0.001, high=1, doc="share of the solids by mass; all shares add up to 1")


@dataclass(frozen=True, slots=True, kw_only=True)
class Addition:
    """Mirepoix or aromatics that go in late."""

    ingredient: str = _ref("ingredients", doc="what goes in")
    kind: str = _text(doc="mirepoix or aromatics", choices=ADDITION_KINDS)
    kg_per_kg_solids: float = _quantity("share", low=0.0001, high=2, doc="mass per mass of solids")
    minutes_before_end: int = _count(low=5, high=1440, doc="minutes before the end of the simmer")
    cook_minutes: int = _count(low=1, high=120, doc="hands-on minutes", default=10)


@dataclass(frozen=True, slots=True, kw_only=True)
class SecondDraw:
    """The second extraction from the same bones."""

    refill_share: float = _quantity("share", low=0.2, high=2, doc="refill water per mass drawn first", default=1.0)
    simmer_min_h: float = _quantity("h", low=0.25, high=48, doc="shortest simmer")
    simmer_max_h: float = _quantity("h", low=0.25, high=48, doc="longest simmer")


@dataclass(frozen=True, slots=True, kw_only=True)
class Formula:
    """A versioned formula: roles and shares of solids, water ratio, additions, simmer window."""

    code: str = _code(doc="the formula's code")
    version: int = _count(low=1, high=10000, doc="version; a change makes a new one")
    name: str = _text(doc="name")
    solids: tuple[Solid, ...] = _items(Solid, doc="roles and what fills them", at_least=1)
    water_kg_per_kg_solids: float = _quantity("share", low=0.5, high=10, doc="water by weight per weight of solids")
    additions: tuple[Addition, ...] = _items(Addition, doc="what goes in late")
    simmer_below_boil_k: float = _quantity("K", low=0, high=30, doc="how far below the boil the simmer is held")
    lid: str = _text(doc="lid during the simmer: open, ajar or on; sets the evaporation", choices=LIDS, default="open")
    simmer_min_h: float = _quantity("h", low=0.25, high=48, doc="shortest simmer after skimming")
    simmer_max_h: float = _quantity("h", low=0.25, high=48, doc="longest simmer after skimming")
    salt_share: float = _quantity("share", low=0, high=0.05, doc="salt in the broth by mass", default=0.0)
    second_draw: SecondDraw | None = _item(SecondDraw, doc="second extraction, when the bones give one", optional=True)
    reduction_bx: float | None = _quantity("Bx", low=5, high=60, doc="strength of its reduction", optional=True)


@dataclass(frozen=True, slots=True, kw_only=True)
class Product:
    """What outlets order, in one container."""

    code: str = _code(doc="the product's code")
    name: str = _text(doc="name")
    formula: str = _ref("formulas", doc="formula it comes from")
    kind: str = _text(doc="broth (first draw), reduction or cubes (second draw boiled down)", choices=PRODUCT_KINDS)
    container: str = _ref("containers", doc="container it is delivered in")
    net_l: float = _quantity("L", low=0.01, high=500, doc="litres in one container, cold")
    storage: str = _text(doc="how it is kept", choices=STORAGE_KINDS)
    shelf_life_days: int = _count(low=1, high=1000, doc="days it may be kept, the day of cooking being day 1")
    life_at_dispatch_days: int = _count(low=1, high=365, doc="days it must still have when it leaves", default=1)
    value: Decimal = _money(doc="what one container is worth, for storage-first planning")
    cube_tray: str | None = _ref("cube_trays", doc="cubes: tray they are frozen in", optional=True)
    cubes_per_container: int | None = _count(low=1, high=5000, doc="cubes: pieces in one container", optional=True)


@dataclass(frozen=True, slots=True, kw_only=True)
class Supplier:
    """Somebody the kitchen buys from."""

    code: str = _code(doc="the supplier's code")
    name: str = _text(doc="name")
    contact: str = _text(doc="telephone or mail")
    order_by: time = _plain("clock", doc="latest time of day for an order")
    lead_days: int = _count(low=0, high=60, doc="days between order and delivery")
    delivers_on: tuple[int, ...] = _plain("weekdays", doc="days of delivery, 1 = Monday … 7 = Sunday")
    delivers_at: time = _plain("clock", doc="time of day by which it has arrived")


@dataclass(frozen=True, slots=True, kw_only=True)
class Offer:
    """A pack of an ingredient at a price."""

    code: str = _code(doc="the offer's code")
    supplier: str = _ref("suppliers", doc="from whom")
    ingredient: str = _ref("ingredients", doc="what")
    pack_kg: float = _quantity("kg", low=0.01, high=1000, doc="mass of one pack as bought")
    price: Decimal = _money(doc="price of one pack")


# --- stock and orders --------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class StockLot:
    """Finished product in a store."""

    code: str = _code(doc="the lot's code")
    product: str = _ref("products", doc="what")
    containers: int = _count(low=1, high=100000, doc="how many containers")
    made_on: date = _plain("date", doc="day of cooking (day 1)")
    use_by: date = _plain("date", doc="last day of use")
    store: str = _ref("stores", doc="where it stands")


@dataclass(frozen=True, slots=True, kw_only=True)
class IngredientStock:
    """Ingredients on the shelf."""

    code: str = _code(doc="the entry's code")
    ingredient: str = _ref("ingredients", doc="what")
    mass_kg: float = _quantity("kg", low=0, high=20000, doc="how much, as bought")
    use_by: date = _plain("date", doc="last day of use")


@dataclass(frozen=True, slots=True, kw_only=True)
class SavedBones:
    """The bank of saved bones and trim, ready for the pot (no trim loss)."""

    code: str = _code(doc="the entry's code")
    ingredient: str = _ref("ingredients", doc="what")
    mass_kg: float = _quantity("kg", low=0, high=5000, doc="how much")
    saved_on: date = _plain("date", doc="day it was put by")
    use_by: date = _plain("date", doc="last day of use")


@dataclass(frozen=True, slots=True, kw_only=True)
class Outlet:
    """A restaurant, ward, canteen or shop that is supplied."""

    code: str = _code(doc="the outlet's code")
    name: str = _text(doc="name")
    kind: str = _text(doc="what kind of place", longest=40)
    contact: str = _text(doc="telephone or mail")
    same_business: bool = _plain("flag", doc="is it part of the kitchen's own business", default=True)


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderLine:
    """So many containers of a product for an outlet at a dispatch time."""

    code: str = _code(doc="the line's code")
    outlet: str = _ref("outlets", doc="for whom")
    product: str = _ref("products", doc="what")
    containers: int = _count(low=1, high=10000, doc="how many containers")
    dispatch_at: datetime = _plain("instant", doc="when it leaves the kitchen")
    weight: float = _quantity("share", low=0.1, high=100, doc="importance against other lines", default=1.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class ParLevel:
    """Stock that should still be there when the week ends."""

    product: str = _ref("products", doc="what")
    containers: int = _count(low=0, high=10000, doc="how many containers")


@dataclass(frozen=True, slots=True, kw_only=True)
class OwnParameter:
    """A coefficient of the kitchen's own that replaces a default."""

    code: str = _code(doc="code of the coefficient")
    value: float = _quantity("any", low=-1e9, high=1e9, doc="value in the coefficient's unit")
    confidence: str = _text(doc="A physics, B good start, C estimate", choices=("A", "B", "C"))
    n: int = _count(low=0, high=1000000, doc="how many observations")
    low: float = _quantity("any", low=-1e9, high=1e9, doc="low end of the 90 % interval")
    high: float = _quantity("any", low=-1e9, high=1e9, doc="high end of the 90 % interval")
    source: str = _text(doc="where it comes from", longest=300)


@dataclass(frozen=True, slots=True, kw_only=True)
class Week:
    """Everything one week is planned from."""

    starts_on: date = _plain("date", doc="first day of the week that is planned")
    days: int = _count(low=1, high=14, doc="days that are planned", default=7)
    plan_from: datetime = _plain("instant", doc="moment of planning; nothing starts before it")
    kitchen: Kitchen = _item(Kitchen, doc="the kitchen")
    heat_supplies: tuple[HeatSupply, ...] = _items(HeatSupply, doc="heat supplies")
    heat_sources: tuple[HeatSource, ...] = _items(HeatSource, doc="heat sources")
    pots: tuple[Pot, ...] = _items(Pot, doc="pots")
    containers: tuple[Container, ...] = _items(Container, doc="containers and vessels")
    cooling_devices: tuple[CoolingDevice, ...] = _items(CoolingDevice, doc="cooling devices")
    ice_machine: IceMachine | None = _item(IceMachine, doc="ice bin and machine", optional=True)
    ice_deliveries: tuple[IceDelivery, ...] = _items(IceDelivery, doc="ice bought in")
    cube_trays: tuple[CubeTray, ...] = _items(CubeTray, doc="cube trays")
    stores: tuple[Store, ...] = _items(Store, doc="fridges and freezers")
    people: tuple[Person, ...] = _items(Person, doc="people")
    shifts: tuple[Shift, ...] = _items(Shift, doc="shifts")
    ingredients: tuple[Ingredient, ...] = _items(Ingredient, doc="ingredients")
    formulas: tuple[Formula, ...] = _items(Formula, doc="formulas")
    products: tuple[Product, ...] = _items(Product, doc="products")
    suppliers: tuple[Supplier, ...] = _items(Supplier, doc="suppliers")
    offers: tuple[Offer, ...] = _items(Offer, doc="packs and prices")
    lots: tuple[StockLot, ...] = _items(StockLot, doc="finished stock")
    ingredient_stock: tuple[IngredientStock, ...] = _items(IngredientStock, doc="ingredients in stock")
    saved_bones: tuple[SavedBones, ...] = _items(SavedBones, doc="saved-bones bank")
    outlets: tuple[Outlet, ...] = _items(Outlet, doc="outlets")
    order_lines: tuple[OrderLine, ...] = _items(OrderLine, doc="order lines")
    par_levels: tuple[ParLevel, ...] = _items(ParLevel, doc="par levels")
    parameters: tuple[OwnParameter, ...] = _items(OwnParameter, doc="the kitchen's own coefficients")

    def get(self, kind: str, wanted: str) -> Any:
        """The entry with this code in the named list (both are known to exist once a week file is read)."""
        return next(entry for entry in getattr(self, kind) if entry.code == wanted)
