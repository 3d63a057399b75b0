"""What goes on paper: the order of work, cautions where they belong, limits in the rule's own unit."""

from __future__ import annotations

import itertools
import json
from dataclasses import replace
from datetime import timedelta
from decimal import Decimal
from functools import cache
from pathlib import Path
from typing import Any

import pytest
from pydantic import ValidationError

from production.domain.kitchen import Addition, SavedBones, Week
from production.domain.plan import Plan, PlannedRun, make_plan
from production.domain.sheets import (
    BatchSheet,
    Content,
    CoolingLog,
    StageLine,
    batch_sheets,
    content_from_json,
    content_to_json,
    cooling_logs,
    issued,
    purchase_lists,
)
from production.domain.week_file import parse_week
from tests.builders import a_kitchen, a_line, a_pot, at, poultry, small_kitchen

FIXTURES = Path(__file__).parents[2] / "fixtures"
GLAZE = (a_line(containers=4), a_line(code="G", product="poultry-glaze", containers=1))


@cache
def demo() -> Plan:
    return make_plan(week=parse_week((FIXTURES / "demo_week.json").read_bytes()))


@cache
def of_small(key: str = "plain") -> Plan:
    changes: dict[str, dict[str, Any]] = {
        "plain": {},
        "us": {"kitchen": a_kitchen(units="us", cooling_rule="FDA_A")},
        "salted": {"formulas": (poultry(salt_share=0.006), *small_kitchen().formulas[1:])},
    }
    return make_plan(week=small_kitchen(order_lines=GLAZE, **changes[key]))


def sheet_of(plan: Plan, run: PlannedRun) -> BatchSheet:
    return next(sheet for sheet in batch_sheets(plan) if sheet.run == run.code)


def only_sheet(plan: Plan) -> BatchSheet:
    (sheet,) = batch_sheets(plan)
    return sheet


def stage(sheet: BatchSheet, kind: str) -> StageLine:
    return next(line for line in sheet.stages if line.kind == kind)


every_plan = pytest.mark.parametrize("key", ["demo", "plain", "us", "salted"])


def contents_of(plan: Plan) -> list[Content]:
    contents: list[Content] = []
    contents.extend(batch_sheets(plan))
    contents.extend(cooling_logs(plan))
    contents.extend(purchase_lists(plan))
    return contents


def plan_of(key: str) -> Plan:
    return demo() if key == "demo" else of_small(key)


# --- every document --------------------------------------------------------------------------------------------------


@every_plan
def test_contents_come_back_from_json_as_they_were(key: str) -> None:
    plan = plan_of(key)
    contents = contents_of(plan)
    assert {content.kind for content in contents} == {"batch_sheet", "cooling_log", "purchase_list"}
    for content in contents:
        assert content_from_json(json.loads(json.dumps(content_to_json(content)))) == content


@every_plan
def test_every_document_has_its_own_key(key: str) -> None:
    plan = plan_of(key)
    keys = [content.key for content in contents_of(plan)]
    assert len(keys) == len(set(keys))


def test_broken_content_is_refused() -> None:
    data = content_to_json(only_sheet(of_small()))
    with pytest.raises(ValidationError):
        content_from_json(data | {"stages": 3})


def test_a_document_says_whose_it_is_and_when_its_plan_was_made() -> None:
    heading = only_sheet(of_small()).heading
    assert (heading.kitchen, heading.time_zone, heading.units) == ("Small test kitchen", "America/Denver", "metric")
    assert heading.plan_made_at == at("2027-01-30 10:00")
    assert heading.parameter_set == "defaults-1"


# --- batch sheets ----------------------------------------------------------------------------------------------------


def test_every_run_has_a_sheet() -> None:
    assert [sheet.run for sheet in batch_sheets(demo())] == [run.code for run in demo().runs]


def test_stages_follow_one_another_without_a_gap() -> None:
    for sheet in batch_sheets(demo()):
        *chain, wash = sheet.stages
        assert wash.kind == "wash"
        assert wash.start_at >= chain[-1].end_at
        assert sheet.start_at == chain[0].start_at
        assert sheet.end_at == wash.end_at
        for before, after in itertools.pairwise(chain):
            assert before.end_at == after.start_at
        for line in sheet.stages:
            assert line.title
            assert line.do
            assert line.record


