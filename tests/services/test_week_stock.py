"""What the next week may count on: what is really there, and that only once."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, datetime, timedelta
from decimal import Decimal

import pytest

from production.models import Bones, Lot, OrderLine, Plan, PlanningWeek, SavedBones, StockLot
from production.services.bones import bones_save, bones_use
from production.services.plans import plan_make, plan_store
from production.services.week_import import week_import
from production.services.week_stock import week_stock_update
from tests.builders import a_line, a_week, at
from tests.conftest import Cast
from tests.lots import a_lot, a_plan, a_run

BEFORE = at("2027-02-04 10:00")
NEXT = date(2027, 2, 8)


@pytest.fixture
def plan(cast: Cast, planning_week: PlanningWeek) -> Plan:
    return a_plan(cast, planning_week)


@pytest.fixture
def next_week(cast: Cast, plan: Plan) -> PlanningWeek:
    return next_week_of(cast)


def next_week_of(cast: Cast) -> PlanningWeek:
    """The week after, with one order for twelve tubs of poultry broth on Monday and nothing in stock."""
    week = a_week()
    later = timedelta(days=7)
    return week_import(
        week=replace(
            week,
            starts_on=NEXT,
            plan_from=at("2027-02-06 10:00"),
            shifts=tuple(replace(each, start=each.start + later, end=each.end + later) for each in week.shifts),
            ice_deliveries=(),
            lots=(),
            saved_bones=(),
            order_lines=(a_line(code="N1", containers=12, dispatch_at=at("2027-02-08 14:00")),),
            par_levels=(),
        ),
        by=cast.manager,
    )


@pytest.fixture
def planning_on_thursday(monkeypatch: pytest.MonkeyPatch) -> datetime:
    monkeypatch.setattr("production.services.plans.moment_of_planning", lambda: BEFORE)
    return BEFORE


def stock_of(cast: Cast, week: PlanningWeek) -> dict[str, int]:
    week_stock_update(kitchen=cast.kitchen, week_id=week.pk, now=BEFORE)
    return dict(StockLot.objects.filter(week=week).values_list("code", "containers"))


def frames(cast: Cast, mass: str, *, key: str = "bones") -> Bones:
    return bones_save(
        by=cast.cook,
        ingredient="frames",
        mass_kg=Decimal(mass),
        saved_on=date(2027, 2, 1),
        store="freezer",
        key=key,
        now=at("2027-02-01 10:00"),
    )


def keeps_longer(lot: Lot) -> None:
    """As if it had been cooked later in the week."""
    lot.made_on, lot.use_by = date(2027, 2, 4), date(2027, 2, 9)
    lot.save()


def no_more_orders(plan: Plan) -> None:
    OrderLine.objects.filter(week=plan.week).delete()


def test_free_lots_are_stock_of_the_next_week_and_held_ones_are_not(
    cast: Cast, plan: Plan, next_week: PlanningWeek
) -> None:
    no_more_orders(plan)
    free = a_lot(cast, plan, containers=9, free=True, product="poultry-5")
    keeps_longer(free)
    a_lot(cast, plan, containers=7)
    assert stock_of(cast, next_week) == {free.code: 9}


def test_what_this_weeks_orders_still_take_is_not_counted_again(
    cast: Cast, plan: Plan, next_week: PlanningWeek
) -> None:
    no_more_orders(plan)
    lot = a_lot(cast, plan, containers=9, free=True)
    keeps_longer(lot)
    line = a_line()
    template = OrderLine.objects.get(week=next_week, code="N1")
    OrderLine.objects.create(
        week=plan.week,
        code="X1",
        outlet=template.outlet,
        product=template.product,
        containers=line.containers,
        dispatch_at=at("2027-02-05 09:00"),
        weight=1.0,
    )
    assert stock_of(cast, next_week) == {lot.code: 3}


def test_asked_twice_the_stock_is_the_same_and_what_is_gone_goes(
    cast: Cast, plan: Plan, next_week: PlanningWeek
) -> None:
    no_more_orders(plan)
    lot = a_lot(cast, plan, containers=9, free=True)
    keeps_longer(lot)
    StockLot.objects.create(
        week=next_week,
        code="by-hand",
        product=lot.product,
        containers=2,
        made_on=date(2027, 2, 6),
        use_by=date(2027, 2, 11),
        store=lot.store,
    )
    first = stock_of(cast, next_week)
    assert stock_of(cast, next_week) == first == {"by-hand": 2, lot.code: 9}
    lot.left = 4
    lot.save()
    assert stock_of(cast, next_week) == {"by-hand": 2, lot.code: 4}
    lot.status = "held"
    lot.save()
    assert stock_of(cast, next_week) == {"by-hand": 2}


def test_a_week_that_has_begun_keeps_what_it_was_planned_with(
    cast: Cast, plan: Plan, planning_week: PlanningWeek
) -> None:
    before = dict(StockLot.objects.filter(week=planning_week).values_list("code", "containers"))
    lot = a_lot(cast, plan, containers=9, free=True)
    week_stock_update(kitchen=cast.kitchen, week_id=planning_week.pk, now=BEFORE)
    after = dict(StockLot.objects.filter(week=planning_week).values_list("code", "containers"))
    assert after == before
    assert lot.code not in after


def test_the_next_plan_nets_its_orders_against_the_lots_that_are_there(
    cast: Cast, plan: Plan, next_week: PlanningWeek, planning_on_thursday: datetime
) -> None:
    no_more_orders(plan)
    lot = a_lot(cast, plan, containers=9, free=True)
    keeps_longer(lot)
    made = plan_make(kitchen=cast.kitchen, week_id=next_week.pk).content
    assert [(each.lot, each.containers) for each in made.demand.served] == [(lot.code, 9)]
    assert [(each.line, each.containers) for each in made.demand.needs] == [("N1", 3)]


def test_the_bank_feeds_the_charge_of_the_next_plan(
    cast: Cast, plan: Plan, next_week: PlanningWeek, planning_on_thursday: datetime
) -> None:
    bones = frames(cast, "6.00")
    made = plan_make(kitchen=cast.kitchen, week_id=next_week.pk).content
    taken = sum(part.from_bank_kg for run in made.runs for part in run.sourced if part.ingredient == "frames")
    assert taken == pytest.approx(6.0)
    assert [each.code for each in made.week.saved_bones] == [bones.code]


def test_what_one_plan_takes_from_the_bank_another_does_not_get(
    cast: Cast, plan: Plan, next_week: PlanningWeek, planning_on_thursday: datetime
) -> None:
    bones = frames(cast, "6.00")
    made = plan_make(kitchen=cast.kitchen, week_id=next_week.pk)
    plan_store(made=made, kitchen=cast.kitchen, week_id=next_week.pk, user_id=None)
    week = a_week()
    later = timedelta(days=14)
    third = week_import(
        week=replace(
            week,
            starts_on=NEXT + timedelta(days=7),
            plan_from=at("2027-02-13 10:00"),
            shifts=tuple(replace(each, start=each.start + later, end=each.end + later) for each in week.shifts),
            ice_deliveries=(),
            lots=(),
            saved_bones=(),
            order_lines=(),
            par_levels=(),
        ),
        by=cast.manager,
    )
    week_stock_update(kitchen=cast.kitchen, week_id=third.pk, now=BEFORE)
    assert not SavedBones.objects.filter(week=third).exists()
    more = frames(cast, "4.00", key="more")
    week_stock_update(kitchen=cast.kitchen, week_id=third.pk, now=BEFORE)
    assert {(row.code, row.mass_kg) for row in SavedBones.objects.filter(week=third)} == {(more.code, 4.0)}
    assert bones.code not in set(SavedBones.objects.filter(week=third).values_list("code", flat=True))


def test_what_a_run_has_really_taken_is_no_longer_promised_to_it(cast: Cast, planning_week: PlanningWeek) -> None:
    SavedBones.objects.filter(week=planning_week).delete()
    bones = frames(cast, "100.00")
    Bones.objects.update(saved_on=date(2027, 1, 29))
    plan = a_plan(cast, planning_week)  # made long before the week: it is promised frames of the bank
    promised = sum(
        part["from_bank_kg"] for run in plan.result["runs"] for part in run["sourced"] if part["ingredient"] == "frames"
    )
    assert promised > 5.0
    following = next_week_of(cast)

    def counted_on() -> float:
        week_stock_update(kitchen=cast.kitchen, week_id=following.pk, now=BEFORE)
        return SavedBones.objects.get(week=following).mass_kg

    assert counted_on() == pytest.approx(100.0 - promised)
    run = a_run(plan)
    bones_use(
        by=cast.cook, code=bones.code, mass_kg=Decimal("1.00"), run=run.subject, key="use", now=at("2027-02-02 09:00")
    )
    assert counted_on() == pytest.approx(100.0 - promised)


def test_bones_that_expire_before_the_week_are_left_out(cast: Cast, plan: Plan, next_week: PlanningWeek) -> None:
    bones = frames(cast, "20.00")
    Bones.objects.filter(pk=bones.pk).update(use_by=date(2027, 2, 7))
    week_stock_update(kitchen=cast.kitchen, week_id=next_week.pk, now=BEFORE)
    assert not SavedBones.objects.filter(week=next_week).exists()


def test_a_week_that_was_to_be_planned_before_its_stock_was_made_is_planned_from_now(
    cast: Cast, plan: Plan, next_week: PlanningWeek, planning_on_thursday: datetime
) -> None:
    no_more_orders(plan)
    keeps_longer(a_lot(cast, plan, containers=9, free=True))
    PlanningWeek.objects.filter(pk=next_week.pk).update(plan_from=at("2027-02-01 08:00"))
    made = plan_make(kitchen=cast.kitchen, week_id=next_week.pk).content
    assert len(made.demand.served) == 1
    assert PlanningWeek.objects.get(pk=next_week.pk).plan_from == BEFORE
