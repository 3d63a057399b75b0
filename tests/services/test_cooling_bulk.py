"""Readings in bulk from a gateway, and several writers at one log."""

from __future__ import annotations

import threading
from collections.abc import Callable
from datetime import datetime, timedelta

import pytest
from django.db import connection
from django.db.models import F

from production.domain.errors import DoesNotFit
from production.domain.records.verdicts import State
from production.models import CoolingRecord, Entry, Membership, PlanningWeek, Reading, Thermometer
from production.services.cooling_bulk import MOST_READINGS, ProbeReading, readings_bulk
from production.services.cooling_rows import cooling_refresh, kept_readings, verdict_on
from tests.conftest import Cast
from tests.services.cooling_kit import a_run, a_thermometer, act, again, opened, read, sent, take, verdict


@pytest.fixture
def cooling(cast: Cast, planning_week: PlanningWeek) -> CoolingRecord:
    return opened(cast.cook, a_run(cast.manager, planning_week))


@pytest.fixture
def probe(cast: Cast) -> Thermometer:
    return a_thermometer(cast.manager, code="p1", name="Probe 1", kind="probe")


def place(by: Membership, probe: str, cooling: CoolingRecord | None, at: datetime) -> None:
    told = {"cooling": "" if cooling is None else cooling.subject}
    (answer,) = take(by, sent("probe_placed", f"thermometer/{probe}", at, told), now=at)
    assert answer.outcome == "kept", answer


def course(cooling: CoolingRecord, minutes: int, *, probe: str = "p1", every: int = 1) -> list[ProbeReading]:
    """One reading a minute of a cooling that meets its limits: 21 degC after 95 min, 5 degC after 190 min."""
    return [
        ProbeReading(
            probe=probe,
            at=cooling.opened_at + timedelta(minutes=minute),
            temp=f"{88.0 * 0.985**minute:.1f}",
        )
        for minute in range(0, minutes, every)
    ]


def after(cooling: CoolingRecord, minutes: float) -> datetime:
    return cooling.opened_at + timedelta(minutes=minutes)


def test_a_log_closes_by_itself_when_its_probe_has_shown_the_last_limit_for_a_quarter_of_an_hour(
    cast: Cast, cooling: CoolingRecord, probe: Thermometer
) -> None:
    place(cast.cook, "p1", cooling, cooling.opened_at)
    answers = readings_bulk(by=cast.cook, readings=course(cooling, 300), now=after(cooling, 301))
    assert [each.outcome for each in answers] == ["kept"] * 206 + ["refused"] * 94
    assert {each.code for each in answers[206:]} == {"probe-not-placed"}
    row = again(cooling)
    assert (verdict(cooling), row.closed_at) == (State.MET, after(cooling, 205))
    assert row.reading_count == 206
    assert len(row.curve) <= 60
    closed = Entry.objects.get(kind="cooling_closed")
    assert closed.content["rests_on"]["count"] == 206
    assert closed.content["closed_by_program"] is True
    assert act(cast.cook, cooling, "cooling_closed", 302, {}).code == "cooling-closed-already"


def test_a_probe_left_in_the_store_does_not_take_the_last_limit_back(
    cast: Cast, cooling: CoolingRecord, probe: Thermometer
) -> None:
    place(cast.cook, "p1", cooling, cooling.opened_at)
    readings = course(cooling, 600)
    warm = ProbeReading(probe="p1", at=after(cooling, 500.5), temp="6.2")
    readings_bulk(by=cast.cook, readings=[*readings, warm], now=after(cooling, 601))
    assert verdict(cooling) is State.MET


def test_a_log_does_not_close_by_itself_while_its_last_target_comes_and_goes_or_a_limit_is_missed(
    cast: Cast, cooling: CoolingRecord, probe: Thermometer
) -> None:
    place(cast.cook, "p1", cooling, cooling.opened_at)
    flicker = [ProbeReading(probe="p1", at=after(cooling, 194 + n * 10 + 0.5), temp="5.1") for n in range(4)]
    readings_bulk(by=cast.cook, readings=[*course(cooling, 230), *flicker], now=after(cooling, 231))
    assert verdict(cooling) is None
    other = CoolingRecord.objects.get(pk=cooling.pk)
    slow = [ProbeReading(probe="p1", at=after(cooling, 240 + n * 60), temp=t) for n, t in enumerate(("30", "4", "4"))]
    readings_bulk(by=cast.cook, readings=slow, now=after(cooling, 500))
    assert other.closed_at is None
    assert verdict(cooling) is None


