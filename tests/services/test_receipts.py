"""Deliveries: taken, sent back, corrected; and the lots that runs are weighed from."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal
from typing import Any

import pytest

from production.domain.errors import Conflict, NotAllowed, PotwrightError
from production.models import (
    CareSettings,
    Deviation,
    Entry,
    IngredientLot,
    IngredientUse,
    PlanningWeek,
    Receipt,
    RunRecord,
    Supplier,
)
from production.selectors.plans import plan_content
from production.selectors.receipts import lots_to_weigh, receipt_of, receipts_of
from production.services.receipts import Came, ingredient_lot_discard, receipt_correct, receipt_take
from tests.builders import at
from tests.conftest import Cast
from tests.services.cooling_kit import a_thermometer
from tests.services.floor_runs import Tablet, published

NOW = at("2027-02-01 06:00")
TODAY = date(2027, 2, 1)


@pytest.fixture(autouse=True)
def week(planning_week: PlanningWeek) -> PlanningWeek:
    return planning_week


def supplier(cast: Cast) -> str:
    return Supplier.objects.filter(kitchen=cast.kitchen).order_by("position")[0].code


def came(cast: Cast, **changes: Any) -> Came:
    told = Came(
        supplier=supplier(cast),
        ingredient="frames",
        packs=4,
        mass_kg=Decimal(40),
        came_as="chilled",
        temp="3.4",
        supplier_lot="CB-118",
        store="walk-in",
        received_at=NOW,
    )
    return replace(told, **changes)


def take(
    cast: Cast, *, by: Any = None, accept: bool = True, reason: str = "", key: str = "k", **changes: Any
) -> Receipt:
    return receipt_take(by=by or cast.cook, came=came(cast, **changes), accept=accept, reason=reason, key=key, now=NOW)


def test_what_is_taken_in_becomes_a_lot(cast: Cast) -> None:
    row = take(cast, use_by=date(2027, 2, 6))
    lot = row.lot
    assert (row.accepted, row.in_limits, row.code[1:]) == (True, True, lot.code[1:])
    assert (lot.mass_kg, lot.left_kg, lot.supplier_lot, lot.use_by) == (
        Decimal(40),
        Decimal(40),
        "CB-118",
        date(2027, 2, 6),
    )
    said = row.entry.content
    assert (row.entry.kind, row.entry.subject) == ("receipt", f"receipt/{row.code}")
    assert (said["supplier_name"], said["counted"], said["lot"]) == (row.supplier.name, "3.4 C", lot.code)


def test_the_same_form_sent_twice_takes_it_in_once(cast: Cast) -> None:
    assert take(cast).pk == take(cast).pk
    assert (Receipt.objects.count(), Entry.objects.count()) == (1, 1)


def test_each_receipt_of_a_day_has_its_own_code(cast: Cast) -> None:
    assert len({take(cast, key=str(n)).code for n in range(3)}) == 3


def test_what_is_too_warm_a_cook_sends_back(cast: Cast) -> None:
    with pytest.raises(NotAllowed) as refused:
        take(cast, temp="5.1")
    assert refused.value.code == "receipt-past-limits"
    assert "5.1 °C is warmer than 5 °C." in refused.value.sentence
    assert not Entry.objects.exists()
    row = take(cast, temp="5.1", accept=False, reason="Too warm")
    assert (row.accepted, row.reason) == (False, "Too warm")
    assert not IngredientLot.objects.exists()
    assert not Deviation.objects.exists()


def test_a_manager_may_take_it_with_a_reason_and_that_is_a_deviation(cast: Cast) -> None:
    with pytest.raises(PotwrightError) as refused:
        take(cast, by=cast.manager, temp="44 F")
    assert refused.value.code == "reason-missing"
    row = take(cast, by=cast.manager, temp="44 F", reason="Boiled within the hour")
    assert (row.in_limits, row.lot.left_kg) == (False, Decimal(40))
    deviation = Deviation.objects.get()
    assert (deviation.kind, deviation.about) == ("receipt", f"receipt/{row.code}")
    assert "44 °F is warmer than 41 °F." in deviation.sentence


def test_sending_back_needs_a_reason(cast: Cast) -> None:
    with pytest.raises(PotwrightError):
        take(cast, accept=False)
    assert not Receipt.objects.exists()


def test_the_thermometer_corrects_what_it_shows(cast: Cast) -> None:
    a_thermometer(cast.manager, correction="0.8")
    with pytest.raises(NotAllowed):
        take(cast, temp="4.5", thermometer="t1")
    assert take(cast, temp="4.1", thermometer="t1").temp == "4.9"


def test_the_kitchens_own_limit_holds(cast: Cast) -> None:
    CareSettings.objects.create(kitchen=cast.kitchen, receive_chilled_c="3.0")
    with pytest.raises(NotAllowed):
        take(cast, temp="3.4")


@pytest.mark.parametrize(
    ("changes", "code"),
    [
        ({"packs": 0}, "receipt-out-of-range"),
        ({"mass_kg": Decimal(0)}, "receipt-out-of-range"),
        ({"mass_kg": Decimal(99999)}, "receipt-out-of-range"),
        ({"came_as": "warm"}, "came-as-unknown"),
        ({"temp": "rather cold"}, "reading-temp"),
        ({"received_at": NOW + timedelta(hours=1)}, "received-in-the-future"),
    ],
)
def test_what_cannot_be_is_refused(cast: Cast, changes: dict[str, Any], code: str) -> None:
    with pytest.raises(PotwrightError) as refused:
        take(cast, **changes)
    assert refused.value.code == code
    assert refused.value.remedy
    assert not Entry.objects.exists()


@pytest.mark.parametrize("role", ["inspector", "administrator"])
def test_who_does_not_work_in_the_kitchen_takes_nothing_in(cast: Cast, role: str) -> None:
    with pytest.raises(NotAllowed):
        take(cast, by=getattr(cast, role))


def test_a_correction_stands_beside_what_was_written_first(cast: Cast) -> None:
    row = take(cast)
    again = receipt_correct(
        by=cast.cook, code=row.code, came=came(cast, mass_kg=Decimal(38), supplier_lot="CB-119"),
        reason="Read the label wrongly", key="c", now=NOW,
    )  # fmt: skip
    assert (again.mass_kg, again.supplier_lot, again.lot.left_kg, again.lot.supplier_lot) == (
        Decimal(38),
        "CB-119",
        Decimal(38),
        "CB-119",
    )
    first, second = Entry.objects.filter(subject=f"receipt/{row.code}").order_by("number")
    assert (second.corrects, second.reason) == (first, "Read the label wrongly")
    assert first.content["mass_kg"] == "40.00"


def test_what_is_left_can_be_thrown_away_once(cast: Cast) -> None:
    row = take(cast)
    ingredient_lot_discard(by=cast.cook, code=row.code, reason="Bag burst", key="d", now=NOW)
    ingredient_lot_discard(by=cast.cook, code=row.code, reason="Bag burst", key="d", now=NOW)
    assert (receipt_of(by=cast.cook, code=row.code).lot.left_kg, IngredientUse.objects.count()) == (Decimal(0), 1)
    with pytest.raises(Conflict):
        ingredient_lot_discard(by=cast.cook, code=row.code, reason="Bag burst", key="other", now=NOW)


def test_receipts_are_found_by_what_stands_on_the_pack(cast: Cast) -> None:
    row = take(cast)
    take(cast, key="2", supplier_lot="ZZ-9", ingredient="onion", came_as="ambient", temp="")
    for words in ("cb-118", row.lot.code, f"{row.supplier.name.split()[0]} CB-118"):
        assert [each.code for each in receipts_of(by=cast.cook, search=words)] == [row.code]
    assert receipt_of(by=cast.cook, code=row.lot.code) == row
    assert not receipts_of(by=cast.outsider).exists()


# --- what runs take from them ------------------------------------------------------------------------------------


@pytest.fixture
def tablet(cast: Cast, planning_week: PlanningWeek) -> Tablet:
    plan = published(cast, planning_week)
    held = Tablet(by=cast.cook, week=planning_week, content=plan_content(plan=plan))
    assert held.do("run_begun", 0).outcome == "kept"
    return held


def of(tablet: Tablet, part: int) -> str:
    """Name of the ingredient that the part-th weighing asks for."""
    sheet = RunRecord.objects.get(subject=tablet.subject).sheet
    return str(next(line["name"] for line in sheet["charge"] if line["order"] == part))


def frames_step(tablet: Tablet) -> str:
    sheet = RunRecord.objects.get(subject=tablet.subject).sheet
    line = next(line for line in sheet["charge"] if "rame" in line["name"])
    return f"charge.{line['order']}"


def weigh(tablet: Tablet, lot: str, mass: str = "12 kg", **more: Any) -> Any:
    answer = tablet.do("charge_weighed", 5, step=frames_step(tablet), mass=mass, lot=lot, **more)
    assert answer.outcome in ("kept", "questioned"), answer
    return answer


def left(receipt: Receipt) -> Decimal:
    return IngredientLot.objects.get(receipt=receipt).left_kg


def test_a_weighing_names_its_lot_and_the_lot_knows_its_run(cast: Cast, tablet: Tablet) -> None:
    row = take(cast)
    weigh(tablet, row.lot.code.lower())
    use = IngredientUse.objects.get()
    assert (use.lot, use.run.subject if use.run else "", use.mass_kg) == (row.lot, tablet.subject, Decimal(12))
    assert left(row) == 28


def test_a_corrected_weighing_takes_the_corrected_amount_from_the_same_lot(cast: Cast, tablet: Tablet) -> None:
    row = take(cast)
    weigh(tablet, row.lot.code, "12 kg")
    first = tablet.log[-1]["key"]
    tablet.do("charge_weighed", 6, corrects=first, reason="wrong number", step=frames_step(tablet), mass="15 kg")
    assert left(row) == 25


def test_a_weighing_taken_back_gives_the_lot_back_and_again(cast: Cast, tablet: Tablet) -> None:
    row = take(cast)
    weigh(tablet, row.lot.code)
    first = tablet.log[-1]["key"]
    tablet.do("withdrawn", 6, corrects=first, reason="wrong pot")
    undo = tablet.log[-1]["key"]
    assert left(row) == 40
    tablet.do("withdrawn", 7, corrects=undo, reason="it was right")
    assert left(row) == 28


def test_two_lots_of_one_weighing_are_emptied_in_their_order(cast: Cast, tablet: Tablet) -> None:
    small, large = take(cast, mass_kg=Decimal(5), key="a"), take(cast, key="b")
    weigh(tablet, f"{small.lot.code}, {large.lot.code}")
    assert (left(small), left(large)) == (Decimal(0), Decimal(33))


def test_a_strange_lot_is_told_and_the_weight_counts_all_the_same(cast: Cast, tablet: Tablet) -> None:
    onion = take(cast, ingredient="onion", came_as="ambient", temp="", key="o")
    old = take(cast, use_by=TODAY, key="old")
    answer = weigh(tablet, "I2702020013")
    assert "No lot I2702020013 was received here." in answer.sentence
    assert "not" in weigh(tablet, onion.lot.code).sentence
    IngredientLot.objects.filter(pk=old.lot.pk).update(use_by=date(2027, 1, 20))
    assert "was to be used by 2027-01-20" in weigh(tablet, old.lot.code).sentence
    entry = Entry.objects.filter(kind="charge_weighed").earliest("number")
    assert "question" not in entry.content
    assert "lot_doubt" in entry.content


def test_lots_are_offered_oldest_first_and_none_past_its_day(cast: Cast) -> None:
    take(cast, key="later", use_by=date(2027, 2, 9))
    soon = take(cast, key="soon", use_by=date(2027, 2, 3))
    take(cast, key="past", use_by=date(2027, 2, 1))
    name = soon.ingredient.name
    offered = lots_to_weigh(by=cast.cook, names=[name], today=date(2027, 2, 2))
    assert [each.use_by for each in offered[name]] == [date(2027, 2, 3), date(2027, 2, 9)]
