"""When a container will be cold enough, told from few readings, many readings and odd ones."""

from __future__ import annotations

import math
import random

import numpy as np
import pytest

from production.domain.errors import OutOfRange
from production.domain.parameters import DEFAULT_PARAMETERS
from production.domain.records.fitting import Place, Surroundings, surroundings_of, thinned
from production.domain.records.fitting.fits import _curves
from production.domain.records.fitting.surroundings import LEAST_SD_K
from production.domain.records.fitting.ways import ways_of
from production.domain.records.forecast import Forecast, Interval, Limit, forecast_cooling
from tests.benchmarks import forecast as benchmark


def place(kind: Place = "ice_sink", air_c: float | None = None) -> Surroundings:
    return surroundings_of(place=kind, parameters=DEFAULT_PARAMETERS, air_c=air_c)


def curve(minutes: list[float], *parts: tuple[float, float, float], start_c: float = 80.0) -> list[float]:
    """Temperatures where each part (until this minute, 1/h, degC) follows the one before."""
    temps = []
    for minute in minutes:
        temp, begun = start_c, 0.0
        for until, rate, sink in parts:
            temp = sink + (temp - sink) * math.exp(-rate / 60.0 * (min(minute, until) - begun))
            begun = until
            if minute <= until:
                break
        temps.append(temp)
    return temps


def ahead(minutes: list[float], temps: list[float], *targets: float, limits: tuple[Limit, ...] = ()) -> Forecast:
    return forecast_cooling(
        minutes=minutes, temps_c=temps, surroundings=place(), targets_c=targets or (21.1,), limits=limits
    )


def when(forecast: Forecast, number: int = 0) -> Interval:
    return forecast.reaches[number].minutes


EVERY_TEN = [0.0, 10.0, 20.0, 30.0]
STEADY = curve(EVERY_TEN, (math.inf, 1.8, 1.0))
TRUE_MIN = math.log(79.0 / 20.1) / 1.8 * 60.0


@pytest.mark.parametrize("kind", benchmark.NOISES)
def test_nine_of_ten_intervals_hold_the_truth_over_made_up_coolings(kind: str) -> None:
    chance = random.Random(2)
    judged = [row for _ in range(80) for row in benchmark.judge(benchmark.made_up(chance, benchmark.NOISES[kind]))]
    assert len(judged) > 500
    assert 0.86 <= benchmark.coverage(judged) <= 0.94
    early = [row for row in judged if row.readings == 3]
    assert 0.83 <= benchmark.coverage(early) <= 0.97


