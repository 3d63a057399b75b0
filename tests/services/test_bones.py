"""The bank of saved bones."""

from __future__ import annotations

from datetime import date
from decimal import Decimal

import pytest

from production.domain.errors import NotAllowed, PotwrightError
from production.models import Bones, Entry, LotSettings, PlanningWeek
from production.services.bones import bones_discard, bones_save, bones_use
from tests.builders import at
from tests.conftest import Cast
from tests.lots import a_plan, a_run

NOW = at("2027-02-01 10:00")
TODAY = date(2027, 2, 1)


@pytest.fixture(autouse=True)
def week(planning_week: PlanningWeek) -> PlanningWeek:
    return planning_week


def saved(cast: Cast, mass: str = "12.5", *, store: str = "freezer", key: str = "save", on: date = TODAY) -> Bones:
    return bones_save(
        by=cast.cook, ingredient="frames", mass_kg=Decimal(mass), saved_on=on, store=store, key=key, now=NOW
    )


def test_bones_are_dated_by_where_they_are_put(cast: Cast) -> None:
    assert saved(cast, store="freezer", key="a").use_by == date(2027, 5, 1)  # 90 days, today included
    assert saved(cast, store="walk-in", key="b").use_by == date(2027, 2, 2)  # 2 days


def test_the_kitchens_own_setting_dates_them(cast: Cast) -> None:
    LotSettings.objects.create(kitchen=cast.kitchen, label_law="eu", bones_chilled_days=1, bones_frozen_days=30)
    assert saved(cast).use_by == date(2027, 3, 2)


def test_the_same_entry_sent_twice_is_kept_once(cast: Cast) -> None:
    assert saved(cast).pk == saved(cast).pk
    assert Entry.objects.filter(kind="bones_saved").count() == 1


@pytest.mark.parametrize("mass", ["0", "-1", "0.01", "9999"])
def test_an_absurd_weight_is_refused(cast: Cast, mass: str) -> None:
    with pytest.raises(PotwrightError) as refused:
        saved(cast, mass)
    assert refused.value.code == "bones-mass-out-of-range"


def test_bones_that_are_too_old_already_are_not_put_by(cast: Cast) -> None:
    with pytest.raises(NotAllowed) as refused:
        saved(cast, store="walk-in", on=date(2027, 1, 30))
    assert refused.value.code == "bones-past-use-by"
    with pytest.raises(PotwrightError):
        saved(cast, on=date(2027, 2, 2))


def test_they_are_used_for_a_run_and_never_more_than_there_are(cast: Cast, planning_week: PlanningWeek) -> None:
    run = a_run(a_plan(cast, planning_week))
    bones = saved(cast)
    left = bones_use(by=cast.cook, code=bones.code, mass_kg=Decimal("5"), run=run.subject, key="use", now=NOW)
    assert left.left_kg == Decimal("7.50")
    assert (
        bones_use(by=cast.cook, code=bones.code, mass_kg=Decimal("5"), run=run.subject, key="use", now=NOW).left_kg
        == left.left_kg
    )
    with pytest.raises(PotwrightError):
        bones_use(by=cast.cook, code=bones.code, mass_kg=Decimal("8"), run=run.subject, key="more", now=NOW)


def test_bones_past_their_day_are_not_used_but_can_be_discarded(cast: Cast) -> None:
    bones = saved(cast, store="walk-in")
    late = at("2027-02-03 08:00")
    with pytest.raises(NotAllowed):
        bones_use(by=cast.cook, code=bones.code, mass_kg=Decimal("1"), run="", key="use", now=late)
    gone = bones_discard(by=cast.cook, code=bones.code, reason="Too old", key="bin", now=late)
    assert gone.left_kg == 0
    with pytest.raises(PotwrightError) as refused:
        bones_discard(by=cast.cook, code=bones.code, reason="Again", key="bin2", now=late)
    assert refused.value.code == "bones-have-not-so-much"


def test_an_inspector_puts_nothing_by(cast: Cast) -> None:
    with pytest.raises(NotAllowed):
        bones_save(
            by=cast.inspector,
            ingredient="frames",
            mass_kg=Decimal("5"),
            saved_on=TODAY,
            store="freezer",
            key="x",
            now=NOW,
        )
