"""Who gets which lot, and how full the stores will be."""

from __future__ import annotations

from datetime import UTC, date, datetime

import pytest
from hypothesis import given
from hypothesis import strategies as st

from production.domain.records.stock import Pick, Standing, Wanted, freezing_hours, pick_lots, room_ahead

TUESDAY = date(2027, 2, 2)


def a_standing(lot: str, **changes: object) -> Standing:
    values = {
        "lot": lot,
        "product": "broth",
        "store": "walk-in",
        "containers": 10,
        "made_on": date(2027, 2, 1),
        "use_by": date(2027, 2, 7),
    } | changes
    return Standing(**values)  # type: ignore[arg-type]


def wanted(line: str, containers: int, *, day: int = 3, hour: int = 9, product: str = "broth") -> Wanted:
    return Wanted(
        line=line,
        product=product,
        containers=containers,
        dispatch_at=datetime(2027, 2, day, hour, tzinfo=UTC),
        day=date(2027, 2, day),
    )


def test_the_lot_that_expires_first_leaves_first() -> None:
    lots = [a_standing("late", use_by=date(2027, 2, 9)), a_standing("early", use_by=date(2027, 2, 5))]
    picks = pick_lots(lots=lots, wanted=[wanted("L1", 12)], life_at_dispatch={"broth": 1})
    assert [(each.lot, each.containers) for each in picks.picks] == [("early", 10), ("late", 2)]
    assert picks.left == {"late": 8, "early": 0}
    assert picks.short == {}


def test_a_lot_with_too_little_life_left_stays() -> None:
    lots = [a_standing("old", use_by=date(2027, 2, 4)), a_standing("new", use_by=date(2027, 2, 8))]
    picks = pick_lots(lots=lots, wanted=[wanted("L1", 3)], life_at_dispatch={"broth": 3})
    assert [each.lot for each in picks.picks] == ["new"]


def test_what_no_lot_can_serve_is_told() -> None:
    picks = pick_lots(lots=[a_standing("only")], wanted=[wanted("L1", 13)], life_at_dispatch={})
    assert picks.short == {"L1": 3}


def test_a_lot_that_is_still_to_come_serves_nobody_before_it_is_there() -> None:
    lots = [a_standing("coming", there_on=date(2027, 2, 4))]
    asked = [wanted("early", 4, day=3), wanted("after", 4, day=4)]
    picks = pick_lots(lots=lots, wanted=asked, life_at_dispatch={})
    assert [each.line for each in picks.picks] == ["after"]
    assert picks.short == {"early": 4}


@given(
    counts=st.lists(st.integers(0, 30), min_size=1, max_size=6),
    asked=st.lists(st.integers(1, 30), min_size=1, max_size=6),
)
def test_no_container_is_given_twice_and_none_is_lost(counts: list[int], asked: list[int]) -> None:
    lots = [a_standing(f"lot{n}", containers=count) for n, count in enumerate(counts)]
    picks = pick_lots(lots=lots, wanted=[wanted(f"L{n}", count) for n, count in enumerate(asked)], life_at_dispatch={})
    given_out = sum(each.containers for each in picks.picks)
    assert given_out + sum(picks.left.values()) == sum(counts)
    assert given_out + sum(picks.short.values()) == sum(asked)
    assert given_out == min(sum(counts), sum(asked))


def test_a_store_is_fullest_before_what_leaves_on_the_day_has_left() -> None:
    standing = [(a_standing("here"), 5.0), (a_standing("comes", containers=4, there_on=date(2027, 2, 3)), 5.0)]
    pick = Pick(line="L1", lot="here", store="walk-in", containers=6, day=date(2027, 2, 3))
    days = room_ahead(first_day=TUESDAY, days=3, standing=standing, picks=[pick])["walk-in"]
    assert [each.litres for each in days] == [50.0, 70.0, 40.0]


def test_freezing_a_hundred_litres_of_stock_takes_a_small_freezer_most_of_half_a_day() -> None:
    # About 370 kJ/kg from 5 to -18 degC; 100 kg / 1 kW = 37 000 s.
    hours = freezing_hours(mass_kg=100.0, solids_percent=3.0, spare_kw=1.0)
    assert hours == pytest.approx(10.3, abs=0.4)
    assert freezing_hours(mass_kg=100.0, solids_percent=3.0, spare_kw=2.0) == pytest.approx(hours / 2)