def test_a_log_with_a_reading_that_is_asked_about_is_left_to_people(
    cast: Cast, cooling: CoolingRecord, probe: Thermometer
) -> None:
    place(cast.cook, "p1", cooling, cooling.opened_at)
    readings_bulk(by=cast.cook, readings=course(cooling, 100), now=after(cooling, 101))
    assert read(cast.cook, cooling, 100.5, "0.1").outcome == "questioned"
    readings_bulk(by=cast.cook, readings=course(cooling, 300)[100:], now=after(cooling, 301))
    assert verdict(cooling) is None
    assert again(cooling).reading_count == 301


def test_a_post_that_comes_again_adds_nothing(cast: Cast, cooling: CoolingRecord, probe: Thermometer) -> None:
    place(cast.cook, "p1", cooling, cooling.opened_at)
    first = readings_bulk(by=cast.cook, readings=course(cooling, 60), now=after(cooling, 61))
    second = readings_bulk(by=cast.cook, readings=course(cooling, 90), now=after(cooling, 91))
    assert [each.outcome for each in second] == ["known"] * 60 + ["kept"] * 30
    assert [each.number for each in second[:60]] == [each.number for each in first]
    assert again(cooling).reading_count == 90


def test_one_bad_reading_stops_no_other(cast: Cast, cooling: CoolingRecord, probe: Thermometer) -> None:
    a_thermometer(cast.manager)
    place(cast.cook, "p1", cooling, after(cooling, 1))
    good = ProbeReading(probe="p1", at=after(cooling, 5), temp="80.1")
    bad = [
        ProbeReading(probe="p1", at=after(cooling, 6), temp="hot"),
        ProbeReading(probe="p9", at=after(cooling, 6), temp="80"),
        ProbeReading(probe="t1", at=after(cooling, 6), temp="80"),
        ProbeReading(probe="p1", at=after(cooling, 0.5), temp="80"),
        ProbeReading(probe="p1", at=after(cooling, 60), temp="80"),
    ]
    answers = readings_bulk(by=cast.cook, readings=[*bad, good, good], now=after(cooling, 10))
    assert [each.code for each in answers[:5]] == [
        "reading-temp",
        "probe-unknown",
        "probe-unknown",
        "probe-not-placed",
        "in-the-future",
    ]
    assert [each.outcome for each in answers] == ["refused"] * 5 + ["kept"] * 2
    assert Reading.objects.count() == 1


def test_a_probe_goes_from_one_cooling_to_the_next(cast: Cast, cooling: CoolingRecord, probe: Thermometer) -> None:
    at = after(cooling, 30)
    subject = f"{cooling.subject.rsplit('/', 1)[0]}/2.1"
    take(cast.cook, sent("cooling_opened", subject, at, {}), now=at)
    second = CoolingRecord.objects.get(subject=subject)
    place(cast.cook, "p1", cooling, cooling.opened_at)
    place(cast.cook, "p1", second, after(cooling, 30))
    place(cast.cook, "p1", None, after(cooling, 50))
    answers = readings_bulk(by=cast.cook, readings=course(cooling, 60), now=after(cooling, 61))
    assert [each.outcome for each in answers] == ["kept"] * 50 + ["refused"] * 10
    assert (again(cooling).reading_count, again(second).reading_count) == (30, 20)


def test_after_closing_a_probe_stands_nowhere_but_what_it_measured_before_still_comes_in(
    cast: Cast, cooling: CoolingRecord, probe: Thermometer
) -> None:
    place(cast.cook, "p1", cooling, cooling.opened_at)
    readings = course(cooling, 320)
    readings_bulk(by=cast.cook, readings=[*readings[:200], *readings[210:300]], now=after(cooling, 301))
    answers = readings_bulk(by=cast.cook, readings=readings[200:], now=after(cooling, 321))
    assert [each.outcome for each in answers[:11]] == ["kept"] * 10 + ["known"]
    assert [each.code for each in answers[11:]] == ["probe-not-placed"] * 109
    assert verdict(cooling) is State.MET
    assert Entry.objects.filter(kind="cooling_judged_again").count() == 1


