"""The clock and the cast that every test shares."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, datetime

import pytest
import time_machine

from production.models import Kitchen

NOW = datetime(2026, 3, 2, 9, 0, tzinfo=UTC)


@pytest.fixture
def clock() -> Iterator[time_machine.Traveller]:
    """Time stands still at NOW until the test moves it."""
    with time_machine.travel(NOW, tick=False) as traveller:
        yield traveller


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
