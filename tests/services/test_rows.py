"""What the database itself refuses, whoever writes."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import MISSING, Field, fields
from datetime import timedelta
from typing import Any

import pytest
from django.apps import apps
from django.core.exceptions import ValidationError
from django.db import DataError, IntegrityError, models, transaction

from production.domain import kitchen as domain
from production.models import (
    Formula,
    IceMachine,
    Ingredient,
    Kitchen,
    OrderLine,
    OwnParameter,
    PlanningWeek,
    Pot,
    Product,
    Shift,
    StockLot,
    Supplier,
)
from production.models.base import SameKitchen
from production.selectors.week_rows import KITCHEN_TABLES, PARAMETERS, WEEK_TABLES
from production.services.week_import import week_import
from tests.builders import a_kitchen, a_week
from tests.conftest import Cast

ENTRIES: list[tuple[type, type[models.Model], str]] = [
    *((table.entry, table.model, "") for table in (*KITCHEN_TABLES, PARAMETERS, *WEEK_TABLES)),
    *((part.entry, part.model, "") for table in KITCHEN_TABLES for part in table.parts if part.entry),
    (domain.Kitchen, Kitchen, ""),
    (domain.TaskMinutes, Kitchen, "tasks_"),
    (domain.SecondDraw, Formula, "second_draw_"),
    (domain.IceMachine, IceMachine, ""),
]
COLUMNS = [
    pytest.param(model, each, prefix, id=f"{model.__name__}.{prefix}{each.name}")
    for entry, model, prefix in ENTRIES
    for each in fields(entry)
    if each.metadata["kind"] not in {"item", "items", "refs"}
]


@pytest.mark.parametrize(("model", "described", "prefix"), COLUMNS)
def test_a_column_allows_what_the_domain_allows(model: type[models.Model], described: Field[Any], prefix: str) -> None:
    column = model._meta.get_field(f"{prefix}{described.name}")
    assert isinstance(column, models.Field)
    meta = described.metadata
    optional = described.default is None or prefix == "second_draw_"
    assert column.null == optional
    if meta["kind"] == "text":
        assert column.max_length == meta["longest"]
    if meta["kind"] == "choice":
        assert [word for word, _ in column.choices or []] == list(meta["choices"])
    if meta["kind"] == "ref":
        assert isinstance(column, models.ForeignKey)
    if meta["kind"] in {"quantity", "count", "money", "choice"}:
        assert f"{prefix}{described.name}_allowed" in " ".join(each.name for each in model._meta.constraints)
    assert column.default in (models.NOT_PROVIDED, MISSING, list), "defaults belong to the domain"


def test_every_row_belongs_to_a_kitchen(cast: Cast, planning_week: PlanningWeek) -> None:
    ours = [each for each in apps.get_app_config("production").get_models() if each.__name__ != "Job"]
    assert len(ours) > 25
    assert all(issubclass(each, SameKitchen) for each in ours)
    found = [row for each in ours for row in each._default_manager.all()]
    assert {row.owner_id() for row in found if isinstance(row, SameKitchen)} == {
        cast.kitchen.pk,
        cast.outsider.kitchen_id,
    }


Change = Callable[[PlanningWeek], object]
REFUSED: dict[str, Change] = {
    "a pot of negative height": lambda week: Pot.objects.filter(kitchen=week.kitchen).update(inner_height_mm=-1.0),
    "a pot of unknown material": lambda week: Pot.objects.filter(kitchen=week.kitchen).update(material="wood"),
    "two pots with one code": lambda week: Pot.objects.filter(kitchen=week.kitchen).update(code="same"),
    "an order of nothing": lambda week: OrderLine.objects.filter(week=week).update(containers=0),
    "an order without a weight": lambda week: OrderLine.objects.filter(week=week).update(weight=None),
    "an order of infinite weight": lambda week: OrderLine.objects.filter(week=week).update(weight=float("inf")),
    "a price below nothing": lambda week: Product.objects.filter(kitchen=week.kitchen).update(value="-0.01"),
    "a lot that is old before it is made": lambda week: StockLot.objects.filter(week=week).update(
        use_by=week.starts_on - timedelta(days=400)
    ),
    "a shift that ends before it starts": lambda week: Shift.objects.filter(week=week).update(
        end=week.plan_from - timedelta(days=30)
    ),
    "half a second draw": lambda week: Formula.objects.filter(kitchen=week.kitchen, code="poultry").update(
        second_draw_simmer_max_h=None
    ),
    "a simmer window the wrong way round": lambda week: Formula.objects.filter(kitchen=week.kitchen).update(
        simmer_min_h=24.0, simmer_max_h=1.0
    ),
    "two versions of a formula in use": lambda week: Formula.objects.create(
        **{
            each.attname: getattr(Formula.objects.get(kitchen=week.kitchen, code="fish"), each.attname)
            for each in Formula._meta.concrete_fields
            if each.attname not in {"id", "version"}
        },
        version=99,
    ),
    "a coefficient outside its own interval": lambda week: OwnParameter.objects.filter(kitchen=week.kitchen).update(
        value=5.0
    ),
    "the same week twice": lambda week: PlanningWeek.objects.create(
        kitchen=week.kitchen, starts_on=week.starts_on, days=7, plan_from=week.plan_from
    ),
    "a week of a month": lambda week: PlanningWeek.objects.filter(pk=week.pk).update(days=31),
}


@pytest.mark.postgres
@pytest.mark.parametrize("what", REFUSED)
def test_the_database_refuses(planning_week: PlanningWeek, what: str) -> None:
    with pytest.raises((IntegrityError, DataError)), transaction.atomic():
        REFUSED[what](planning_week)


@pytest.mark.parametrize(
    ("model", "column", "value"),
    [
        (Ingredient, "roles", ["bones", "stones"]),
        (Ingredient, "roles", "bones"),
        (Ingredient, "allergens", ["fish", "fish"]),
        (Supplier, "delivers_on", [0]),
        (Supplier, "delivers_on", [8]),
    ],
)
def test_a_list_of_words_holds_known_words_once(
    planning_week: PlanningWeek, model: type[models.Model], column: str, value: object
) -> None:
    row = model._default_manager.filter(kitchen=planning_week.kitchen).first()
    assert row is not None
    row.full_clean()
    setattr(row, column, value)
    with pytest.raises(ValidationError) as refused:
        row.full_clean()
    assert set(refused.value.message_dict) == {column}


def test_a_row_cannot_refer_to_another_kitchens_row(cast: Cast, planning_week: PlanningWeek) -> None:
    elsewhere = week_import(week=a_week(kitchen=a_kitchen(code="elsewhere")), by=cast.outsider)
    product = Product.objects.get(kitchen=planning_week.kitchen, code="poultry-5")
    product.full_clean()
    product.formula = Formula.objects.get(kitchen=elsewhere.kitchen, code="poultry")
    with pytest.raises(ValidationError, match="another kitchen"):
        product.full_clean()
    line = OrderLine.objects.get(week=planning_week, code="L1")
    line.product = Product.objects.get(kitchen=elsewhere.kitchen, code="poultry-5")
    with pytest.raises(ValidationError, match="another kitchen"):
        line.full_clean()


def test_every_row_of_an_imported_week_passes_its_own_checks(planning_week: PlanningWeek) -> None:
    for each in apps.get_app_config("production").get_models():
        for row in each._default_manager.all():
            row.full_clean()