def test_additions_go_in_near_their_minutes_before_the_end_of_the_simmer() -> None:
    plan = demo()
    for run in plan.runs:
        sheet = sheet_of(plan, run)
        ends = stage(sheet, "simmer").end_at
        lines = {(line.name, line.what): line for line in sheet.charge}
        names = {each.code: each.name for each in plan.week.ingredients}
        for addition in plan.week.get("formulas", run.formula).additions:
            line = lines[names[addition.ingredient], addition.kind]
            assert line.add_at is not None
            wanted = ends - timedelta(minutes=addition.minutes_before_end)
            assert abs(line.add_at - wanted) <= timedelta(minutes=15)
            assert stage(sheet, "simmer").start_at <= line.add_at < ends


def test_weighings_come_in_the_order_of_use_with_the_water_after_the_solids() -> None:
    for sheet in batch_sheets(demo()):
        assert [line.order for line in sheet.charge] == list(range(1, len(sheet.charge) + 1))
        kinds = [line.what for line in sheet.charge]
        water = kinds.index("water")
        assert set(kinds[:water]) == {"solids"}
        assert not set(kinds[water + 1 :]) & {"solids", "water"}
        assert [line.add_at for line in sheet.charge[: water + 1]] == [None] * (water + 1)
        times = [line.add_at for line in sheet.charge[water + 1 :] if line.add_at]
        assert len(times) == len(kinds) - water - 1
        assert sheet.charge[water].volume_l is not None


def test_an_ingredient_that_is_added_twice_has_two_times_and_two_weights() -> None:
    twice = poultry(
        additions=(
            Addition(ingredient="onion", kind="mirepoix", kg_per_kg_solids=0.1, minutes_before_end=120),
            Addition(ingredient="onion", kind="aromatics", kg_per_kg_solids=0.02, minutes_before_end=30),
        )
    )
    plan = make_plan(
        week=small_kitchen(formulas=(twice, *small_kitchen().formulas[1:]), order_lines=(a_line(containers=4),))
    )
    sheet = only_sheet(plan)
    first, second = (line for line in sheet.charge if line.name == "Onion")
    assert first.mass_kg == pytest.approx(5 * second.mass_kg)
    assert first.add_at is not None
    assert second.add_at is not None
    assert second.add_at - first.add_at >= timedelta(minutes=60)


def test_what_comes_from_the_saved_bones_is_said_at_each_weighing() -> None:
    bank = SavedBones(
        code="bank",
        ingredient="frames",
        mass_kg=6.0,
        saved_on=at("2027-01-20 12:00").date(),
        use_by=at("2027-03-20 12:00").date(),
    )
    sheet = only_sheet(make_plan(week=small_kitchen(saved_bones=(bank,), order_lines=(a_line(containers=4),))))
    assert {line.name: line.from_bank_kg for line in sheet.charge if line.from_bank_kg} == {"Chicken frames": 6.0}


def test_the_pot_is_drawn_with_the_measures_of_the_charge() -> None:
    sheet = only_sheet(of_small())
    fill = sheet.fill
    # 500 mm wide, 510 mm high: 0.19635 L a millimetre, 100.1 L to the brim
    assert fill.brim_l == pytest.approx(100.14, abs=0.01)
    assert fill.fill_mark_mm == pytest.approx(510.0 - (fill.water_l + fill.solids_l) / 0.19635, abs=0.1)
    assert fill.cold_fill_l == pytest.approx(fill.water_l + fill.solids_l)
    assert fill.freeboard_mm == 100.0
    assert fill.fill_mark_mm > fill.hot_mark_mm >= fill.freeboard_mm - 0.1


def test_a_sheet_tells_what_its_draws_are_filled_into_and_where_they_cool() -> None:
    sheet = only_sheet(of_small())
    first, reduction = sheet.draws
    assert [(each.product, each.containers, each.net_l) for each in first.filled] == [("Poultry broth 5 L", 4, 5.0)]
    assert [(each.product, each.containers) for each in reduction.filled] == [("Poultry glaze 0.5 L", 1)]
    assert first.cold_l == pytest.approx(20.0)
    assert first.hot_l > first.cold_l
    assert (reduction.name, reduction.solids_bx) == ("Reduction", 20.0)
    logs = {log.key for log in cooling_logs(of_small())}
    assert {key for each in sheet.draws for key in each.log_key.split(", ")} == logs
    assert "vessels" in first.cooled_in


def test_cubes_are_counted_in_pieces() -> None:
    week = small_kitchen(order_lines=(a_line(containers=4), a_line(code="C", product="poultry-cubes", containers=1)))
    (sheet,) = batch_sheets(make_plan(week=week))
    assert [each.pieces for each in sheet.draws[1].filled] == [20]


