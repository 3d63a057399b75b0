"""Cooling logs under strain: what was taken back, parted, re-heated or put right later never makes a verdict better."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal

import pytest

from production.domain.records.verdicts import State
from production.models import CoolingRecord, Entry, PlanningWeek, Product, Reading, RunRecord, Store
from production.selectors.lots import lot_verdict
from production.services.cooling_bulk import ProbeReading, readings_bulk
from production.services.lots import lot_make
from tests.conftest import Cast
from tests.services.cooling_kit import (
    GOOD,
    a_run,
    a_thermometer,
    act,
    drawn_at,
    opened,
    read,
    read_all,
    sent,
    take,
    verdict,
)


@pytest.fixture
def run(cast: Cast, planning_week: PlanningWeek) -> RunRecord:
    return a_run(cast.manager, planning_week)


@pytest.fixture
def cooling(cast: Cast, run: RunRecord) -> CoolingRecord:
    return opened(cast.cook, run)


def _part(cast: Cast, whole: CoolingRecord, minute: float, name: str = "elsewhere/2.1") -> CoolingRecord:
    """Some vessels of the group go elsewhere."""
    subject = whole.subject.rsplit("/", 2)[0] + f"/{name}"
    at = whole.opened_at + timedelta(minutes=minute)
    told = {"parted_from": whole.subject, "place": "Walk-in room", "vessels": "1"}
    answer = take(cast.cook, sent("cooling_opened", subject, at, told), now=at)[0]
    assert answer.outcome == "kept", answer
    return CoolingRecord.objects.get(subject=subject)


def _close(cast: Cast, cooling: CoolingRecord, whole: CoolingRecord, minute: float) -> None:
    at = whole.opened_at + timedelta(minutes=minute)
    answer = take(cast.cook, sent("cooling_closed", cooling.subject, at, {}), now=at)[0]
    assert answer.outcome == "kept", answer


# --- ice that explains a fall ---------------------------------------------------------------------------------------


def test_ice_that_was_taken_back_explains_no_fall(cast: Cast, cooling: CoolingRecord) -> None:
    read(cast.cook, cooling, 1, "80")
    act(cast.cook, cooling, "ice_added", 1.5, {"mass": "2 kg", "into": "broth"})
    assert read(cast.cook, cooling, 2, "20").outcome == "kept"
    ice = Entry.objects.get(subject=cooling.subject, kind="ice_added")
    at = cooling.opened_at + timedelta(minutes=3)
    gone = sent("withdrawn", cooling.subject, at, {}, corrects=ice.key, reason="that was another pot")
    assert take(cast.cook, gone, now=at)[0].outcome == "kept"
    assert Reading.objects.get(cooling=cooling, temp="20").question == "falls-too-fast"


def test_ice_that_comes_later_explains_no_earlier_fall(cast: Cast, cooling: CoolingRecord) -> None:
    read(cast.cook, cooling, 1, "80")
    assert read(cast.cook, cooling, 2, "20").code == "falls-too-fast"
    act(cast.cook, cooling, "ice_added", 60, {"mass": "2 kg", "into": "broth"})
    assert Reading.objects.get(cooling=cooling, temp="20").question == "falls-too-fast"


def test_ice_that_came_before_a_fall_still_explains_it_when_more_comes_later(
    cast: Cast, cooling: CoolingRecord
) -> None:
    read(cast.cook, cooling, 1, "80")
    act(cast.cook, cooling, "ice_added", 1.5, {"mass": "2 kg", "into": "broth"})
    read(cast.cook, cooling, 2, "20")
    act(cast.cook, cooling, "ice_added", 60, {"mass": "2 kg", "into": "broth"})
    assert Reading.objects.get(cooling=cooling, temp="20").question == ""


def test_a_closed_log_is_judged_again_when_the_ice_that_explained_a_fall_is_taken_back(
    cast: Cast, cooling: CoolingRecord
) -> None:
    read(cast.cook, cooling, 1, "80")
    act(cast.cook, cooling, "ice_added", 1.5, {"mass": "2 kg", "into": "broth"})
    read_all(cast.cook, cooling, ((2, "20"), (300, "5")))
    _close(cast, cooling, cooling, 301)
    assert verdict(cooling) is State.MET
    ice = Entry.objects.get(subject=cooling.subject, kind="ice_added")
    at = cooling.opened_at + timedelta(minutes=302)
    gone = sent("withdrawn", cooling.subject, at, {}, corrects=ice.key, reason="that was another pot")
    assert take(cast.cook, gone, now=at)[0].outcome == "kept"
    assert verdict(cooling) is State.NOT_SHOWN


# --- re-heating -----------------------------------------------------------------------------------------------------


def test_a_reheat_counts_what_a_corrected_thermometer_really_shows(cast: Cast, cooling: CoolingRecord) -> None:
    a_thermometer(cast.manager, correction=Decimal("-2.0"))
    read(cast.cook, cooling, 2, "80", thermometer="t1")
    read(cast.cook, cooling, 60, "50", thermometer="t1")
    told = {"temp": "75", "unit": "C", "seconds": "20", "took_s": "600", "thermometer": "t1"}
    answer = act(cast.cook, cooling, "reheated", 90, told)
    assert (answer.outcome, answer.code) == ("questioned", "reheat-too-cold")
    assert not CoolingRecord.objects.filter(run=cooling.run, attempt=2).exists()


def test_a_reheat_hotter_than_boiling_is_asked_about_and_begins_nothing(cast: Cast, cooling: CoolingRecord) -> None:
    read(cast.cook, cooling, 2, "80")
    read(cast.cook, cooling, 60, "50")
    told = {"temp": "165", "unit": "C", "seconds": "20", "took_s": "600"}
    answer = act(cast.cook, cooling, "reheated", 90, told)
    assert (answer.outcome, answer.code) == ("questioned", "reheat-impossible")
    assert not CoolingRecord.objects.filter(run=cooling.run, attempt=2).exists()


def test_a_part_of_what_was_reheated_is_not_reheated_again(cast: Cast, cooling: CoolingRecord) -> None:
    read(cast.cook, cooling, 2, "80")
    read(cast.cook, cooling, 60, "50")
    told = {"temp": "75", "unit": "C", "seconds": "20", "took_s": "600"}
    assert act(cast.cook, cooling, "reheated", 90, told).outcome == "kept"
    second = CoolingRecord.objects.get(run=cooling.run, attempt=2)
    read(cast.cook, second, 2, "74")
    part = _part(cast, second, 10)
    read(cast.cook, part, 40, "50")
    answer = act(cast.cook, part, "reheated", 60, told)
    assert (answer.outcome, answer.code) == ("questioned", "reheat-not-allowed")


def test_a_lot_of_a_part_carries_what_the_group_went_through_before_its_reheat(
    cast: Cast, cooling: CoolingRecord
) -> None:
    read(cast.cook, cooling, 2, "80")
    read(cast.cook, cooling, 60, "50")
    told = {"temp": "75", "unit": "C", "seconds": "20", "took_s": "600"}
    assert act(cast.cook, cooling, "reheated", 90, told).outcome == "kept"
    second = CoolingRecord.objects.get(run=cooling.run, attempt=2)
    read_all(cast.cook, second, ((2, "74"), (25, "57")))
    part = _part(cast, second, 30)
    for minute, temp in ((30, "35"), (80, "21"), (270, "5")):
        read(cast.cook, part, minute, temp)
    _close(cast, part, second, 301)
    assert verdict(part) is State.MET
    product = Product.objects.filter(kitchen=cast.kitchen, kind="broth", formula__name=cooling.run.sheet["formula"])[0]
    packed_at = second.opened_at + timedelta(minutes=310)
    lot = lot_make(
        by=cast.cook,
        coolings=[part.subject],
        product=product.code,
        containers=1,
        store=Store.objects.filter(kitchen=cast.kitchen, kind=product.storage)[0].code,
        packed_at=packed_at,
        key="packed",
        now=packed_at,
    )
    assert {each.subject for each in lot.coolings.all()} == {part.subject, cooling.subject}
    assert lot_verdict(lot) != "met"


# --- groups that are parted -----------------------------------------------------------------------------------------


def test_a_closed_part_is_judged_again_when_a_reading_of_the_whole_is_set_aside(
    cast: Cast, cooling: CoolingRecord
) -> None:
    read_all(cast.cook, cooling, GOOD[:2])
    part = _part(cast, cooling, 30)
    at = cooling.opened_at
    for minute, temp in GOOD[2:]:
        moment = at + timedelta(minutes=minute)
        take(cast.cook, sent("reading", part.subject, moment, {"temp": temp, "unit": "C"}), now=moment)
    _close(cast, part, cooling, 301)
    assert verdict(part) is State.MET
    for row in Reading.objects.filter(cooling=cooling):
        moment = at + timedelta(minutes=400)
        aside = sent("reading_excluded", cooling.subject, moment, {}, corrects=row.entry.key, reason="other pot")
        assert take(cast.cook, aside, now=moment)[0].outcome == "kept"
    assert verdict(part) is State.NOT_SHOWN


# --- what an entry says of itself ------------------------------------------------------------------------------------


@pytest.mark.parametrize("said", [{"measured_at": "soon"}, {"confirms": 1}, {"question": "x"}, {"verdict": "met"}])
def test_an_entry_does_not_say_of_itself_what_only_the_kitchen_says(
    cast: Cast, cooling: CoolingRecord, said: dict[str, object]
) -> None:
    answer = read(cast.cook, cooling, 2, "80", **said)
    assert (answer.outcome, answer.code) == ("refused", "content-not-its-own")
    assert not Reading.objects.filter(cooling=cooling).exists()


# --- gateways -------------------------------------------------------------------------------------------------------


def test_a_gateway_that_uses_a_key_again_for_another_reading_is_told(cast: Cast, cooling: CoolingRecord) -> None:
    a_thermometer(cast.manager, code="p1", kind="probe")
    at = cooling.opened_at
    take(cast.cook, sent("probe_placed", "thermometer/p1", at, {"cooling": cooling.subject}), now=at)
    first = ProbeReading(probe="p1", at=at + timedelta(minutes=1), temp="80", key="1")
    second = ProbeReading(probe="p1", at=at + timedelta(minutes=2), temp="79", key="1")
    now = at + timedelta(minutes=5)
    assert [each.outcome for each in readings_bulk(by=cast.cook, readings=[first], now=now)] == ["kept"]
    [again_first, other] = readings_bulk(by=cast.cook, readings=[first, second], now=now)
    assert (again_first.outcome, other.outcome, other.code) == ("known", "refused", "key-used-for-other-record")
    at_once = [ProbeReading(probe="p1", at=now, temp=temp, key="2") for temp in ("70", "75")]
    assert [each.outcome for each in readings_bulk(by=cast.cook, readings=at_once, now=now)] == ["kept", "refused"]


def test_what_the_gateway_sends_twice_in_one_post_is_kept_once(cast: Cast, cooling: CoolingRecord) -> None:
    a_thermometer(cast.manager, code="p1", kind="probe")
    at = cooling.opened_at
    take(cast.cook, sent("probe_placed", "thermometer/p1", at, {"cooling": cooling.subject}), now=at)
    same = ProbeReading(probe="p1", at=at + timedelta(minutes=1), temp="80")
    answers = readings_bulk(by=cast.cook, readings=[same, same], now=at + timedelta(minutes=5))
    assert [each.outcome for each in answers] == ["kept", "kept"]
    assert Reading.objects.filter(cooling=cooling).count() == 1


# --- records of heat that are put right ---------------------------------------------------------------------------


def test_a_closed_log_that_rested_on_a_hot_draw_is_judged_again_when_the_draw_is_taken_back(
    cast: Cast, run: RunRecord
) -> None:
    at = drawn_at(run)
    drawn = sent("drawn", run.subject, at, {"step": "draw.first", "volume": "26 L", "temp": "95 C", "confirmed": True})
    take(cast.cook, drawn, now=at)
    cooling = CoolingRecord.objects.filter(run=run).order_by("pk")[0]
    assert cooling.hot_fact_at == at
    read_all(cast.cook, cooling, ((60, "35"), (110, "21"), (300, "5")))
    _close(cast, cooling, cooling, 301)
    assert verdict(cooling) is State.MET
    later = at + timedelta(minutes=302)
    gone = sent("withdrawn", run.subject, later, {}, corrects=drawn["key"], reason="that was the other pot")
    assert take(cast.cook, gone, now=later)[0].outcome == "kept"
    assert CoolingRecord.objects.get(pk=cooling.pk).hot_fact_at is None
    assert verdict(cooling) is State.NOT_SHOWN
