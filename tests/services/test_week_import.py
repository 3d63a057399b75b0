"""A week file goes into the database and comes out the same."""

from __future__ import annotations

from dataclasses import fields, replace
from datetime import date, timedelta
from decimal import Decimal

import pytest
from django.db import IntegrityError, connection
from django.test.utils import CaptureQueriesContext

from production.domain.errors import BadWeekFile, Conflict, NotAllowed
from production.domain.kitchen import IceDelivery, Outage, Week
from production.domain.kitchen import OrderLine as OrderLineEntry
from production.models import Formula, Ingredient, OrderLine, Outlet, PlanningWeek, Product
from production.selectors.snapshots import week_export, week_snapshot
from production.services.week_import import week_import
from tests.builders import a_kitchen, a_line, a_product, a_week, at, fish, poultry
from tests.conftest import Cast

pytestmark = pytest.mark.django_db


def round_trip(week: Week, cast: Cast) -> Week:
    return week_export(by=cast.manager, week=week_import(week=week, by=cast.manager))


def full_week() -> Week:
    """A week in which every kind of entry and every optional field occurs."""
    week = a_week()
    first, second, *others = week.pots
    outages = (
        Outage(start=at("2027-02-02 06:00"), end=at("2027-02-02 09:30"), reason="valve is changed"),
        Outage(start=at("2027-02-04 06:00"), end=at("2027-02-04 07:00"), reason="descaled"),
    )
    pots = (replace(first, formulas=("fish", "poultry"), outages=outages), replace(second, reduction_pan=True), *others)
    ice = IceDelivery(code="I1", at=at("2027-02-03 05:30"), mass_kg=80.0)
    return replace(week, pots=pots, ice_deliveries=(ice,))


def test_a_week_with_every_kind_of_entry_comes_out_as_it_went_in(cast: Cast) -> None:
    week = full_week()
    back = round_trip(week, cast)
    for each in fields(Week):
        assert getattr(back, each.name) == getattr(week, each.name), each.name
    empty = [each.name for each in fields(Week) if getattr(week, each.name) in ((), None)]
    assert empty == [], "the week of this test must hold something of everything"


def test_importing_twice_changes_nothing(cast: Cast) -> None:
    week = full_week()
    round_trip(week, cast)
    lines = list(OrderLine.objects.values())
    assert round_trip(week, cast) == week
    assert list(OrderLine.objects.values()) == lines


def test_a_week_without_an_ice_machine_or_own_coefficients_takes_them_away(cast: Cast) -> None:
    round_trip(a_week(), cast)
    bare = a_week(ice_machine=None, parameters=())
    assert week_export(by=cast.manager, week=week_import(week=bare, by=cast.administrator)) == bare


def test_a_managers_file_does_not_change_what_decides_over_safety(cast: Cast) -> None:
    week = a_week()
    row = week_import(week=week, by=cast.manager)
    own, *others = week.parameters
    changed = replace(
        week,
        kitchen=replace(week.kitchen, altitude_m=0.0, tasks=replace(week.kitchen.tasks, wash_min=1.0)),
        parameters=(replace(own, source="a better day"), *others[1:]),
        order_lines=(),
    )
    with pytest.raises(BadWeekFile) as refused:
        week_import(week=changed, by=cast.manager)
    told = {each.pointer: each for each in refused.value.problems}
    gone = {f"/parameters/{each.code}" for each in others[:1]}
    assert set(told) == {"/kitchen/altitude_m", "/kitchen/tasks/wash_min", f"/parameters/{own.code}"} | gone
    altitude = told["/kitchen/altitude_m"]
    assert (altitude.found, altitude.allowed) == ("0.0", str(week.kitchen.altitude_m))
    assert "only an administrator changes it" in altitude.sentence
    assert "a better day" in told[f"/parameters/{own.code}"].found
    assert week_export(by=cast.manager, week=row) == week
    week_import(week=changed, by=cast.administrator)
    assert week_export(by=cast.manager, week=row) == changed


def test_a_kitchens_first_file_brings_its_settings(cast: Cast) -> None:
    week = a_week(kitchen=a_kitchen(altitude_m=12.0))
    assert week_export(by=cast.manager, week=week_import(week=week, by=cast.manager)) == week


def test_orders_and_stock_of_the_week_are_replaced(cast: Cast) -> None:
    row = week_import(week=a_week(), by=cast.manager)
    changed = a_week(order_lines=(a_line(containers=9), a_line(code="L9", containers=1)), lots=())
    assert round_trip(changed, cast) == changed
    assert set(OrderLine.objects.filter(week=row).values_list("code", "revision")) == {("L1", 2), ("L9", 1)}


def test_another_week_keeps_what_it_refers_to_when_the_catalogue_shrinks(cast: Cast) -> None:
    first = a_week(lots=(), par_levels=(), order_lines=(a_line(product="fish-2"),))
    earlier = week_import(week=first, by=cast.manager)
    kept_products = tuple(each for each in first.products if each.formula != "fish")
    later = a_week(
        starts_on=first.starts_on + timedelta(days=7),
        products=kept_products,
        formulas=tuple(each for each in first.formulas if each.code != "fish"),
        lots=(),
        par_levels=(),
        order_lines=(a_line(),),
    )
    assert round_trip(later, cast) == later
    back = week_export(by=cast.manager, week=earlier)
    assert back.get("products", "fish-2") == first.get("products", "fish-2")
    assert back.get("formulas", "fish") == fish()
    assert Product.objects.get(code="fish-2").retired


