"""How the week file's entries lie in the database: one table, read in both directions.

A field of an entry is a column of the same name. A reference is a foreign key, a nested entry is a group of columns
with the field's name in front, a list of parts is a table of its own. Which is which stands in the field's own
description (production.domain.kitchen).
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import Field, dataclass, fields
from types import MappingProxyType
from typing import Any

from django.db import models
from django.db.models import QuerySet

from production.domain import kitchen as domain
from production.models import (
    Addition,
    Container,
    CoolingDevice,
    CubeTray,
    Formula,
    HeatSource,
    HeatSupply,
    IceDelivery,
    Ingredient,
    IngredientStock,
    Offer,
    OrderLine,
    Outage,
    Outlet,
    OwnParameter,
    ParLevel,
    Person,
    Pot,
    PotFormula,
    Product,
    SavedBones,
    Shift,
    Solid,
    StockLot,
    Store,
    Supplier,
)

Values = dict[str, Any]


@dataclass(frozen=True, slots=True)
class Parts:
    """A list inside an entry: the field, its rows, the column that names the owner, and what one part is.

    `entry` is None where a part is nothing but a reference.
    """

    field: str
    model: type[models.Model]
    owner: str
    entry: type | None
    reference: str = ""

    def rows(self) -> QuerySet[Any]:
        return self.model._default_manager.order_by("position", "pk")  # noqa: SLF001


@dataclass(frozen=True, slots=True)
class Table:
    """A list of the week: its name there, what one entry is, its rows, and the columns that tell rows apart."""

    name: str
    entry: type
    model: type[models.Model]
    key: tuple[str, ...] = ("code",)
    parts: tuple[Parts, ...] = ()

    def rows(self) -> QuerySet[Any]:
        return self.model._default_manager.order_by("position", "pk")  # noqa: SLF001

    def columns(self) -> list[str]:
        return [each.attname for each in self.model._meta.concrete_fields if not each.primary_key]  # noqa: SLF001


# Each list stands after those it refers to.
KITCHEN_TABLES: tuple[Table, ...] = (
    Table("heat_supplies", domain.HeatSupply, HeatSupply),
    Table("heat_sources", domain.HeatSource, HeatSource),
    Table("containers", domain.Container, Container),
    Table("cooling_devices", domain.CoolingDevice, CoolingDevice),
    Table("cube_trays", domain.CubeTray, CubeTray),
    Table("stores", domain.Store, Store),
    Table("people", domain.Person, Person),
    Table("ingredients", domain.Ingredient, Ingredient),
    Table(
        "formulas",
        domain.Formula,
        Formula,
        key=("code", "version"),
        parts=(
            Parts("solids", Solid, "formula_id", domain.Solid),
            Parts("additions", Addition, "formula_id", domain.Addition),
        ),
    ),
    Table(
        "pots",
        domain.Pot,
        Pot,
        parts=(
            Parts("formulas", PotFormula, "pot_id", None, reference="formula_id"),
            Parts("outages", Outage, "pot_id", domain.Outage),
        ),
    ),
    Table("products", domain.Product, Product),
    Table("suppliers", domain.Supplier, Supplier),
    Table("offers", domain.Offer, Offer),
    Table("outlets", domain.Outlet, Outlet),
)
PARAMETERS = Table("parameters", domain.OwnParameter, OwnParameter)
WEEK_TABLES: tuple[Table, ...] = (
    Table("shifts", domain.Shift, Shift, key=("person_id", "start")),
    Table("ice_deliveries", domain.IceDelivery, IceDelivery),
    Table("lots", domain.StockLot, StockLot),
    Table("ingredient_stock", domain.IngredientStock, IngredientStock),
    Table("saved_bones", domain.SavedBones, SavedBones),
    Table("order_lines", domain.OrderLine, OrderLine),
    Table("par_levels", domain.ParLevel, ParLevel, key=("product_id",)),
)

Codes = Mapping[str, Mapping[int, str]]  # list -> row id -> code
Ids = Mapping[str, Mapping[str, int]]  # list -> code -> row id
NO_IDS: Ids = MappingProxyType({})
NO_CODES: Codes = MappingProxyType({})


def columns_of(entry: Any, *, ids: Ids = NO_IDS, prefix: str = "") -> Values:
    """The columns of an entry; `ids` holds the rows it may refer to. Lists of parts are left to `parts_of`."""
    values: Values = {}
    for described in fields(entry):
        value = getattr(entry, described.name)
        column = f"{prefix}{described.name}"
        match described.metadata["kind"]:
            case "items" | "refs":
                continue
            case "item":
                values |= _nested_columns(described, value, prefix=f"{column}_")
            case "ref":
                values[f"{column}_id"] = None if value is None else ids[described.metadata["to"]][value]
            case _:
                values[column] = list(value) if isinstance(value, tuple) else value
    return values


def entry_of(
    entry: type, row: models.Model, *, codes: Codes = NO_CODES, parts: Mapping[str, tuple[Any, ...]] | None = None
) -> Any:
    """The entry that a row stands for; `parts` holds its lists, by field."""
    return _read(entry, row, codes=codes, parts=parts or {}, prefix="")


def parts_of(part: Parts, entry: Any, *, ids: Ids) -> list[Values]:
    """The columns of an entry's parts, in order, without the owner."""
    described = next(each for each in fields(entry) if each.name == part.field)
    if part.entry is None:
        known = ids[described.metadata["to"]]
        return [{part.reference: known[code]} for code in getattr(entry, part.field)]
    return [columns_of(each, ids=ids) for each in getattr(entry, part.field)]


def part_entries(part: Parts, rows: Iterable[models.Model], *, codes: Codes) -> Iterator[tuple[int, Any]]:
    """Owner's id and part, for all rows of the table of parts."""
    for row in rows:
        owner: int = getattr(row, part.owner)
        if part.entry is None:
            yield owner, codes["formulas"][getattr(row, part.reference)]
        else:
            yield owner, entry_of(part.entry, row, codes=codes)


def references_of(entry: type) -> Iterator[tuple[str, str]]:
    """Column and list of each reference an entry holds."""
    for described in fields(entry):
        if described.metadata["kind"] == "ref":
            yield f"{described.name}_id", described.metadata["to"]


def _nested_columns(described: Field[Any], value: Any, *, prefix: str) -> Values:
    if value is not None:
        return columns_of(value, prefix=prefix)
    return {f"{prefix}{each.name}": None for each in fields(described.metadata["of"])}


def _read(entry: type, row: models.Model, *, codes: Codes, parts: Mapping[str, tuple[Any, ...]], prefix: str) -> Any:
    values: Values = {}
    for described in fields(entry):
        column = f"{prefix}{described.name}"
        match described.metadata["kind"]:
            case "items" | "refs":
                values[described.name] = parts.get(described.name, ())
            case "item":
                values[described.name] = _read_nested(described, row, prefix=f"{column}_")
            case "ref":
                target = getattr(row, f"{column}_id")
                values[described.name] = None if target is None else codes[described.metadata["to"]][target]
            case _:
                value = getattr(row, column)
                values[described.name] = tuple(value) if isinstance(value, list) else value
    return entry(**values)


def _read_nested(described: Field[Any], row: models.Model, *, prefix: str) -> Any:
    nested: type = described.metadata["of"]
    if all(getattr(row, f"{prefix}{each.name}") is None for each in fields(nested)):
        return None
    return _read(nested, row, codes=NO_CODES, parts={}, prefix=prefix)
