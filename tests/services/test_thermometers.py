"""Thermometers: on the list, corrected, checked, retired; every change stands in the book."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from decimal import Decimal
from typing import Any

import pytest
from django.core.exceptions import ValidationError

from production.domain.errors import BadQuantity, Conflict, NotAllowed
from production.models import Entry, Thermometer
from production.services.thermometers import thermometer_add, thermometer_correct, thermometer_retire
from tests.conftest import Cast
from tests.services.cooling_kit import a_thermometer, sent, take

NOW = datetime(2027, 2, 1, 20, 0, tzinfo=UTC)


def add(by: Any, **fields: Any) -> Thermometer:
    told: dict[str, Any] = {
        "code": "t1", "name": "Red handle", "kind": "hand", "unit": "C", "check_due_on": date(2027, 3, 1), "key": "k1",
    }  # fmt: skip
    return thermometer_add(by=by, now=NOW, **(told | fields))


def test_a_thermometer_is_added_corrected_and_retired_with_an_entry_each(cast: Cast) -> None:
    add(cast.manager)
    thermometer_correct(by=cast.manager, code="t1", correction=Decimal("-0.4"), reason="ice water", key="k2", now=NOW)
    thermometer_retire(by=cast.manager, code="t1", reason="broken", key="k3", now=NOW)
    row = Thermometer.objects.get()
    assert (row.correction, row.retired) == (Decimal("-0.4"), True)
    entries = Entry.objects.filter(subject="thermometer/t1").order_by("number")
    assert [each.kind for each in entries] == ["thermometer_added", "thermometer_changed", "thermometer_retired"]
    assert entries[1].content == {"correction": "-0.4", "before": "0.00", "why": "ice water"}


def test_a_code_is_never_used_twice_not_even_after_retiring(cast: Cast) -> None:
    add(cast.manager)
    thermometer_retire(by=cast.manager, code="t1", reason="broken", key="k3", now=NOW)
    with pytest.raises(Conflict) as caught:
        add(cast.manager, key="k4")
    assert caught.value.code == "thermometer-known"


def test_a_form_sent_twice_does_everything_once(cast: Cast) -> None:
    for _ in range(2):
        add(cast.manager)
        thermometer_correct(by=cast.manager, code="t1", correction=Decimal("0.3"), reason="ice", key="k2", now=NOW)
    for _ in range(2):
        thermometer_retire(by=cast.manager, code="t1", reason="broken", key="k3", now=NOW)
    assert Entry.objects.count() == 3


@pytest.mark.parametrize("fields", [{"unit": "K"}, {"kind": "laser"}, {"name": ""}])
def test_what_is_no_thermometer_is_not_added(cast: Cast, fields: dict[str, str]) -> None:
    with pytest.raises(ValidationError):
        add(cast.manager, **fields)
    assert not Entry.objects.exists()


def test_one_that_is_far_off_is_broken_not_corrected(cast: Cast) -> None:
    add(cast.manager)
    with pytest.raises(BadQuantity) as caught:
        thermometer_correct(by=cast.manager, code="t1", correction=Decimal(21), reason="x", key="k2", now=NOW)
    assert caught.value.code == "correction-too-large"


@pytest.mark.parametrize("role", ["cook", "inspector", "administrator"])
def test_only_a_manager_keeps_the_list(cast: Cast, role: str) -> None:
    with pytest.raises(NotAllowed):
        add(getattr(cast, role))


@pytest.mark.parametrize(
    ("unit", "both_scales", "shown", "passed"),
    [
        ("C", False, "1.0", True),
        ("C", False, "1.01", False),
        ("C", False, "-1", True),
        ("F", False, "34", True),
        ("F", False, "34.1", False),
        ("F", True, "33.8", True),
        ("F", True, "33.9", False),
    ],
)
def test_a_check_in_ice_water_is_passed_within_the_tolerance_of_the_food_code(
    cast: Cast, unit: str, both_scales: bool, shown: str, passed: bool
) -> None:
    """Within 1 C, or 2 F where only Fahrenheit is shown: FDA Food Code 4-203.11, read in an adopted text."""
    a_thermometer(cast.manager, unit=unit, both_scales=both_scales, check_due_on=None)
    told = {"shown": shown, "unit": unit, "method": "ice"}
    (answer,) = take(cast.cook, sent("thermometer_checked", "thermometer/t1", NOW, told), now=NOW)
    assert answer.outcome == ("kept" if passed else "questioned")
    entry = Entry.objects.get(kind="thermometer_checked")
    assert entry.content["passed"] is passed
    due = Thermometer.objects.get().check_due_on
    assert due == (date(2027, 2, 8) if passed else None)  # a week after 1 February in Denver


def test_a_probe_is_placed_and_a_hand_thermometer_is_not(cast: Cast) -> None:
    a_thermometer(cast.manager)
    a_thermometer(cast.manager, code="p1", kind="probe")
    later = NOW + timedelta(minutes=1)
    codes = [
        take(cast.cook, sent("probe_placed", f"thermometer/{code}", NOW, {"cooling": cooling}), now=later)[0].code
        for code, cooling in (("t1", ""), ("p1", "cooling/none"), ("p9", ""), ("p1", ""))
    ]
    assert codes == ["not-a-probe", "not-found", "not-found", ""]
