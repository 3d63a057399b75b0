"""Temperatures of stores: kept, asked about, corrected, and told as a deviation when it was too warm for too long."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from production.models import (
    CareSettings,
    Deviation,
    Entry,
    IngredientLot,
    PlanningWeek,
    StorageReading,
    Store,
    ThermometerCheck,
)
from production.selectors.care_projections import (
    checks_check,
    ingredient_lots_check,
    receipts_check,
    stores_check,
)
from production.selectors.storage_temps import store_now, stores_now
from production.services.floor_answers import Answer
from production.services.receipts import receipt_take
from production.services.storage_temps import stores_watch
from tests.builders import at
from tests.conftest import Cast
from tests.services.cooling_kit import a_thermometer, sent, take
from tests.services.test_receipts import came

MORNING = at("2027-02-01 06:00")


@pytest.fixture(autouse=True)
def week(planning_week: PlanningWeek) -> PlanningWeek:
    return planning_week


def read(cast: Cast, minute: float, temp: str, *, store: str = "walk-in", **content: Any) -> Answer:
    happened = MORNING + timedelta(minutes=minute)
    corrects, reason = content.pop("corrects", None), content.pop("reason", "")
    entry = sent(
        "storage_temp", f"store/{store}", happened, {"temp": temp, **content}, corrects=corrects, reason=reason
    )
    return take(cast.cook, entry, now=happened)[0]


def deviations() -> list[str]:
    return [each.sentence for each in Deviation.objects.order_by("number")]


def test_a_cold_store_is_kept_without_a_question(cast: Cast) -> None:
    assert read(cast, 0, "3.5").outcome == "kept"
    row = StorageReading.objects.get()
    assert (row.temp, row.unit, row.measured, row.entry.kind) == ("3.5", "C", "air", "storage_temp")
    assert deviations() == []


def test_a_warm_store_is_asked_about_at_once_and_a_deviation_when_it_lasts(cast: Cast) -> None:
    read(cast, 0, "3.5")
    answer = read(cast, 20, "7")
    assert (answer.outcome, answer.code) == ("questioned", "store-too-warm")
    assert "measure the warmest food" in answer.remedy
    assert deviations() == []
    read(cast, 90, "7.5")
    assert deviations() == [
        "The air of Walk-in was 7.5 °C, above 5 °C: for 70 min surely, for up to 90 min as far as readings show."
    ]
    read(cast, 100, "8")
    assert len(deviations()) == 1  # it goes on, and is told once


def test_warm_food_is_a_deviation_at_once(cast: Cast) -> None:
    read(cast, 0, "6.2", measured="food")
    assert deviations()[0].startswith("Food in Walk-in was 6.2 °C, above 5 °C")


def test_a_long_gap_before_a_warm_reading_is_not_given_the_benefit(cast: Cast) -> None:
    read(cast, 0, "3.5")
    read(cast, 600, "6")
    assert len(deviations()) == 1


def test_time_alone_makes_a_warm_store_a_deviation(cast: Cast) -> None:
    read(cast, 0, "3.5")
    read(cast, 20, "7")
    assert stores_watch(now=MORNING + timedelta(minutes=40)) == 0
    assert stores_watch(now=MORNING + timedelta(minutes=90)) == 1
    assert len(deviations()) == 1
    assert Deviation.objects.get().opened_by.role == "program"


def test_the_kitchens_own_limit_and_time_hold(cast: Cast) -> None:
    CareSettings.objects.create(kitchen=cast.kitchen, store_chilled_c="3.0", chilled_air_minutes=10)
    read(cast, 0, "3.0")
    read(cast, 5, "3.1")
    read(cast, 16, "3.2")
    assert len(deviations()) == 1


def test_a_freezer_has_a_limit_of_its_own(cast: Cast) -> None:
    assert read(cast, 0, "-18", store="freezer").outcome == "kept"
    assert read(cast, 1, "-14", store="freezer").code == "store-too-warm"


def test_a_wrong_unit_is_noticed_and_corrected_with_a_reason(cast: Cast) -> None:
    answer = read(cast, 0, "350")
    assert answer.code == "store-temp-unlikely"
    assert read(cast, 1, "3.5", corrects=answer.key).code == "reason-missing"
    assert read(cast, 2, "3.5", corrects=answer.key, reason="wrong number").outcome == "kept"
    first, second = StorageReading.objects.order_by("pk")
    assert (first.excluded, second.excluded, second.measured_at) == (True, False, first.measured_at)
    assert read(cast, 3, "3.6", corrects=answer.key, reason="again").code == "no-such-store-reading"


def test_a_reading_of_another_store_is_set_aside(cast: Cast) -> None:
    answer = read(cast, 0, "9", measured="food")
    happened = MORNING + timedelta(minutes=1)
    away = sent("storage_temp_excluded", "store/walk-in", happened, {}, corrects=answer.key, reason="other fridge")
    assert take(cast.cook, away, now=happened)[0].outcome == "kept"
    assert StorageReading.objects.get().excluded
    assert store_now(by=cast.cook, code="walk-in", now=happened).excursions == ()


def test_a_thermometer_corrects_and_an_unknown_one_is_kept_by_its_code(cast: Cast) -> None:
    a_thermometer(cast.manager, correction="1.0", unit="F")
    read(cast, 0, "40", thermometer="t1")
    read(cast, 1, "3", thermometer="t9")
    first, second = StorageReading.objects.order_by("pk")
    assert (float(first.temp), first.unit) == (41.0, "F")
    assert (second.thermometer, second.entry.content["thermometer"]) == (None, "t9")
    assert ("thermometer_is" in first.entry.content, second.entry.content["thermometer_is"]) == (False, "unknown")


def test_a_reading_with_a_thermometer_whose_check_is_overdue_counts_and_is_marked(cast: Cast) -> None:
    a_thermometer(cast.manager, check_due_on=None)
    assert read(cast, 0, "3", thermometer="t1").outcome == "kept"
    assert StorageReading.objects.get().entry.content["thermometer_is"] == "overdue"


@pytest.mark.parametrize(
    ("content", "store", "code"),
    [
        ({"temp": "cold"}, "walk-in", "reading-temp"),
        ({"temp": "3", "measured": "door"}, "walk-in", "measured-unknown"),
        ({"temp": "3"}, "cellar", "not-found"),
    ],
)
def test_what_cannot_be_kept_is_refused(cast: Cast, content: dict[str, str], store: str, code: str) -> None:
    assert read(cast, 0, content.pop("temp"), store=store, **content).code == code
    assert not Entry.objects.exists()


def test_the_same_reading_sent_five_times_is_kept_once(cast: Cast) -> None:
    entry = sent("storage_temp", "store/walk-in", MORNING, {"temp": "3"})
    assert [take(cast.cook, entry, now=MORNING)[0].outcome for _ in range(5)] == ["kept"] + ["known"] * 4
    assert StorageReading.objects.count() == 1


def test_a_store_that_nobody_reads_is_overdue(cast: Cast) -> None:
    read(cast, 0, "3")

    def overdue(hours: float) -> set[str]:
        return {s.store.code for s in stores_now(by=cast.cook, now=MORNING + timedelta(hours=hours)) if s.is_overdue}

    assert "walk-in" not in overdue(12)
    assert "walk-in" in overdue(12.1)
    assert "freezer" in overdue(0)


def test_more_stores_and_readings_take_no_more_queries(cast: Cast) -> None:
    def queries() -> int:
        with CaptureQueriesContext(connection) as caught:
            stores_now(by=cast.cook, now=MORNING + timedelta(hours=3))
        return len(caught)

    read(cast, 0, "3")
    before = queries()
    for minute in range(1, 6):
        read(cast, minute, "3", store="freezer" if minute % 2 else "walk-in")
    walk_in = Store.objects.get(kitchen=cast.kitchen, code="walk-in")
    walk_in.pk, walk_in.code = None, "second"
    walk_in.save()
    assert queries() == before <= 4


def test_what_pages_show_of_care_is_held_against_the_book(cast: Cast) -> None:
    """A row that was changed behind the program's back is named with its entry."""
    a_thermometer(cast.manager)
    read(cast, 0, "3")
    told = {"shown": "0.2", "method": "ice"}
    take(cast.cook, sent("thermometer_checked", "thermometer/t1", MORNING, told), now=MORNING)
    receipt_take(by=cast.cook, came=came(cast), accept=True, reason="", key="r", now=MORNING)
    pk, lies = cast.kitchen.pk, (
        (stores_check, StorageReading, {"temp": "2"}),
        (stores_check, StorageReading, {"excluded": True}),
        (checks_check, ThermometerCheck, {"off": "0"}),
        (receipts_check, type(IngredientLot.objects.get().receipt), {"packs": 5}),
        (ingredient_lots_check, IngredientLot, {"left_kg": 1}),
    )  # fmt: skip
    for look, table, lie in lies:
        assert list(look(pk)) == []
        honest: dict[str, Any] = table.objects.values(*lie).get()
        table.objects.update(**lie)
        assert len(list(look(pk))) == 1, (look, lie)
        table.objects.update(**honest)