def test_a_new_version_of_a_formula_stands_beside_the_old_one(cast: Cast) -> None:
    round_trip(a_week(), cast)
    newer = poultry(version=2, simmer_max_h=9.0)
    changed = a_week(formulas=tuple(newer if each.code == "poultry" else each for each in a_week().formulas))
    assert round_trip(changed, cast) == changed
    versions = Formula.objects.filter(code="poultry").order_by("version").values_list("version", "retired")
    assert list(versions) == [(1, True), (2, False)]


def test_a_retired_product_follows_its_formula_so_that_an_old_week_holds_one_version(cast: Cast) -> None:
    first = a_week(lots=(), par_levels=(), order_lines=(a_line(product="poultry-glaze"),))
    earlier = week_import(week=first, by=cast.manager)
    newer = poultry(version=2, simmer_max_h=9.0)
    week_import(
        week=a_week(
            starts_on=first.starts_on + timedelta(days=7),
            formulas=tuple(newer if each.code == "poultry" else each for each in first.formulas),
            products=(a_product(),),
            order_lines=(a_line(),),
            par_levels=(),
        ),
        by=cast.manager,
    )
    back = week_export(by=cast.manager, week=earlier)
    assert [each.version for each in back.formulas if each.code == "poultry"] == [2]
    assert back.get("products", "poultry-glaze") == first.get("products", "poultry-glaze")


def test_the_same_version_of_a_formula_with_other_content_is_refused(cast: Cast) -> None:
    week = a_week()
    round_trip(week, cast)
    changed = tuple(replace(each, simmer_max_h=each.simmer_max_h + 1) for each in week.formulas)
    with pytest.raises(Conflict) as refused:
        week_import(week=replace(week, formulas=changed, order_lines=()), by=cast.manager)
    assert refused.value.code == "formula-version-taken"
    assert refused.value.numbers["formulas"] == [each.code for each in changed]
    assert week_snapshot(kitchen=cast.kitchen, week_id=PlanningWeek.objects.get().pk) == week


def test_another_kitchens_file_is_refused_with_its_place(cast: Cast) -> None:
    with pytest.raises(BadWeekFile) as refused:
        week_import(week=a_week(kitchen=a_kitchen(code="elsewhere")), by=cast.manager)
    assert [each.pointer for each in refused.value.problems] == ["/kitchen/code"]


@pytest.mark.postgres
@pytest.mark.parametrize(
    ("lines", "fault"),
    [
        ((a_line(), a_line(code="L2", containers=0)), IntegrityError),
        ((a_line(), a_line(containers=3)), Conflict),
    ],
)
def test_an_import_that_fails_at_the_end_leaves_nothing_behind(
    cast: Cast, lines: tuple[OrderLineEntry, ...], fault: type[Exception]
) -> None:
    with pytest.raises(fault):
        week_import(week=a_week(order_lines=lines), by=cast.manager)
    assert not PlanningWeek.objects.exists()
    assert not Ingredient.objects.exists()
    cast.kitchen.refresh_from_db()
    assert cast.kitchen.name == a_kitchen().name


@pytest.mark.parametrize("role", ["cook", "inspector"])
def test_only_a_manager_or_administrator_brings_in_a_week(cast: Cast, role: str) -> None:
    with pytest.raises(NotAllowed):
        week_import(week=a_week(), by=getattr(cast, role))
    assert not PlanningWeek.objects.exists()


@pytest.mark.postgres
def test_money_and_moments_come_back_exactly(cast: Cast) -> None:
    products = tuple(replace(each, value=Decimal("12.05")) for each in a_week().products)
    in_the_autumn_night = at("2026-11-01 01:30")
    lines = (
        a_line(dispatch_at=in_the_autumn_night),
        a_line(code="L2", dispatch_at=in_the_autumn_night.replace(hour=8)),
    )
    week = a_week(products=products, order_lines=lines)
    back = round_trip(week, cast)
    assert [each.value for each in back.products] == [Decimal("12.05")] * len(products)
    assert [each.dispatch_at for each in back.order_lines] == [each.dispatch_at for each in lines]


def test_reading_a_week_takes_as_many_queries_for_many_orders_as_for_few(cast: Cast) -> None:
    def queries(count: int, starts_on: date) -> int:
        lines = tuple(a_line(code=f"L{number}") for number in range(count))
        row = week_import(week=a_week(starts_on=starts_on, order_lines=lines), by=cast.manager)
        with CaptureQueriesContext(connection) as captured:
            back = week_snapshot(kitchen=cast.kitchen, week_id=row.pk)
        assert len(back.order_lines) == count
        return len(captured)

    few, many = queries(2, date(2027, 2, 1)), queries(300, date(2027, 2, 8))
    assert few == many <= 35


def test_writing_a_week_again_with_one_changed_line_writes_one_line(cast: Cast) -> None:
    lines = tuple(a_line(code=f"L{number}") for number in range(50))
    week_import(week=a_week(order_lines=lines), by=cast.manager)
    changed = (replace(lines[0], containers=7), *lines[1:])
    with CaptureQueriesContext(connection) as captured:
        week_import(week=a_week(order_lines=changed), by=cast.manager)
    writes = [each["sql"] for each in captured if each["sql"].startswith(("INSERT", "DELETE"))]
    assert len(writes) == 1
    assert OrderLine.objects.filter(revision=2).count() == 1


def test_two_kitchens_may_use_the_same_codes(cast: Cast) -> None:
    round_trip(a_week(), cast)
    other = a_week(kitchen=a_kitchen(code="elsewhere", name="Kitchen elsewhere"), order_lines=(a_line(containers=1),))
    row = week_import(week=other, by=cast.outsider)
    assert week_export(by=cast.outsider, week=row) == other
    assert Outlet.objects.filter(code="bistro").count() == 2
    assert OrderLine.objects.get(week__kitchen=cast.kitchen, code="L1").containers == a_line().containers
