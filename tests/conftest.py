"""The clock and the cast that every test shares."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest
import time_machine
from django.contrib.auth.models import User
from django.core.cache import cache
from django.db import connection
from django.test import TransactionTestCase
from django.utils import timezone

from production.models import Kitchen, Membership, PlanningWeek
from production.models.guards import guards_take_down
from production.services.kitchens import kitchen_create, membership_set
from production.services.week_import import week_import
from tests.builders import a_kitchen, a_week
from tests.kept import kept
from tests.migrated import begin_migrated, keep_migrated, migrated_file

NOW = datetime(2026, 3, 2, 9, 0, tzinfo=UTC)


@pytest.hookimpl(tryfirst=True)
def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Tracing makes planning several times slower, so the tests that plan most are left out of it."""
    tests = Path(__file__).parent
    for item in items:
        room = item.path.relative_to(tests).parts[0]
        if room in {"domain", "reference"} and not item.get_closest_marker("long"):
            item.add_marker("measured")


@pytest.fixture
def clock() -> Iterator[time_machine.Traveller]:
    """Time stands still at NOW until the test moves it."""
    with time_machine.travel(NOW, tick=False) as traveller:
        yield traveller


@pytest.fixture(scope="session")
def django_db_modify_db_settings(django_db_modify_db_settings_parallel_suffix: None) -> Iterator[None]:
    with pytest.MonkeyPatch.context() as patch:
        begin_migrated(patch, migrated_file())
        yield


@pytest.fixture(scope="session")
def django_db_setup(django_db_setup: None, django_db_blocker: Any) -> None:
    with django_db_blocker.unblock():
        keep_migrated(migrated_file())


@pytest.fixture(scope="session", autouse=True)
def tables_can_be_emptied() -> Iterator[None]:
    """Tests without a transaction empty all tables at their end; the guards step aside, and return with the signal
    that the emptying sends.
    """
    emptied: Any = TransactionTestCase
    empty = emptied._fixture_teardown

    def with_guards_down(case: Any) -> None:
        guards_take_down(connection)
        empty(case)

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(emptied, "_fixture_teardown", with_guards_down)
        yield


@pytest.fixture(autouse=True)
def no_earlier_attempts() -> None:
    """Sign-ins of other tests do not count."""
    cache.clear()


@pytest.fixture(autouse=True)
def planning_long_before_the_weeks(monkeypatch: pytest.MonkeyPatch) -> None:
    """Weeks of the tests begin in 2027; they are planned from NOW, whatever the calendar on the wall says."""
    monkeypatch.setattr("production.services.plans.moment_of_planning", lambda: NOW)


@pytest.fixture
def planning_now(planning_long_before_the_weeks: None, monkeypatch: pytest.MonkeyPatch) -> None:
    """For tests that move the clock themselves: planning looks at it."""
    monkeypatch.setattr("production.services.plans.moment_of_planning", timezone.now)


def kitchen_row(code: str) -> Kitchen:
    """A kitchen that has nothing yet."""
    return Kitchen.objects.create(
        code=code,
        name=f"Kitchen {code}",
        time_zone="Europe/Zurich",
        altitude_m=1200.0,
        units="metric",
        paper="a4",
        currency="CHF",
        cooling_rule="FDA_A_C",
        room_temp_c=20.0,
        mains_water_c=10.0,
        unattended_simmer=True,
        hot_hold_max_h=2.0,
        tasks_load_min=20.0,
        tasks_skim_min=10.0,
        tasks_draw_base_min=10.0,
        tasks_draw_min_per_l=0.3,
        tasks_refill_min=10.0,
        tasks_finish_min=10.0,
        tasks_portion_base_min=10.0,
        tasks_portion_min_per_l=0.5,
        tasks_wash_min=20.0,
        tasks_soak_min=30.0,
    )


@pytest.fixture
def kitchen(db: None) -> Kitchen:
    return kitchen_row("own")


@pytest.fixture
def other_kitchen(db: None) -> Kitchen:
    return kitchen_row("other")


@dataclass(frozen=True, slots=True)
class Cast:
    """The people of the tests; the outsider manages another kitchen, the stranger has none."""

    manager: Membership
    cook: Membership
    inspector: Membership
    administrator: Membership
    outsider: Membership
    stranger: User

    @property
    def kitchen(self) -> Kitchen:
        return self.manager.kitchen

    def members(self) -> tuple[Membership, ...]:
        return (self.manager, self.cook, self.inspector, self.administrator)


@pytest.fixture
def cast(db: None) -> Cast:
    """The kitchen `small` with one person of each role, and the kitchen `elsewhere` with its manager."""
    return kept("cast", _cast)


def _cast() -> Cast:
    small = kitchen_create(kitchen=a_kitchen())
    elsewhere = kitchen_create(kitchen=a_kitchen(code="elsewhere", name="Kitchen elsewhere"))

    def member(role: str, *, name: str = "", of: Kitchen = small) -> Membership:
        user = User.objects.create_user(name or role, password="steam and ladles")
        return membership_set(kitchen=of, user=user, role=role, by=None)

    return Cast(
        manager=member("manager"),
        cook=member("cook"),
        inspector=member("inspector"),
        administrator=member("administrator"),
        outsider=member("manager", name="outsider", of=elsewhere),
        stranger=User.objects.create_user("stranger", password="steam and ladles"),
    )


@pytest.fixture
def planning_week(cast: Cast) -> PlanningWeek:
    """The small kitchen's week, with orders and stock."""
    return kept("week", lambda: week_import(week=a_week(), by=cast.manager))