def test_a_probe_that_warms_up_first_is_asked_about_and_forgiven(
    cast: Cast, cooling: CoolingRecord, probe: Thermometer
) -> None:
    place(cast.cook, "p1", cooling, cooling.opened_at)
    readings = course(cooling, 40)
    cold = [ProbeReading(probe="p1", at=after(cooling, 0.2), temp="22.0")]
    answers = readings_bulk(by=cast.cook, readings=[*cold, *readings[1:]], now=after(cooling, 41))
    assert (answers[0].outcome, answers[0].code) == ("questioned", "falls-too-fast")
    assert {each.outcome for each in answers[1:]} == {"kept"}
    row = again(cooling)
    assert verdict_on(row, now=after(cooling, 41)).state is State.RUNNING


def test_too_many_at_once_are_refused_as_a_whole(cast: Cast, cooling: CoolingRecord) -> None:
    one = ProbeReading(probe="p1", at=cooling.opened_at, temp="80")
    with pytest.raises(DoesNotFit) as caught:
        readings_bulk(by=cast.cook, readings=[one] * (MOST_READINGS + 1), now=cooling.opened_at)
    assert caught.value.code == "too-many-readings"


def test_a_corrected_probe_is_corrected_in_bulk_as_by_hand(
    cast: Cast, cooling: CoolingRecord, probe: Thermometer
) -> None:
    Thermometer.objects.filter(pk=probe.pk).update(correction=F("correction") + 1)
    place(cast.cook, "p1", cooling, cooling.opened_at)
    readings_bulk(by=cast.cook, readings=course(cooling, 1), now=after(cooling, 1))
    assert Reading.objects.get().temp == "89.0"


# --- two writers at once ----------------------------------------------------------------------------------------------


def together(*works: Callable[[], object]) -> list[object]:
    """Do several things at the same moment, each on a connection of its own."""
    start, results = threading.Barrier(len(works)), [None] * len(works)

    def do(place: int, work: Callable[[], object]) -> None:
        try:
            start.wait()
            results[place] = work()  # type: ignore[call-overload]
        finally:
            connection.close()

    threads = [threading.Thread(target=do, args=each) for each in enumerate(works)]
    for each in threads:
        each.start()
    for each in threads:
        each.join()
    return list(results)


@pytest.mark.postgres
@pytest.mark.django_db(transaction=True)
def test_two_people_and_a_probe_write_into_one_log_at_once_and_nothing_is_lost(
    cast: Cast, cooling: CoolingRecord, probe: Thermometer
) -> None:
    place(cast.cook, "p1", cooling, cooling.opened_at)

    def cook() -> object:
        return [read(cast.cook, cooling, minute + 0.3, f"{88.0 * 0.985**minute:.1f}") for minute in range(1, 9)]

    def manager() -> object:
        return [read(cast.manager, cooling, minute + 0.6, f"{88.0 * 0.985**minute:.1f}") for minute in range(1, 9)]

    def gateway() -> object:
        return readings_bulk(by=cast.cook, readings=course(cooling, 40), now=after(cooling, 41))

    together(cook, manager, gateway)
    row = again(cooling)
    assert (row.reading_count, Reading.objects.count()) == (56, 56)
    kept = kept_readings(row)
    before = row.digest
    cooling_refresh(row)
    assert (len(kept), row.digest) == (56, before)
    assert list(Entry.objects.order_by("number").values_list("number", flat=True)) == list(
        range(1, Entry.objects.count() + 1)
    )


@pytest.mark.postgres
@pytest.mark.django_db(transaction=True)
def test_two_people_close_a_log_at_once_and_it_is_closed_once(cast: Cast, cooling: CoolingRecord) -> None:
    for minute, temp in ((2, "80"), (25, "57"), (150, "30")):
        read(cast.cook, cooling, minute, temp)
    answers = together(
        lambda: act(cast.cook, cooling, "cooling_closed", 160, {}),
        lambda: act(cast.manager, cooling, "cooling_closed", 160, {}),
    )
    assert sorted(each.outcome for each in answers) == ["kept", "refused"]  # type: ignore[attr-defined]
    assert Entry.objects.filter(kind="cooling_closed").count() == 1
