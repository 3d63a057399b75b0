"""Numbers of a run as the scales, the stick and the refractometer have shown them."""

from __future__ import annotations

import math
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from production.domain.formula import Charge, Draw
from production.domain.records.course import planned_steps
from production.domain.records.course_charge import _changes
from production.domain.records.course_content import Course, DrawNow, Level
from production.domain.records.course_draws import Drawn, draw_now, drawn_from
from production.domain.records.course_reduction import Aim, level_mass_kg, reduction_now
from tests.domain.records.course_notes import Pencil, drawn_once, loaded, reducing, run_of, sheet_of, the_plan

PER_BX = 0.78
START = datetime(2027, 2, 2, 21, 0, tzinfo=UTC)


def expected(percent: float = 3.0) -> Draw:
    return Draw(mass_kg=25.0, cold_l=25.0, hot_l=26.0, hot_c=95.0, solids_percent=percent, solids_bx=percent / PER_BX)


def draw(course: Course, name: str) -> DrawNow:
    return next(each for each in course.draws if each.name == name)


# --- the charge -------------------------------------------------------------------------------------------------------


def test_nothing_is_told_while_the_scales_show_what_the_sheet_says() -> None:
    planned = {item.ingredient: item.mass_kg for item in run_of().charge.items}
    course = loaded(frames=f"{planned['frames']:.3f} kg", feet=f"{planned['feet']:.3f} kg").course(10)
    assert course.charge.is_weighed
    assert course.charge.sentence == ""
    assert course.charge.water_l == pytest.approx(run_of().charge.water_l, abs=0.01)


def test_a_change_that_the_kitchens_numbers_do_not_show_is_not_told() -> None:
    def of(cold_l: float) -> Charge:
        return replace(run_of().charge, first=replace(run_of().charge.first, cold_l=cold_l))

    assert _changes(of(50.2), of(50.0), 0.0, "metric") == ""  # both are 50 L to a cook
    assert "about 50.5 L instead of 50 L" in _changes(of(50.4), of(50.0), 0.0, "metric")


def test_more_bones_tell_new_mark_new_water_new_yield_and_new_additions() -> None:
    course = loaded(frames="18 kg").course(10)
    told = course.charge
    assert told.sentence.startswith("21.9 kg of solids instead of 19.5 kg: fill to ")
    assert "of water" in told.sentence
    onion, fill = course.at("add.4"), course.at("fill")
    assert onion is not None
    assert fill is not None
    box, level = onion.step.field("mass"), fill.step.field("level")
    assert box is not None
    assert level is not None
    assert box.expected == pytest.approx(0.1 * told.solids_kg)
    assert box.planned == pytest.approx(0.1 * told.planned_solids_kg)
    assert level.expected == math.ceil(told.fill_mark_mm)


def test_more_bones_give_the_second_draw_and_the_reduction_more() -> None:
    told = loaded(frames="18 kg").course(10).charge
    assert told.liquor is not None
    assert told.planned_liquor is not None
    assert told.liquor.mass_kg > told.planned_liquor.mass_kg
    planned = run_of().charge.reduction
    assert planned is not None
    assert told.reduction_kg is not None
    assert told.reduction_kg > planned.mass_kg


def test_the_mark_is_rounded_so_that_the_pot_is_never_fuller() -> None:
    course = loaded(frames="18 kg").course(10)
    fill = course.at("fill")
    assert fill is not None
    whole = math.ceil(course.charge.fill_mark_mm)
    assert f"to {whole} mm below the rim" in fill.step.do
    assert f"to {whole} mm below the rim" in course.charge.sentence


def test_too_many_bones_say_how_much_to_leave_out() -> None:
    told = loaded(frames="40 kg", feet="10 kg").course(10).charge
    assert told.leave_out_kg > 0.0
    assert told.sentence.startswith("The pot would be too full: leave out ")
    assert told.hot_mark_mm > 0.0


def test_bones_that_do_not_go_into_the_pot_at_all_are_told_and_the_sheet_stands() -> None:
    told = loaded(frames="150 kg", feet="40 kg").course(10).charge
    assert told.sentence
    assert told.water_l == run_of().charge.water_l


def test_an_onion_that_weighed_more_changes_the_yield_only_a_little() -> None:
    pencil = loaded()
    before = pencil.course(10).charge
    pencil.note("add.4", "addition_made", 230, mass="3 kg")
    after = pencil.course(231).charge
    assert after.water_l == before.water_l
    assert 0.0 < abs(after.first.mass_kg - before.first.mass_kg) < 0.3


