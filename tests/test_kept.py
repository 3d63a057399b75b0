"""What is put back is what the services would have made."""

from __future__ import annotations

import pytest
from django.db import connection, transaction

from production.models import Kitchen, Plan, PlanningWeek
from tests import kept
from tests.conftest import Cast, kitchen_row
from tests.lots import a_plan


@pytest.fixture(autouse=True)
def nothing_kept(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(kept, "_kept", {})


def test_what_is_put_back_is_what_was_made(clock: object, cast: Cast, planning_week: PlanningWeek) -> None:
    with transaction.atomic():
        made = a_plan(cast, planning_week)
        first = kept._rows()
        transaction.set_rollback(True)
    assert not Plan.objects.exists()
    again = a_plan(cast, planning_week)
    assert kept._rows() == first
    assert again is not made
    assert again == made == Plan.objects.get()
    assert (again.kitchen, again.result) == (made.kitchen, made.result)
    connection.check_constraints()


def test_other_rows_are_not_taken_for_the_same(db: None) -> None:
    def name() -> str:
        return kept.kept("name", lambda: Kitchen.objects.get().name)

    kitchen_row("own")
    assert name() == name() == "Kitchen own"
    Kitchen.objects.update(name="The galley")
    assert name() == "The galley"


def test_changed_rows_are_put_back_too(db: None) -> None:
    kitchen_row("own")

    def renamed() -> int:
        return kept.kept("renamed", lambda: Kitchen.objects.update(name="The galley"))

    with transaction.atomic():
        assert renamed() == 1
        transaction.set_rollback(True)
    assert Kitchen.objects.get().name == "Kitchen own"
    assert renamed() == 1
    assert Kitchen.objects.get().name == "The galley"


def test_a_maker_that_takes_rows_away_is_refused(db: None) -> None:
    kitchen_row("own")
    with pytest.raises(AssertionError):
        kept.kept("gone", lambda: Kitchen.objects.all().delete())
