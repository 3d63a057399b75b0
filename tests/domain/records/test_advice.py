"""What a cook is told to do while there is time, with numbers, the least work first."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from production.domain.kitchen import Container, CoolingDevice
from production.domain.parameters import DEFAULT_PARAMETERS
from production.domain.records.advice import LEAST_DEPTH_MM, WORK, advise
from production.domain.records.advice_content import Advice, AdviceInput, FreePlace, Spelling
from production.domain.records.advice_words import advice_sentence
from production.domain.records.fitting import surroundings_of
from production.domain.records.forecast import Forecast, Interval, Limit, Reach, forecast_cooling

STEEL_POT = Container(
    code="pot-20", name="Steel pot 20 L", shape="round", material="steel",
    length_mm=300, width_mm=300, height_mm=320, brim_l=22.0,
)  # fmt: skip
BUCKET = replace(STEEL_POT, code="bucket", name="Bucket", material="plastic")
PAN = Container(
    code="pan", name="Pan", shape="box", material="steel",
    length_mm=530, width_mm=325, height_mm=65, brim_l=9.0,
)  # fmt: skip
CHILLER = CoolingDevice(
    code="chill", name="Blast chiller", kind="blast_chiller", vessel="pan", places=12, vessel_fill_l=6.0, stirred=False,
    rated_kg=60, rated_from_c=65, rated_to_c=10, rated_min=120, power_kw=9, air_temp_c=-5,
)  # fmt: skip
ICE_SINK = CoolingDevice(
    code="ice", name="Ice sink", kind="ice_sink", vessel="pot-20", places=3, vessel_fill_l=10.0, stirred=True
)
SPELLING = Spelling(
    clock=lambda minute: f"{int(minute) // 60}:{int(minute) % 60:02d}",
    temp=lambda temp_c: f"{temp_c:.0f} °C",
    mass=lambda mass_kg: f"{mass_kg:.0f} kg",
    depth=lambda depth_mm: f"{depth_mm:.0f} mm",
)


def even(value: float) -> Interval:
    return Interval(low=value, middle=value, high=value)


def told(temp_c: float, rate_per_h: float, sink_c: float, target_c: float = 21.1, idle: float = math.inf) -> Forecast:
    """A forecast without doubt, so that the numbers can be checked by hand."""
    reach = Reach(temp_c=target_c, seen=False, minutes=even(idle))
    return Forecast(
        reaches=(reach,),
        chances=(),
        temp_c=even(temp_c),
        rate_per_h=even(rate_per_h),
        surroundings_c=even(sink_c),
        band=(),
    )


def a_state(**changes: object) -> AdviceInput:
    """Forty litres in two steel pots whose ice is gone; 60 minutes are left of 120."""
    state = AdviceInput(
        forecast=told(45.0, 1.5, 15.0),
        chance=0.4,
        target_c=21.1,
        limit_min=120.0,
        now_min=60.0,
        place="ice_sink",
        places=6,
        stirred=False,
        glaze=False,
        litres=40.0,
        vessel=STEEL_POT,
        fill_l=20.0,
        free=(),
        parameters=DEFAULT_PARAMETERS,
    )
    return replace(state, **changes)  # type: ignore[arg-type]


def by_code(found: tuple[Advice, ...]) -> dict[str, Advice]:
    return {each.code: each for each in found}


def test_stirring_comes_first_where_it_is_enough() -> None:
    found = advise(a_state(forecast=told(40.0, 1.2, 1.0)))
    assert found[0].code == "stir"
    assert found[0].makes_it
    # By hand: 1.2 x 350 / 250 = 1.68 per hour; ln(39 / 20.1) / 1.68 h = 23.7 min.
    assert found[0].predicted_min == pytest.approx(60.0 + 23.67, abs=0.05)
    assert [WORK.index(each.code) for each in found if each.makes_it] == sorted(
        WORK.index(each.code) for each in found if each.makes_it
    )


def test_ice_is_weighed_out_of_the_heat_that_has_to_go() -> None:
    ice = by_code(advise(a_state()))["add_ice"]
    # By hand: 40 kg x 4.15 x 23.9 K = 3967 kJ; (333.55 + 10.5 + 20.95) x 0.60 = 219.0 kJ/kg.
    assert ice.ice_kg == pytest.approx(18.1, abs=0.05)
    # By hand: bath at 4 degC, 1.5 x 1.4 per hour: ln(41 / 17.1) / 2.1 h = 25.0 min.
    assert ice.predicted_min == pytest.approx(85.0, abs=0.1)
    assert ice.makes_it
    assert ice.stir


def test_stirring_without_ice_is_not_enough_where_the_bath_is_warm() -> None:
    found = advise(a_state(forecast=told(45.0, 0.9, 19.0)))
    stir, ice = by_code(found)["stir"], by_code(found)["add_ice"]
    assert not stir.makes_it
    assert ice.makes_it
    assert found.index(ice) < found.index(stir)


def test_a_bath_warmer_than_the_target_is_never_stirred_cold() -> None:
    assert "stir" not in by_code(advise(a_state(forecast=told(45.0, 1.5, 25.0))))


def test_a_plastic_wall_is_not_helped_by_stirring() -> None:
    found = by_code(advise(a_state(vessel=BUCKET)))
    assert "stir" not in found
    # By hand: 1.5 per hour without the gain: ln(41 / 17.1) / 1.5 h = 35.0 min.
    assert found["add_ice"].predicted_min == pytest.approx(95.0, abs=0.1)


def test_what_may_have_set_is_not_stirred_and_takes_longer() -> None:
    state = a_state(forecast=told(14.0, 1.5, 1.0, target_c=5.0), target_c=5.0, limit_min=360.0, now_min=90.0)
    found = by_code(advise(state))
    assert "stir" not in found
    assert not found["add_ice"].stir
    kept_moving = by_code(advise(replace(state, stirred=True)))
    assert found["split"].predicted_min > kept_moving["split"].predicted_min
    assert (found["split"].cls, kept_moving["split"].cls) == ("C", "B")


def test_where_it_may_still_be_liquid_the_cook_is_asked_to_see() -> None:
    state = a_state(forecast=told(18.0, 1.5, 1.0, target_c=5.0), target_c=5.0, limit_min=240.0, now_min=90.0)
    ice = by_code(advise(state))["add_ice"]
    assert (ice.makes_it, ice.stir, ice.cls) == (True, True, "C")
    told_so = advice_sentence(ice, target_c=5.0, spelling=SPELLING)
    assert told_so.startswith("Add 10 kg of ice now and stir as long as it is liquid: 5 °C at ")


def test_pans_get_as_shallow_as_it_takes_and_no_shallower() -> None:
    state = a_state(
        place="cold_room", forecast=told(50.0, 0.35, 3.0), vessel=BUCKET, places=40, limit_min=145.0, litres=20.0
    )
    still, stirred = (by_code(advise(replace(state, stirred=each)))["split"] for each in (False, True))
    assert stirred.makes_it
    assert stirred.depth_mm == pytest.approx(320.0 * 20.0 / 22.0 / stirred.vessels)
    assert stirred.predicted_min == pytest.approx(60.0 + _minutes_in(stirred.vessels), abs=0.1)
    assert 60.0 + _minutes_in(stirred.vessels - 1) > 145.0
    assert still.vessels > stirred.vessels


def _minutes_in(parts: int) -> float:
    """By hand: side pi 0.3 h, base and top pi 0.09 / 4 each; the rate goes with the surface per litre."""
    whole_m = 0.32 * 20.0 / 22.0
    before = (math.pi * 0.3 * whole_m + math.pi * 0.045) / 20.0
    after = (math.pi * 0.3 * whole_m / parts + math.pi * 0.045) / (20.0 / parts)
    return 60.0 * math.log(47.0 / 18.1) / (0.35 * after / before)


def test_no_more_vessels_are_asked_for_than_the_place_holds_and_no_thinner_than_can_be_carried() -> None:
    hopeless = a_state(place="cold_room", forecast=told(60.0, 0.2, 4.0), places=5, litres=20.0)
    split = by_code(advise(hopeless))["split"]
    assert not split.makes_it
    assert split.vessels == 5
    thin = by_code(advise(replace(hopeless, vessel=PAN, fill_l=6.0, litres=6.0)))["split"]
    assert thin.depth_mm >= LEAST_DEPTH_MM
    assert "split" not in by_code(advise(replace(hopeless, places=1)))


def test_the_chiller_is_named_with_pans_and_depth_where_it_makes_it() -> None:
    free = FreePlace(device=CHILLER, vessel=PAN)
    found = advise(a_state(place="room", forecast=told(50.0, 0.2, 22.0), limit_min=240.0, free=(free,)))
    move = found[0]
    assert (move.code, move.device, move.vessels) == ("move", "chill", 7)
    assert move.makes_it
    assert move.depth_mm == pytest.approx(65.0 * 6.0 / 9.0)
    assert move.ice_kg == 0.0


def test_a_chiller_that_is_too_small_or_loaded_too_deep_is_not_named() -> None:
    state = a_state(place="room", forecast=told(50.0, 0.2, 22.0), limit_min=240.0)
    small = FreePlace(device=replace(CHILLER, places=6), vessel=PAN)
    deep = FreePlace(device=replace(CHILLER, vessel_fill_l=8.0), vessel=PAN)
    warm = FreePlace(device=replace(CHILLER, air_temp_c=4.0), vessel=PAN)
    assert "move" not in by_code(advise(replace(state, free=(small, deep))))
    assert "move" not in by_code(
        advise(replace(state, target_c=3.0, forecast=told(50.0, 0.2, 22.0, 3.0), free=(warm,)))
    )


def test_ice_next_door_is_offered_to_what_stands_in_the_room() -> None:
    free = FreePlace(device=ICE_SINK, vessel=STEEL_POT)
    found = advise(a_state(place="room", forecast=told(50.0, 0.2, 22.0), litres=20.0, limit_min=150.0, free=(free,)))
    assert found[0].code == "move"
    assert found[0].ice_kg == pytest.approx(20.0 * 4.15 * 28.9 / 219.0, abs=0.05)
    assert "add_ice" not in by_code(found)


def test_nothing_is_advised_where_all_is_well_or_reached_or_lost() -> None:
    assert advise(a_state())
    assert advise(a_state(chance=0.9)) == ()
    assert advise(a_state(now_min=120.0)) == ()
    assert advise(a_state(forecast=told(21.0, 1.5, 1.0))) == ()


def test_a_target_that_was_not_forecast_gets_advice_all_the_same() -> None:
    assert by_code(advise(a_state(forecast=told(45.0, 1.5, 1.0, target_c=5.0))))["add_ice"].makes_it


def test_a_cooling_in_good_ice_is_left_alone_from_the_second_reading_on() -> None:
    around = surroundings_of(place="ice_sink", parameters=DEFAULT_PARAMETERS)
    minutes = [10.0 * each for each in range(10)]
    temps = [1.0 + 56.0 * math.exp(-0.3 * each) for each in range(10)]
    limits = (Limit(to_c=21.1, max_minutes=120.0, clock_min=0.0), Limit(to_c=5.0, max_minutes=360.0, clock_min=0.0))
    for count in range(2, 10):
        forecast = forecast_cooling(
            minutes=minutes[:count],
            temps_c=temps[:count],
            surroundings=around,
            targets_c=(21.1, 5.0),
            limits=limits,
        )
        for limit, chance in zip(limits, forecast.chances, strict=True):
            state = a_state(
                forecast=forecast,
                chance=chance,
                target_c=limit.to_c,
                limit_min=limit.max_minutes,
                now_min=minutes[count - 1],
            )
            assert advise(state) == ()


def test_what_comes_too_late_is_told_only_where_it_is_better_than_nothing() -> None:
    hopeless = a_state(forecast=told(90.0, 0.3, 15.0, idle=900.0), limit_min=70.0)
    found = advise(hopeless)
    assert found
    assert not any(each.makes_it for each in found)
    assert [each.predicted_min for each in found] == sorted(each.predicted_min for each in found)
    assert advise(replace(hopeless, forecast=told(90.0, 0.3, 15.0, idle=71.0))) == ()


def test_advice_follows_from_readings_that_show_the_ice_is_gone() -> None:
    minutes = [0.0, 10.0, 20.0, 30.0, 40.0, 50.0, 60.0]
    temps = [62.0, 50.1, 41.2, 37.0, 33.9, 31.4, 29.6]
    around = surroundings_of(place="ice_sink", parameters=DEFAULT_PARAMETERS)
    forecast = forecast_cooling(minutes=minutes, temps_c=temps, surroundings=around, targets_c=(21.1,))
    found = advise(a_state(forecast=forecast, limit_min=130.0))
    assert by_code(found)["add_ice"].makes_it
    assert 29.0 < a_state(forecast=forecast).temp_c < 31.5
    later = a_state(forecast=forecast, now_min=75.0)
    assert later.temp_c < a_state(forecast=forecast).temp_c


@pytest.mark.parametrize("temp_c", [21.2, 80.0, 400.0])
@pytest.mark.parametrize("rate_per_h", [1e-6, 1.0, 1e4])
@pytest.mark.parametrize("sink_c", [-40.0, 3.0, 60.0])
def test_advice_from_odd_readings_never_promises_the_past(temp_c: float, rate_per_h: float, sink_c: float) -> None:
    free = (FreePlace(device=CHILLER, vessel=PAN), FreePlace(device=ICE_SINK, vessel=STEEL_POT))
    for place in ("ice_sink", "blast_chiller", "cold_room", "room"):
        found = advise(a_state(place=place, forecast=told(temp_c, rate_per_h, sink_c), free=free))
        assert all(60.0 <= each.predicted_min < math.inf for each in found)


@pytest.mark.parametrize(
    ("advice", "sentence"),
    [
        (
            Advice(code="add_ice", predicted_min=845.2, margin_min=20.9, cls="B", ice_kg=11.2, stir=True),
            "Add 12 kg of ice now and stir: 21 °C at 14:05, 20 min before the limit.",
        ),
        (
            Advice(code="add_ice", predicted_min=845.2, margin_min=20.9, cls="B", ice_kg=11.2),
            "Add 12 kg of ice now: 21 °C at 14:05, 20 min before the limit.",
        ),
        (
            Advice(code="stir", predicted_min=math.inf, margin_min=-math.inf, cls="B", stir=True),
            "Stir now and keep stirring: it may never reach 21 °C.",
        ),
        (
            Advice(code="split", predicted_min=845.0, margin_min=-4.1, cls="C", vessels=4, depth_mm=62.9),
            "Split into 4 vessels, 62 mm deep: 21 °C at 14:05, 5 min too late.",
        ),
        (
            Advice(code="move", predicted_min=845.0, margin_min=0.0, cls="B", vessels=1, depth_mm=43.0, ice_kg=3.0,
                   device="ice", device_name="Ice sink"),
            "Move to Ice sink in 1 vessel, 43 mm deep, with 3 kg of ice: 21 °C at 14:05, 0 min before the limit.",
        ),
    ],
)  # fmt: skip
def test_advice_is_a_sentence_a_cook_can_act_on(advice: Advice, sentence: str) -> None:
    assert advice_sentence(advice, target_c=21.1, spelling=SPELLING) == sentence