# --- cautions --------------------------------------------------------------------------------------------------------


def away(plan: Plan, line: StageLine) -> bool:
    """Whether there is a minute of the stage in no shift, asked minute by minute."""
    minutes = int((line.end_at - line.start_at).total_seconds() // 60)
    moments = (line.start_at + timedelta(minutes=minute) for minute in range(minutes))
    return not all(any(shift.start <= moment < shift.end for shift in plan.week.shifts) for moment in moments)


def test_a_simmer_with_nobody_there_carries_its_caution_and_no_other_does() -> None:
    plan = demo()
    simmers = [
        line for sheet in batch_sheets(plan) for line in sheet.stages if line.kind in ("simmer", "second_simmer")
    ]
    assert {away(plan, line) for line in simmers} == {True, False}
    for line in simmers:
        assert ("unattended" in line.caution) == away(plan, line)


def test_gas_is_cautioned_on_gas_and_not_on_induction() -> None:
    plan = demo()
    week = plan.week
    kinds = set()
    for run in plan.runs:
        kind = week.get("heat_supplies", week.get("heat_sources", week.get("pots", run.pot).heat_source).supply).kind
        kinds.add(kind)
        assert ("Gas" in stage(sheet_of(plan, run), "heat_up").caution) == (kind == "gas")
    assert "gas" in kinds
    induction = make_plan(
        week=small_kitchen(
            pots=(a_pot(heat_source="plate", inner_diameter_mm=350.0, inner_height_mm=600.0),),
            order_lines=(a_line(product="fish-2", containers=8),),
        )
    )
    assert "Gas" not in stage(only_sheet(induction), "heat_up").caution


def test_allergens_are_named_on_the_sheet_and_at_the_wash() -> None:
    plan = make_plan(week=small_kitchen(order_lines=(a_line(product="fish-2", containers=10), *GLAZE[:1])))
    for sheet in batch_sheets(plan):
        fishy = sheet.formula == "Fish stock"
        assert sheet.allergens == (("fish",) if fishy else ())
        assert ("fish" in stage(sheet, "wash").caution) == fishy
        named = {line.name for line in sheet.charge if line.allergens}
        assert named == ({"White fish frames"} if fishy else set())


def test_a_reduction_is_told_to_catch_and_where_to_turn_the_heat_down() -> None:
    sheet = only_sheet(of_small())
    assert "catches" in stage(sheet, "finish").caution
    assert "turn the heat down" in stage(sheet, "reduce").do
    assert "Wide 45" in stage(sheet, "reduce").do  # 450 mm, narrower than the 500 mm pot
    narrowest = make_plan(week=small_kitchen(pots=(a_pot(),), order_lines=GLAZE))
    assert "Wide 45" not in stage(only_sheet(narrowest), "reduce").do
    assert all("catches" not in line.caution for line in sheet.stages if line.kind != "finish")


def test_salt_that_a_reduction_would_concentrate_is_cautioned_with_its_number() -> None:
    (run,) = of_small("salted").runs
    assert run.charge.reduction is not None
    percent = 0.6 * run.charge.reduction.mass_factor
    assert percent > 1.2
    (caution,) = [each for each in only_sheet(of_small("salted")).cautions if "Salt" in each]
    assert f"{percent:.1f} %" in caution
    assert not [each for each in only_sheet(of_small()).cautions if "Salt" in each]


def test_salt_is_weighed_for_the_drawn_broth_and_kept_out_of_the_pot() -> None:
    (run,) = of_small("salted").runs
    assert run.charge.salt_kg == pytest.approx(0.006 * run.charge.first.mass_kg)
    told = stage(only_sheet(of_small("salted")), "draw_off").do
    assert f"{5 * round(200 * run.charge.salt_kg)} g of salt into the drawn broth, not the pot" in told
    assert "salt" not in stage(only_sheet(of_small()), "draw_off").do


def test_a_reduction_that_gives_more_than_planned_is_told_where_it_is_portioned() -> None:
    spares = {
        run.code: run.charge.reduction.litres - run.batch.reduction_l for run in demo().runs if run.charge.reduction
    }
    sheets = {sheet.run: sheet for sheet in batch_sheets(demo())}
    assert any(spare > 0.05 for spare in spares.values())
    for code, spare in spares.items():
        assert ("more than planned" in stage(sheets[code], "portion").do) == (spare >= 0.05)


def test_every_sheet_says_what_hot_broth_must_not_be_put_into() -> None:
    for sheet in batch_sheets(demo()):
        assert any("airtight" in caution for caution in sheet.cautions)
        assert any("still cold air" in caution for caution in sheet.cautions)


def test_solids_that_the_water_will_not_cover_are_told_at_the_load() -> None:
    dry = poultry(water_kg_per_kg_solids=1.0, lid="on")
    plan = make_plan(
        week=small_kitchen(formulas=(dry, *small_kitchen().formulas[1:]), order_lines=(a_line(containers=4),))
    )
    assert "will not cover" in stage(only_sheet(plan), "load").caution
    wet = poultry(water_kg_per_kg_solids=3.0, lid="on")
    plan = make_plan(
        week=small_kitchen(formulas=(wet, *small_kitchen().formulas[1:]), order_lines=(a_line(containers=8),))
    )
    assert "will not cover" not in stage(only_sheet(plan), "load").caution


# --- units -----------------------------------------------------------------------------------------------------------


def test_a_kitchen_with_us_units_reads_no_metric_number() -> None:
    sheet = only_sheet(of_small("us"))
    spoken = " ".join(f"{line.do} {line.caution}" for line in sheet.stages)
    assert "°F" in spoken
    assert " in below the rim" in spoken
    for metric in ("°C", " kg", " L ", " mm"):
        assert metric not in spoken


def test_a_metric_kitchen_reads_no_us_number() -> None:
    sheet = only_sheet(of_small())
    spoken = " ".join(f"{line.do} {line.caution}" for line in sheet.stages)
    assert "°C" in spoken
    for us in ("°F", " lb", " qt", " gal", " in below"):
        assert us not in spoken


# --- cooling logs ----------------------------------------------------------------------------------------------------


def logs_under(rule: str, **changes: Any) -> tuple[CoolingLog, ...]:
    week: Week = small_kitchen(kitchen=a_kitchen(cooling_rule=rule), order_lines=GLAZE[:1], **changes)
    return cooling_logs(make_plan(week=week))


def test_there_is_a_log_for_each_draw_and_device() -> None:
    plan = demo()
    logs = cooling_logs(plan)
    parts = [(run.code, draw.name) for run in plan.runs for draw in run.draws for _ in draw.cooling.parts]
    assert [(log.run, "reduction" if log.draw == "Reduction" else "first") for log in logs] == parts


def test_a_draw_that_goes_into_two_devices_has_two_logs() -> None:
    sink, chiller = small_kitchen().cooling_devices
    first, second = logs_under("FDA_A_C", cooling_devices=(replace(sink, places=1), replace(chiller, places=2)))
    assert {first.device, second.device} == {"Ice sink", "Blast chiller"}
    assert first.key != second.key
    assert first.vessels * first.fill_l + second.vessels * second.fill_l >= 20.0 - 1e-6


@pytest.mark.parametrize(
    ("rule", "limits"),
    [
        ("FDA_A", [("135", "70", "F", 120), ("135", "41", "F", 360)]),
        ("FDA_A_C", [("57", "21", "C", 120), ("57", "5", "C", 360)]),
        ("US_MD_SCHED", [("135", "70", "F", 120), ("70", "41", "F", 240)]),
        ("AU_322", [("60", "21", "C", 120), ("21", "5", "C", 240)]),
    ],
)
def test_limits_are_printed_as_the_rule_prints_them(rule: str, limits: list[tuple[str, str, str, int]]) -> None:
    (log,) = logs_under(rule)
    assert [(each.from_temp, each.to_temp, each.temp_unit, each.limit_min) for each in log.limits] == [
        (Decimal(start), Decimal(end), unit, minutes) for start, end, unit, minutes in limits
    ]
    for each in log.limits:
        assert each.inclusive
        assert each.margin_min == pytest.approx(each.limit_min - each.predicted_min)
        assert each.margin_min >= 0


def test_each_limit_says_from_when_it_is_counted() -> None:
    whole, apart = logs_under("FDA_A")[0], logs_under("US_MD_SCHED")[0]
    assert [each.counted_from for each in whole.limits] == ["passing 135 °F", "passing 135 °F"]
    assert [each.counted_from for each in apart.limits] == ["passing 135 °F", "the end of stage 1"]
    assert "135 °F" in whole.clock_starts


def test_a_rule_that_counts_from_an_event_names_it() -> None:
    chiller = small_kitchen().cooling_devices[1]
    strong = replace(chiller, vessel_fill_l=2.0, places=20, power_kw=40.0, rated_kg=200.0, air_temp_c=-20.0)
    (log,) = logs_under("IE_GN15", cooling_devices=(strong,))
    assert log.clock_starts == "The clock starts at: end of cooking."
    assert [each.counted_from for each in log.limits] == ["end of cooking"]
    assert log.corrective[-1] == "History not known, or a second failure: discard."
    assert not any("reheat" in line for line in log.corrective)
    assert "Above 3 °C after the 150 min of stage 1: discard." in log.corrective


def test_a_strict_rule_is_not_inclusive() -> None:
    assert [each.inclusive for each in logs_under("FR_2009")[0].limits] == [False]


def test_a_stage_without_minutes_is_not_printed_as_a_limit() -> None:
    log = logs_under("FSIS_B_OPT2")[0]
    assert [each.stage for each in log.limits] == [1, 2]
    assert any("to 40 °F" in note for note in log.notes)
    assert "Above 55 °F after the 300 min of stage 2: discard." in log.corrective


def test_what_a_rule_adds_to_its_minutes_is_printed() -> None:
    assert any("then 3 C" in note for note in logs_under("FR_2009")[0].notes)


def test_papers_of_different_plans_carry_different_marks_and_a_reissue_says_so() -> None:
    first, other = (make_plan(week=small_kitchen(order_lines=(a_line(containers=n),))) for n in (5, 6))
    marks = [batch_sheets(plan)[0].heading.plan_mark for plan in (first, first, other)]
    assert marks[0] == marks[1] != marks[2]
    again = issued(batch_sheets(first)[0], version=2, replaces=1, at=first.origin)
    assert (again.heading.version, again.heading.replaces, again.heading.issued_at) == (2, 1, first.origin)
    assert content_from_json(content_to_json(again)) == again


def test_what_to_do_is_said_for_each_limit_in_its_own_unit() -> None:
    us, metric = logs_under("FDA_A")[0], logs_under("FDA_A_C")[0]
    assert any("Above 70 °F after the 120 min of stage 1: discard." in line for line in us.corrective)
    assert any("165 °F" in line for line in us.corrective)
    assert any("Above 5 °C after the 360 min of stage 2: discard." in line for line in metric.corrective)
    assert any("74 °C" in line for line in metric.corrective)


def test_readings_are_suggested_from_the_start_to_beyond_the_end() -> None:
    for log in cooling_logs(demo()):
        assert log.reading_minutes[0] == 0
        assert list(log.reading_minutes) == sorted(set(log.reading_minutes))
        assert log.reading_minutes[-1] >= log.slow[-1].minute
        assert {second - first for first, second in itertools.pairwise(log.reading_minutes)} <= {15, 30, 60}


def test_the_predicted_curve_starts_with_the_draw_and_falls_to_the_last_limit() -> None:
    (log,) = logs_under("FDA_A_C")
    for curve in (log.expected, log.slow):
        assert (curve[0].minute, curve[0].temp_c) == (0.0, log.start_temp_c)
        assert curve[-1].temp_c == pytest.approx(5.0)
    assert log.slow[-1].minute > log.expected[-1].minute


def test_the_log_starts_when_the_draw_does() -> None:
    plan = demo()
    draws = {(run.code, draw.name): draw.start_at for run in plan.runs for draw in run.draws}
    for log in cooling_logs(plan):
        assert log.start_at == draws[log.run, "reduction" if log.draw == "Reduction" else "first"]


# --- purchase lists --------------------------------------------------------------------------------------------------


def test_there_is_a_list_for_each_supplier_and_delivery() -> None:
    plan = demo()
    lists = purchase_lists(plan)
    assert len(lists) == len(plan.purchases.orders) > 1
    names = {each.name for each in plan.week.suppliers}
    for each in lists:
        assert each.supplier in names
        assert each.contact
        assert each.order_by < each.delivery_at
        assert each.total == sum((line.cost for line in each.lines), Decimal(0))
        for line in each.lines:
            assert line.cost == line.price * line.packs
            assert line.mass_kg == pytest.approx(line.packs * line.pack_kg)
            assert line.needed_by >= each.delivery_at
            assert line.for_runs


def test_a_list_is_keyed_by_the_day_of_delivery_in_the_kitchen() -> None:
    plan = make_plan(week=small_kitchen(order_lines=GLAZE[:1]))
    (run,) = plan.runs
    (each,) = purchase_lists(plan)
    assert each.delivery_at <= run.start_at
    assert each.key == f"market-{each.delivery_at:%Y-%m-%d}"
    assert each.currency == "USD"