def test_water_counts_by_volume_by_weight_or_by_its_mark() -> None:
    found = []
    contents: tuple[dict[str, Any], ...] = ({"volume": "35 L"}, {"mass": "34.99 kg"})
    for content in contents:
        pencil = loaded()
        pencil.note("fill", "filled", 20, **content)
        found.append(pencil.course(21).charge)
    assert found[0].water_l == pytest.approx(35.0)
    assert found[1].water_l == pytest.approx(35.0, abs=0.02)
    by_mark = loaded()
    by_mark.note("fill", "filled", 20, level=f"{found[0].fill_mark_mm} mm")
    assert by_mark.course(21).charge.water_l == pytest.approx(35.0, abs=0.01)


# --- draws ------------------------------------------------------------------------------------------------------------


def test_a_weight_needs_no_temperature() -> None:
    found = drawn_from({"mass": 25.0}, expected=expected(), brix_bx=None, per_bx_share=PER_BX)
    assert found.mass_kg == 25.0
    assert 24.5 < found.cold_l < 25.0


@given(st.floats(1.0, 100.0), st.floats(40.0, 100.0))
def test_the_hotter_the_same_litres_are_the_lighter_they_are(litres: float, hot_c: float) -> None:
    found = [
        drawn_from({"volume": litres, "temp": temp_c}, expected=expected(), brix_bx=None, per_bx_share=PER_BX).mass_kg
        for temp_c in (hot_c, hot_c - 10.0)
    ]
    assert found[0] < found[1]


def test_brix_tells_the_solids_that_were_drawn() -> None:
    pencil = drawn_once()
    assert draw(pencil.course(306), "first").solids_kg is None
    pencil.note("brix.first", "brix_taken", 320, brix="5")
    found = draw(pencil.course(321), "first")
    assert found.solids_bx == 5.0
    assert found.solids_kg == pytest.approx(found.mass_kg * 0.05 * PER_BX, rel=1e-6)


def test_a_draw_as_planned_fills_all_containers() -> None:
    found = draw(drawn_once().course(306), "first")
    assert found.share == pytest.approx(1.0, abs=0.01)
    assert [(each.product, each.planned, each.possible) for each in found.filled] == [("Poultry broth 5 L", 5, 5)]
    assert found.short == ()


def test_a_small_draw_tells_which_order_falls_short() -> None:
    pencil = Pencil("R01")
    pencil.note("begin", "run_begun", 0)
    pencil.note("draw.first", "drawn", 280, mass="10.2 kg")
    found = draw(pencil.course(281), "first")
    assert [(each.planned, each.possible) for each in found.filled] == [(3, 2)]
    assert [(line.line, line.outlet, line.containers) for line in found.short] == [("L1", "Corner bistro", 1)]
    assert found.sentence.endswith("1 container will be missing for Corner bistro.")


def test_a_small_draw_that_nobody_has_ordered_leaves_no_order_short() -> None:
    pencil = loaded()
    pencil.note("draw.first", "drawn", 305, mass="16 kg")
    found = draw(pencil.course(306), "first")
    assert (found.filled[0].possible, found.short) == (3, ())


def test_of_two_orders_the_one_that_leaves_first_is_filled_first() -> None:
    portion = run_of("R01").batch.first[0]
    early, late = (
        replace(portion.pegs[0], line=line, containers=2, dispatch_at=START + timedelta(hours=hours))
        for line, hours in (("L1", 20), ("L2", 40))
    )
    both = replace(portion, containers=4, litres=20.0, pegs=(late, early))
    drawn = Drawn(mass_kg=15.2, cold_l=15.2, solids_percent=3.0)
    found = draw_now("first", drawn, planned=(20.0, 20.0), brix_bx=None, week=the_plan().week, portions=(both,))
    assert [(line.line, line.containers) for line in found.short] == [("L2", 1)]


def test_what_nobody_waits_for_is_filled_last_and_never_called_short() -> None:
    portion = replace(run_of().batch.first[0], containers=4, litres=20.0, pegs=())
    drawn = Drawn(mass_kg=12.0, cold_l=12.0, solids_percent=3.0)
    found = draw_now("first", drawn, planned=(20.0, 20.0), brix_bx=None, week=the_plan().week, portions=(portion,))
    assert (found.filled[0].possible, found.short) == (2, ())


def test_what_is_drawn_and_asked_about_fills_nothing() -> None:
    pencil = loaded()
    pencil.note("draw.first", "drawn", 305, mass="250 kg", question="unlikely-mass")
    assert pencil.course(306).draws == ()


# --- reductions -------------------------------------------------------------------------------------------------------


