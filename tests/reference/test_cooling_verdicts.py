"""Cooling logs worked by hand against the published text of their rules.

The limits are those of FDA Food Code 2022 3-501.14(A): 135 to 70 F within 2 hours, 135 to 41 F within a total of 6
hours (text read in 16 Del. Admin. Code 3-501.14), and of the other rules as each test says. No authority publishes
what a log with gaps proves: that a limit is met only if the least favourable history between the readings keeps it,
and breached only if the most favourable one misses it, is our own reading of these texts. The curves were judged by
hand and by a second program of the same reading.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta, timezone
from decimal import Decimal
from typing import Literal

import pytest

from production.domain.limits import rule
from production.domain.records import Evidence, Reading, Verdict, entered_late, judge

DRAWN = datetime(2026, 6, 3, 14, 0, tzinfo=UTC)
Unit = Literal["C", "F"]


def at(minute: float) -> datetime:
    return DRAWN + timedelta(minutes=minute)


def read(text: str, unit: Unit = "F") -> tuple[Reading, ...]:
    """ "0:135 25:*33" is 135 at minute 0 and, set aside, 33 at minute 25."""
    pairs = (entry.split(":") for entry in text.split())
    return tuple(
        Reading(at(float(minute)), Decimal(temp.lstrip("*")), unit, excluded=temp.startswith("*"))
        for minute, temp in pairs
    )


@dataclass(frozen=True)
class Curve:
    number: int
    readings: str
    start: float | None  # minute of the conservative start
    longest: tuple[float | None, float | None]  # minutes of the two stages in the worst case
    verdict: str
    now: float | None = None  # the log is open, minute at which it is judged; None: closed
    hot_fact: float | None = None


CURVES = [
    Curve(1, "0:180 25:135 60:100 120:72 140:69 220:52 330:41", 25, (115, 305), "met"),
    Curve(2, "0:135 60:95 120:70 240:52 360:41", 0, (120, 360), "met"),
    Curve(3, "0:135 60:96 120:70.1 240:52 360:41", 0, (240, 360), "breached"),
    Curve(4, "0:135 60:96 120:70 240:52 360:41.1", 0, (120, None), "breached"),
    Curve(5, "0:135 60:96 121:70 240:52 355:41", 0, (121, 355), "not_shown"),
    Curve(6, "0:150 20:130 75:90 130:68 300:41", 0, (130, 300), "not_shown"),
    Curve(7, "0:150 20:130 75:90 118:69 300:41", 0, (118, 300), "met"),
    Curve(8, "0:140 10:135 20:126 90:80 110:71 140:66 300:40", 10, (130, 290), "not_shown"),
    Curve(9, "0:135 30:100 60:70 180:55 300:45 360:41", 0, (60, 360), "met"),
    Curve(10, "0:135 60:90 100:69 130:74 160:68 300:41", 0, (160, 300), "breached"),
    Curve(11, "0:135 60:88 90:66 200:41 230:44 320:40", 0, (90, 320), "met"),
    Curve(12, "0:128 45:95 90:69 240:41", None, (None, None), "not_shown"),
    Curve(13, "0:128 45:95 90:69 240:41", -25, (115, 265), "met", hot_fact=-25),
    Curve(14, "0:128 45:95 90:69 240:41", -40, (130, 280), "not_shown", hot_fact=-40),
    Curve(15, "0:135 60:92 110:68 240:50", 0, (110, None), "running", now=240),
    Curve(16, "0:135 60:92 110:68 240:50", 0, (110, None), "not_shown", now=400),
    Curve(17, "0:135 60:92 110:68 240:50 900:37", 0, (110, 900), "not_shown", now=900),
    Curve(18, "0:135 110:68 60:92 350:41", 0, (110, 350), "met"),
    Curve(19, "0:150 15:137 25:*33 60:108 115:72 150:60 330:41", 15, (135, 315), "not_shown"),
    Curve(20, "0:136 118:69.5 355:40.5", 0, (118, 355), "met"),
    Curve(21, "0:136 135:60 355:40.5", 0, (135, 355), "not_shown"),
    Curve(22, "0:200 30:160 60:140 75:133 150:80 165:71 179:70 380:41", 60, (119, 320), "met"),
    Curve(23, "0:135 60:100 125:78", 0, (None, None), "breached", now=125),
    Curve(24, "0:135 60:100 90:85", 0, (None, None), "running", now=90),
    Curve(25, "0:160 20:145", 20, (None, None), "not_started", now=20),
    Curve(26, "0:135 60:92 60:88 115:70 115:71 119:70 340:41", 0, (119, 340), "met"),
    Curve(27, "0:135 40:70 60:60 330:43 345:41.5 362:41", 0, (40, 362), "not_shown"),
    Curve(28, "0:150 60:120 125:75 150:69 330:41", 0, (150, 330), "not_shown"),
    Curve(29, "0:135 60:104 120:81 150:70 330:41", 0, (150, 330), "breached"),
    Curve(30, "150:135 200:88 255:70 480:41", 150, (105, 330), "met"),  # second attempt of the test below
]


def minutes(length: timedelta | None) -> float | None:
    return None if length is None else length / timedelta(minutes=1)


def verdict_of(curve: Curve) -> Verdict:
    return judge(
        rule("FDA_A"),
        Evidence(read(curve.readings), hot_fact_at=None if curve.hot_fact is None else at(curve.hot_fact)),
        now=None if curve.now is None else at(curve.now),
        closed=curve.now is None,
    )


@pytest.mark.parametrize("curve", CURVES, ids=[str(each.number) for each in CURVES])
def test_a_curve_worked_by_hand_is_judged_alike(curve: Curve) -> None:
    found = verdict_of(curve)
    assert found.state == curve.verdict, found.reasons
    assert found.stages[0].start_at == (None if curve.start is None else at(curve.start))
    assert tuple(minutes(stage.worst_elapsed) for stage in found.stages) == curve.longest


def test_there_are_thirty_of_them() -> None:
    assert [each.number for each in CURVES] == list(range(1, 31))


def judged(code: str, text: str, unit: Unit = "F", *, now: float | None = None) -> Verdict:
    moment = None if now is None else at(now)
    return judge(rule(code), Evidence(read(text, unit)), now=moment, closed=now is None)


def test_stage_by_stage_the_ninth_curve_is_too_slow_under_a_clock_per_stage() -> None:
    """COMAR 10.15.03.11 A(1): 70 to 41 F within an additional 4 hours; here 45 F, 4 hours after 70 F."""
    found = judged("US_MD_SCHED", CURVES[8].readings)
    assert [stage.state for stage in found.stages] == ["met", "breached"]
    assert minutes(found.stages[1].best_elapsed) == 240


def test_the_first_attempt_before_a_reheat_stays_unfinished_and_the_second_is_met() -> None:
    first = judged("FDA_A", "0:135 60:110 110:84", now=110)
    assert first.state == "running"
    assert judged("FDA_A", "0:135 60:110 110:84").state == "not_shown"
    assert verdict_of(CURVES[29]).state == "met"


def test_a_closed_log_with_hot_readings_only_shows_nothing() -> None:
    assert judged("FDA_A", CURVES[24].readings).state == "not_shown"


def test_an_open_log_whose_last_hot_reading_is_older_than_the_limit_shows_nothing() -> None:
    assert judged("FDA_A", "0:160 20:145", now=140).state == "not_started"
    assert judged("FDA_A", "0:160 20:145", now=140.1).state == "not_shown"


def test_the_printed_celsius_limit_is_not_the_fahrenheit_limit_converted() -> None:
    """FDA Food Code 3-501.14(A) prints 57 C / 21 C beside 135 F / 70 F; 21 C is 69.8 F, 21.1 C is 69.98 F."""
    log = "0:57 60:33 118:21.1 330:5"
    assert judged("FDA_A_C", log, "C").state == "not_shown"
    hot_in_both = "0:57.3 60:33 118:21.1 330:5"
    assert judged("FDA_A_C", hot_in_both, "C").state == "not_shown"
    assert judged("FDA_A", hot_in_both, "C").state == "met"
    assert judged("FDA_A", "0:134.6 60:91.4 118:69.98 330:41").state == "not_shown"  # 57 C is below 135 F


def test_per_stage_and_total_clocks_part_at_the_second_stage() -> None:
    """Standard 3.2.2 clause 7(3), Australia: 60 to 21 C in 2 hours, to 5 C in a further 4 hours."""
    log = "0:60 40:21 285:6 300:5"
    australian = judged("AU_322", log, "C")
    assert [stage.state for stage in australian.stages] == ["met", "breached"]
    assert minutes(australian.stages[1].best_elapsed) == 245
    american = judged("FDA_A_C", log, "C")
    assert american.state == "met"
    assert [minutes(stage.worst_elapsed) for stage in american.stages] == [40, 300]


def test_the_hour_that_the_clocks_are_put_back_is_counted() -> None:
    """US Eastern time, 1 November 2026: the clock on the wall says 100 minutes, 160 have passed."""
    summer, winter = timezone(timedelta(hours=-4)), timezone(timedelta(hours=-5))
    log = (
        Reading(datetime(2026, 11, 1, 0, 30, tzinfo=summer), Decimal(135), "F"),
        Reading(datetime(2026, 11, 1, 2, 10, tzinfo=winter), Decimal(71), "F"),
    )
    found = judge(rule("FDA_A"), Evidence(log), closed=True)
    assert found.stages[0].state == "breached"
    assert minutes(found.stages[0].best_elapsed) == 160


def test_less_than_two_hours_is_not_two_hours() -> None:
    """Arrete du 21 decembre 2009, annexe IV, France: from 63 to 10 C in less than 2 hours."""
    assert judged("FR_2009", "0:63 119:10", "C").state == "met"
    assert judged("FR_2009", "0:63 120:10", "C").state == "not_shown"
    assert judged("FR_2009", "0:63 60:30", "C", now=119.9).state == "running"
    assert judged("FR_2009", "0:63 60:30", "C", now=120).state == "not_shown"
    assert judged("CODEX_39", "0:60 120:10", "C").state == "met"  # CAC/RCP 39-1993, from memory: 2 hours count
    assert judged("CODEX_39", "0:60 60:30", "C", now=120).state == "running"


@pytest.mark.parametrize(
    ("event", "log", "verdict"),
    [
        (0, "5:85 100:20 150:3", "met"),
        (0, "5:85 100:20 151:3", "not_shown"),
        (0, "5:85 100:20 150:3.1 160:3", "breached"),
        (None, "5:85 100:20 150:3", "not_shown"),
        (10, "5:2 160:3", "met"),
        (10, "5:2", "not_shown"),
    ],
)
def test_a_rule_that_counts_from_an_event_needs_its_time(event: float | None, log: str, verdict: str) -> None:
    """Guidance Note 15, Food Safety Authority of Ireland (abstract, 2018): 3 C within 150 minutes of cooking."""
    evidence = Evidence(read(log, "C"), event_at=None if event is None else at(event))
    assert judge(rule("IE_GN15"), evidence, closed=True).state == verdict


def test_the_last_stretch_without_a_limit_is_met_when_it_is_read() -> None:
    """USDA FSIS Appendix B 1999 paragraph 2: 120 to 80 F in 1 h, to 55 F in 5 h more, then on to 40 F."""
    log = "0:120 60:80 360:55"
    assert [each.state for each in judged("FSIS_B_OPT2", log, now=2000).stages] == ["met", "met", "running"]
    assert judged("FSIS_B_OPT2", log).state == "not_shown"
    assert judged("FSIS_B_OPT2", f"{log} 3000:40").state == "met"
    assert judged("FSIS_B_OPT2", "0:120 60:80 361:55 900:40").stages[1].state == "not_shown"


def test_a_rule_without_numbers_is_never_met() -> None:
    """Regulation (EC) 852/2004, Annex II chapter IX paragraph 6: as quickly as possible; from memory."""
    assert judged("EU_852", "0:90 10:1", "C").state == "not_shown"
    assert judged("EU_852", "0:90 10:1", "C", now=11).state == "not_shown"


def moved(readings: tuple[Reading, ...]) -> tuple[Reading, ...]:
    return tuple(Reading(each.at + timedelta(days=31), each.temp, each.unit, each.excluded) for each in readings)


@pytest.mark.parametrize(
    "change",
    [moved, lambda readings: tuple(reversed(readings)), lambda readings: readings * 2],
    ids=["a month later", "entered backwards", "sent twice"],
)
def test_the_curves_are_judged_alike(change: Callable[[tuple[Reading, ...]], tuple[Reading, ...]]) -> None:
    for curve in CURVES:
        if curve.now is None and curve.hot_fact is None:
            found = judge(rule("FDA_A"), Evidence(change(read(curve.readings))), closed=True)
            assert found.state == curve.verdict, curve.number
            assert tuple(minutes(stage.worst_elapsed) for stage in found.stages) == curve.longest


def test_the_eighteenth_curve_tells_what_was_entered_late() -> None:
    assert [each.temp for each in entered_late(read(CURVES[17].readings))] == [92]


def test_the_eleventh_curve_tells_that_it_was_warm_again() -> None:
    [note] = verdict_of(CURVES[10]).notes
    assert note.startswith("41 °F on 3 Jun 17:20 UTC was at or below 41 °F, then 44 °F on 3 Jun 17:50 UTC:")


def test_the_twentieth_curve_tells_its_longest_gap() -> None:
    assert minutes(verdict_of(CURVES[19]).longest_gap) == 237