def test_an_interval_is_worth_more_than_a_line_through_the_last_two_readings() -> None:
    chance = random.Random(3)
    noise = benchmark.NOISES["normal"]
    judged = [row for _ in range(40) for row in benchmark.judge(benchmark.made_up(chance, noise))]
    ours = sorted(abs(row.middle_min - row.true_min) for row in judged)
    ruler = sorted(abs(row.naive_min - row.true_min) for row in judged)
    assert ours[len(ours) // 2] < 0.6 * ruler[len(ruler) // 2]


def test_readings_narrow_the_interval_and_it_keeps_holding_the_truth() -> None:
    widths = []
    for count in (1, 2, 3, 4):
        told = when(ahead(EVERY_TEN[:count], STEADY[:count]))
        assert told.low <= TRUE_MIN <= told.high
        widths.append(told.high - told.low)
    assert widths == sorted(widths, reverse=True)
    assert widths[-1] < 25.0


def test_one_reading_says_no_more_than_the_place_does() -> None:
    in_ice = when(ahead([0.0], [80.0]))
    in_air = when(
        forecast_cooling(minutes=[0.0], temps_c=[80.0], surroundings=place("cold_room", 3.0), targets_c=(21.1,))
    )
    assert in_ice.high > 3.0 * in_ice.low
    assert in_air.middle > 3.0 * in_ice.middle


def test_order_of_arrival_does_not_matter_and_two_readings_at_one_minute_are_both_used() -> None:
    once = ahead(EVERY_TEN, STEADY)
    assert ahead(EVERY_TEN[::-1], STEADY[::-1]) == once
    twice = ahead([*EVERY_TEN, 30.0], [*STEADY, STEADY[-1]])
    assert when(twice).low <= TRUE_MIN <= when(twice).high


def test_the_clock_of_the_readings_may_begin_anywhere() -> None:
    moved = ahead([each + 5000.0 for each in EVERY_TEN], STEADY)
    assert when(moved).middle == pytest.approx(5000.0 + when(ahead(EVERY_TEN, STEADY)).middle)


def test_what_the_readings_show_is_told_from_the_readings() -> None:
    told = ahead([0.0, 30.0, 60.0, 90.0], [70.0, 40.0, 20.0, 12.0], 21.1, 5.0, 90.0)
    seen, ahead_of_us, before = told.reaches
    assert seen.seen
    assert (seen.minutes.low, seen.minutes.high) == (30.0, 60.0)
    assert seen.minutes.middle == pytest.approx(30.0 + 30.0 * 18.9 / 20.0)
    assert not ahead_of_us.seen
    assert ahead_of_us.minutes.low > 90.0
    assert before.minutes == Interval(low=-math.inf, middle=0.0, high=0.0)


def test_a_reading_above_the_target_takes_back_an_earlier_one_below_it() -> None:
    told = ahead([0.0, 30.0, 60.0, 70.0], [70.0, 40.0, 20.9, 21.6], 21.1)
    assert not told.reaches[0].seen
    assert told.reaches[0].minutes.high > 70.0


def test_what_is_colder_than_the_surroundings_is_never_reached() -> None:
    told = ahead(EVERY_TEN, STEADY, -15.0)
    assert when(told).middle == math.inf


def test_ice_that_is_gone_is_noticed() -> None:
    parts = ((35.0, 2.0, 1.0), (math.inf, 2.0, 14.0))
    minutes = [5.0 * each for each in range(10)]
    temps = curve(minutes, *parts)
    truth = 35.0 + math.log((curve([35.0], *parts)[0] - 14.0) / 7.1) / 2.0 * 60.0
    told = ahead(minutes, temps)
    assert when(told).low <= truth <= when(told).high
    assert told.surroundings_c.high > 10.0
    early = ahead(minutes[:8], temps[:8])
    assert when(early).middle < truth - 5.0  # nobody could know
    assert early.surroundings_c.high < 5.0


@pytest.mark.parametrize(("every", "until"), [(1, 78), (1, 90), (1, 100), (10, 90), (10, 100)])
def test_two_moves_that_nobody_wrote_down_do_not_deceive_it_for_long(every: int, until: int) -> None:
    parts = ((30.0, 0.3, 22.0), (70.0, 1.5, 1.0), (math.inf, 0.5, 3.0))
    minutes = [float(each) for each in range(0, until + 1, every)]
    chance = random.Random(5)
    temps = [each + chance.gauss(0.0, 0.3) for each in curve(minutes, *parts, start_c=85.0)]
    truth = 70.0 + math.log((curve([70.0], *parts, start_c=85.0)[0] - 3.0) / 18.1) / 0.5 * 60.0
    told = when(ahead(minutes, temps))
    assert told.low <= truth <= told.high


def test_a_probe_that_was_in_the_ice_for_a_moment_widens_the_interval_and_no_more() -> None:
    minutes = [5.0 * each for each in range(7)]
    temps = curve(minutes, (math.inf, 1.8, 1.0))
    odd = [*temps[:3], 2.0, *temps[4:]]
    told = when(ahead(minutes, odd))
    assert told.low <= TRUE_MIN <= told.high
    assert told.high - told.low > when(ahead(minutes, temps)).high - when(ahead(minutes, temps)).low


@pytest.mark.parametrize("temps", [[80.0, 80.0, 80.0], [50.0, 60.0, 70.0], [30.0, 2.0, 90.0], [-40.0, 400.0, 21.2]])
def test_readings_that_do_not_cool_still_get_an_answer(temps: list[float]) -> None:
    told = when(ahead([0.0, 10.0, 20.0], temps))
    assert not math.isnan(told.middle)
    assert told.low <= told.middle <= told.high


def test_the_chance_of_a_limit_agrees_with_the_interval() -> None:
    told = when(ahead(EVERY_TEN, STEADY))
    limits = tuple(
        Limit(to_c=21.1, max_minutes=each, clock_min=0.0) for each in (1.0, told.low, told.middle, told.high, 5e3)
    )
    chances = ahead(EVERY_TEN, STEADY, limits=limits).chances
    assert chances == pytest.approx((0.0, 0.05, 0.5, 0.95, 1.0), abs=0.01)


def test_a_clock_that_has_not_begun_counts_from_the_passing_that_is_forecast() -> None:
    minutes, temps = EVERY_TEN[:3], [92.0, 80.0, 70.0]
    from_passing = Limit(to_c=21.1, max_minutes=80.0, clock_c=57.2)
    from_the_start = Limit(to_c=21.1, max_minutes=80.0, clock_min=0.0)
    late, early = ahead(minutes, temps, limits=(from_passing, from_the_start)).chances
    assert late > early + 0.3


def test_a_clock_that_the_readings_show_counts_from_the_last_reading_above() -> None:
    by_passing = Limit(to_c=21.1, max_minutes=50.0, clock_c=57.2)
    by_minute = Limit(to_c=21.1, max_minutes=50.0, clock_min=10.0)
    assert STEADY[1] > 57.2 > STEADY[2]
    first, second = ahead(EVERY_TEN, STEADY, limits=(by_passing, by_minute)).chances
    assert first == second


def test_a_limit_that_was_kept_or_lost_has_no_chance_left_to_tell() -> None:
    limits = tuple(Limit(to_c=50.0, max_minutes=each, clock_min=0.0) for each in (19.0, 30.0))
    assert ahead(EVERY_TEN, STEADY, limits=limits).chances == pytest.approx((0.0, 1.0))


def test_the_band_begins_at_the_last_reading_and_ends_when_the_coldest_target_is_reached() -> None:
    told = ahead(EVERY_TEN, STEADY, 21.1, 10.0)
    assert len(told.band) <= 60
    assert told.band[0].minute == 30.0
    assert told.band[-1].minute == pytest.approx(when(told, 1).high)
    assert told.band[0].temp_c.low <= STEADY[-1] <= told.band[0].temp_c.high
    assert all(each.temp_c.low <= each.temp_c.middle <= each.temp_c.high for each in told.band)
    middles = [each.temp_c.middle for each in told.band]
    assert middles == sorted(middles, reverse=True)
    assert ahead([0.0, 60.0], [40.0, 3.0], 21.1, 5.0).band == ()


def test_the_band_stays_readable_where_a_target_may_never_be_reached() -> None:
    may_be = ahead(EVERY_TEN, STEADY, 5.0)
    assert when(may_be).high == math.inf
    assert may_be.band[-1].minute == pytest.approx(30.0 + 2.0 * (when(may_be).middle - 30.0))
    assert ahead(EVERY_TEN, STEADY, -20.0).band[-1].minute == 30.0 + 240.0


def test_what_holds_now_is_told_for_advice() -> None:
    told = ahead(EVERY_TEN, STEADY)
    assert told.temp_c.low <= STEADY[-1] <= told.temp_c.high
    assert told.rate_per_h.low <= 1.8 <= told.rate_per_h.high
    assert told.surroundings_c.low <= 1.0 <= told.surroundings_c.high


def test_many_readings_are_put_together_without_losing_what_they_say() -> None:
    chance = random.Random(6)
    minutes = [float(each) for each in range(300)]
    temps = [each + chance.gauss(0.0, 0.4) for each in curve(minutes, (math.inf, 0.15, 2.0))]
    few = thinned(np.array(minutes), np.array(temps), 1.0)
    assert len(few.minutes) <= 24
    clean = curve(list(few.minutes), (math.inf, 0.15, 2.0))
    assert np.abs(few.temps_c - clean).max() < 0.45
    truth = math.log(78.0 / 19.1) / 0.15 * 60.0
    told = when(forecast_cooling(minutes=minutes, temps_c=temps, surroundings=place(), targets_c=(21.1,)))
    assert told.low <= truth <= told.high
    assert told.high - told.low < 90.0


def test_forty_hours_of_readings_take_no_longer_than_a_few() -> None:
    assert benchmark.milliseconds(repeats=9) < 25.0  # the benchmark tells how far below; this only guards


def test_slopes_are_those_of_the_curve() -> None:
    readings = thinned(np.array(EVERY_TEN), np.array(STEADY), 1.0)
    ways = ways_of(readings, place())
    unknowns = np.tile([math.log(0.03), 78.0, 1.5, -0.4, 4.0, 0.3], (len(ways.each), 1))
    _, slopes = _curves(ways, unknowns, readings)
    for each in range(6):
        step = np.zeros(6)
        step[each] = 1e-5
        up, down = (_curves(ways, unknowns + way * step, readings)[0] for way in (1.0, -1.0))
        assert slopes[:, :, each] == pytest.approx((up - down) / 2e-5, abs=1e-4)


@pytest.mark.parametrize(
    ("minutes", "temps"), [([], []), ([0.0], []), ([0.0, 1.0], [80.0]), ([0.0], [math.nan]), ([math.inf], [80.0])]
)
def test_without_a_readable_reading_there_is_no_forecast(minutes: list[float], temps: list[float]) -> None:
    with pytest.raises(OutOfRange) as refusal:
        ahead(minutes, temps)
    assert refusal.value.code == "no-reading"


@pytest.mark.parametrize("clock", [{}, {"clock_min": 0.0, "clock_c": 57.2}])
def test_a_limit_counts_from_one_moment(clock: dict[str, float]) -> None:
    with pytest.raises(OutOfRange) as refusal:
        Limit(to_c=21.1, max_minutes=120.0, **clock)
    assert refusal.value.code == "limit-without-clock"


def test_air_without_a_temperature_is_refused_and_ice_needs_none() -> None:
    with pytest.raises(OutOfRange) as refusal:
        place("blast_chiller")
    assert refusal.value.code == "surroundings-unknown"
    ice = place("ice_sink")
    assert ice.temp_c == DEFAULT_PARAMETERS.value("cooling.bath_temp_c")
    assert ice.temp_sd_k > LEAST_SD_K