def aim(**changes: float) -> Aim:
    base = Aim(
        start_kg=18.0,
        start_bx=1.5,
        target_kg=1.35,
        target_bx=20.0,
        heat_cut_kg=8.0,
        full_kg_h=10.0,
        gentle_kg_h=5.0,
        fast_share=1.3,
    )
    return replace(base, **changes)


def levels(*found: tuple[float, float]) -> list[Level]:
    return [Level(START + timedelta(minutes=minute), mass) for minute, mass in found]


def minutes(at: datetime | None) -> float:
    assert at is not None
    return (at - START) / timedelta(minutes=1)


def test_without_a_reading_no_end_is_claimed_by_the_fit() -> None:
    found = reduction_now(aim(), [], per_bx_share=PER_BX)
    assert (found.end_at, found.is_fitted, found.rate_kg_h) == (None, False, 10.0)


def test_one_reading_goes_on_at_the_planned_rates() -> None:
    """From 18 kg: 10 kg at 10 kg/h, then 6.65 kg at 5 kg/h: 60 + 79.8 min."""
    found = reduction_now(aim(), levels((0, 18.0)), per_bx_share=PER_BX)
    assert not found.is_fitted
    assert minutes(found.end_at) == pytest.approx(139.8)
    assert found.late_at == found.end_at
    assert minutes(found.early_at) == pytest.approx(139.8 / 1.3)


def test_two_readings_give_the_rate() -> None:
    """18 to 14 kg in 30 min are 8 kg/h; then 6 kg take 45 min, and 6.65 kg at half the rate 99.75 min."""
    found = reduction_now(aim(), levels((0, 18.0), (30, 14.0)), per_bx_share=PER_BX)
    assert found.is_fitted
    assert found.rate_kg_h == pytest.approx(8.0)
    assert minutes(found.end_at) == pytest.approx(30.0 + 45.0 + 99.75)


def test_only_the_last_two_readings_count() -> None:
    late = reduction_now(aim(), levels((0, 18.0), (60, 17.5), (90, 13.5)), per_bx_share=PER_BX)
    assert late.rate_kg_h == pytest.approx(8.0)


def test_readings_after_the_heat_was_turned_down_give_the_gentle_rate() -> None:
    """7 to 5 kg in 30 min are 4 kg/h with the heat down: 3.65 kg take 54.75 min more."""
    found = reduction_now(aim(), levels((0, 7.0), (30, 5.0)), per_bx_share=PER_BX)
    assert minutes(found.end_at) == pytest.approx(30.0 + 54.75)
    assert "Low heat" in found.sentence


def test_readings_on_both_sides_of_the_turning_down_are_reckoned_with_both_rates() -> None:
    """10 to 8 kg at 10 kg/h take 12 min, 8 to 6 kg at 5 kg/h take 24 min."""
    found = reduction_now(aim(), levels((0, 10.0), (36, 6.0)), per_bx_share=PER_BX)
    assert found.rate_kg_h == pytest.approx(10.0)


def test_what_does_not_get_lighter_has_no_end_and_asks_why() -> None:
    for same in (levels((0, 14.0), (30, 14.0)), levels((0, 14.0), (30, 15.0)), levels((0, 14.0), (0, 13.0))):
        found = reduction_now(aim(), same, per_bx_share=PER_BX)
        assert found.end_at is None
        assert "is the heat on" in found.sentence


def test_what_is_light_enough_is_taken_off() -> None:
    found = reduction_now(aim(), levels((0, 3.0), (30, 1.3)), per_bx_share=PER_BX)
    assert minutes(found.end_at) == 30.0
    assert "take it off" in found.sentence


@given(st.floats(8.5, 17.0), st.floats(5.0, 60.0))
def test_the_end_lies_in_its_interval(mass_kg: float, after_min: float) -> None:
    found = reduction_now(aim(), levels((0, 18.0), (after_min, mass_kg)), per_bx_share=PER_BX)
    assert found.end_at is not None
    assert found.early_at is not None
    assert found.early_at <= found.end_at
    assert found.late_at is None or found.end_at <= found.late_at


def test_readings_close_together_know_no_latest_end() -> None:
    found = reduction_now(aim(), levels((0, 17.0), (2, 16.8)), per_bx_share=PER_BX)
    assert found.end_at is not None
    assert found.late_at is None


@given(st.floats(6.0, 14.0), st.floats(9.0, 17.0), st.floats(10.0, 60.0))
def test_a_reduction_that_boils_steadily_is_told_its_true_end(rate: float, mass_kg: float, gap_min: float) -> None:
    """Made up with one true rate: whatever two readings are taken, the end is the same."""
    before = mass_kg + rate * gap_min / 60.0
    found = reduction_now(aim(start_kg=60.0), levels((0, before), (gap_min, mass_kg)), per_bx_share=PER_BX)
    true_min = gap_min + 60.0 * ((mass_kg - 8.0) / rate + (8.0 - 1.35) / (rate / 2.0))
    assert minutes(found.end_at) == pytest.approx(true_min, abs=0.01)


