"""Several people at the same delivery, lot, store or thermometer at the same moment."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from production.models import (
    Deviation,
    Entry,
    IngredientLot,
    IngredientUse,
    PlanningWeek,
    Receipt,
    RecordBook,
    StorageReading,
    ThermometerCheck,
)
from production.services.receipts import ingredient_lot_discard, receipt_take
from production.services.thermometers import thermometer_add, thermometer_retire
from tests.conftest import Cast
from tests.services.cooling_kit import a_thermometer, sent, take
from tests.services.test_lots_at_once import at_once
from tests.services.test_receipts import NOW, came

pytestmark = [pytest.mark.postgres, pytest.mark.django_db(transaction=True)]


def test_four_who_take_in_at_once_get_four_codes_and_the_same_form_one(cast: Cast, planning_week: PlanningWeek) -> None:
    def receive(key: str) -> Callable[[], object]:
        return lambda: receipt_take(by=cast.cook, came=came(cast), accept=True, reason="", key=key, now=NOW)

    assert at_once([receive(key) for key in ("a", "b", "a", "c")]) == ["done"] * 4
    assert sorted(Receipt.objects.values_list("code", flat=True).distinct()) == sorted(
        Receipt.objects.values_list("code", flat=True)
    )
    assert (Receipt.objects.count(), IngredientLot.objects.count()) == (3, 3)


def test_what_is_left_is_thrown_away_once(cast: Cast, planning_week: PlanningWeek) -> None:
    row = receipt_take(by=cast.cook, came=came(cast), accept=True, reason="", key="r", now=NOW)

    def discard(key: str) -> Callable[[], object]:
        return lambda: ingredient_lot_discard(by=cast.cook, code=row.code, reason="Burst", key=key, now=NOW)

    assert at_once([discard(key) for key in ("a", "b", "c")]) == ["done", *["ingredient-lot-empty"] * 2]
    assert IngredientUse.objects.count() == 1
    assert IngredientLot.objects.get().left_kg == 0


def test_readings_and_checks_at_once_are_all_kept_and_open_one_deviation(
    cast: Cast, planning_week: PlanningWeek
) -> None:
    a_thermometer(cast.manager)
    RecordBook.objects.get_or_create(kitchen=cast.kitchen)

    def post(kind: str, subject: str, **content: str) -> Callable[[], object]:
        entry = sent(kind, subject, NOW, content)
        return lambda: take(cast.cook, entry, now=NOW)

    warm = [post("storage_temp", "store/walk-in", temp=f"{n}", measured="food") for n in (7, 8, 9)]
    checks = [post("thermometer_checked", "thermometer/t1", shown=f"{n}", method="ice") for n in (3, 4)]
    assert at_once([*warm, *checks]) == ["done"] * 5
    assert (StorageReading.objects.count(), ThermometerCheck.objects.count()) == (3, 2)
    assert sorted(Deviation.objects.values_list("kind", flat=True)) == ["storage", "thermometer"]
    numbers = list(Entry.objects.order_by("number").values_list("number", flat=True))
    assert numbers == list(range(1, len(numbers) + 1))


def test_a_thermometer_is_added_and_retired_once_by_two_presses(cast: Cast) -> None:
    def add() -> object:
        return thermometer_add(
            by=cast.manager, code="t1", name="Red", kind="hand", unit="C", check_due_on=None, key="add", now=NOW
        )

    def retire() -> object:
        return thermometer_retire(by=cast.manager, code="t1", reason="broken", key="away", now=NOW)

    assert at_once([add, add]) == ["done"] * 2
    assert at_once([retire, retire]) == ["done"] * 2
    assert Entry.objects.count() == 2