def test_depth_and_weight_say_the_same() -> None:
    """10 kg of thin stock stand about 53 mm deep in a pot 500 mm wide: 10 / (0.958 x 1963.5 cm2)."""
    mass = level_mass_kg({"depth": 53.1}, aim=aim(), per_bx_share=PER_BX, inner_diameter_m=0.5)
    assert mass == pytest.approx(10.0, abs=0.1)
    assert level_mass_kg({"mass": 7.0}, aim=aim(), per_bx_share=PER_BX, inner_diameter_m=0.5) == 7.0
    assert level_mass_kg({}, aim=aim(), per_bx_share=PER_BX, inner_diameter_m=0.5) is None


def test_the_aim_follows_what_the_second_draw_weighed_and_how_strong_it_was() -> None:
    """18.5 kg of 1.4 Brix hold what 1.295 kg of 20 Brix hold."""
    found = reducing().course(497).reduction
    assert found is not None
    assert found.start_kg == 18.5
    assert found.target_kg == pytest.approx(18.5 * 1.4 / 20.0)
    assert found.target_l < found.target_kg


def test_the_end_by_the_readings_pushes_what_comes_after_the_reduction() -> None:
    pencil = reducing()
    pencil.note("reduce", "reduction_checked", 510, mass="17 kg")
    pencil.note("reduce", "reduction_checked", 570, mass="13 kg")
    course = pencil.course(571)
    reduced, portion = course.at("reduced"), course.at("portion")
    assert course.reduction is not None
    assert course.reduction.end_at is not None
    assert reduced is not None
    assert portion is not None
    assert reduced.expected_at == course.reduction.end_at > reduced.step.planned_at
    assert portion.expected_at - portion.step.planned_at == reduced.expected_at - reduced.step.planned_at


def test_before_the_first_reading_the_end_is_as_planned() -> None:
    course = reducing().course(500)
    assert course.reduction is not None
    reduced = course.at("reduced")
    assert reduced is not None
    assert course.reduction.end_at == reduced.expected_at == reduced.step.planned_at


def test_a_run_without_a_second_draw_has_no_reduction() -> None:
    assert Pencil("R03").course(0).reduction is None


def test_the_reduction_that_was_made_fills_its_jars() -> None:
    pencil = reducing()
    pencil.note("reduced", "reduction_checked", 640, mass="0.9 kg", brix="21")
    found = draw(pencil.course(641), "reduction")
    assert found.solids_bx == 21.0
    assert [(each.planned, each.possible) for each in found.filled] == [(2, 1)]


# --- nonsense that somebody has confirmed -----------------------------------------------------------------------------

_NUMBER = st.one_of(
    st.sampled_from(["0", "0.001", "1e-9", "99", "1e6", "1e300"]), st.floats(0.0, 1e4, allow_nan=False).map(str)
)


@given(st.data())
def test_whatever_is_confirmed_the_page_of_the_run_is_still_there(data: st.DataObject) -> None:
    steps = [step for step in planned_steps(the_plan(), sheet_of()) if step.fields]
    pencil = Pencil()
    pencil.note("begin", "run_begun", 0)
    for step in data.draw(st.lists(st.sampled_from(steps), min_size=1, max_size=8)):
        way = data.draw(st.sampled_from(step.ways or ((step.fields[0].name,),)))
        units = {box.name: {"degC": "C", "pieces": ""}.get(box.unit, box.unit) for box in step.fields}
        typed: dict[str, Any] = {name: f"{data.draw(_NUMBER)} {units[name]}".strip() for name in way}
        pencil.note(step.code, step.kind, data.draw(st.floats(0.0, 700.0)), confirmed=True, **typed)
    course = pencil.course(700)
    assert len(course.steps) == len(planned_steps(the_plan(), sheet_of()))
    assert len(course.log) == len(pencil.notes)


def test_a_pot_with_nothing_weighed_into_it_is_told() -> None:
    told = loaded(frames="0 kg", feet="0 kg").course(10).charge
    assert told.sentence.startswith("Nothing but water would be in the pot.")


def test_a_reduction_that_hardly_gets_lighter_has_no_end() -> None:
    found = reduction_now(aim(), levels((0, 14.0), (60, 13.9999)), per_bx_share=PER_BX)
    assert (found.end_at, found.late_at) == (None, None)
