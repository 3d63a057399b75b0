"""What would help a week: every fix that is told does what it says when it is made."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from functools import cache
from pathlib import Path

import pytest

from production.domain.errors import PotwrightError
from production.domain.kitchen import CubeTray, IceDelivery, Outage, Week
from production.domain.plan import Fix, Plan, TriedFixes, apply_fix, compare_plans, find_fixes, make_plan, planned_with
from production.domain.plan import changes as kinds
from production.domain.plan.candidates import candidates_of
from production.domain.week_file import dumps_week, parse_week
from tests.builders import a_week, at, small_kitchen
from tests.domain.cut_weeks import CUTS, whole

FIXTURES = Path(__file__).parents[2] / "fixtures"
LONG_S = 120.0  # never needed on a machine that is not busy


@cache
def impossible() -> Plan:
    return make_plan(week=parse_week((FIXTURES / "impossible_week.json").read_bytes()))


@cache
def fixes() -> tuple[Fix, ...]:
    return find_fixes(impossible(), seconds=LONG_S).helping


def missing(plan: Plan, line: str = "") -> int:
    return sum(each.containers for each in plan.unserved if line in ("", each.line))


@pytest.mark.long
def test_every_line_that_cannot_be_served_has_a_fix_that_serves_more_of_it() -> None:
    for line in {each.line for each in impossible().unserved}:
        fix = next(fix for fix in fixes() if line in fix.lines_helped and fix.effect_unserved > 0)
        after = planned_with(impossible(), apply_fix(impossible().week, fix))
        assert missing(after, line) < missing(impossible(), line)


@pytest.mark.long
@pytest.mark.parametrize("number", range(5))
def test_a_fix_that_is_made_has_the_effect_that_was_told(number: int) -> None:
    fix = fixes()[number]
    after = planned_with(impossible(), apply_fix(impossible().week, fix))
    alone = planned_with(impossible(), impossible().week)
    assert missing(alone) - missing(after) == fix.effect_unserved
    assert alone.schedule.lateness_h - after.schedule.lateness_h == pytest.approx(fix.effect_late_h)
    assert fix.lines_helped


@pytest.mark.long
def test_what_planning_again_does_by_itself_is_told_apart_and_not_counted_for_the_changes() -> None:
    week = CUTS["trays"](whole())
    plan = make_plan(week=week)
    alone = planned_with(plan, week)
    assert alone.schedule.lateness_h < plan.schedule.lateness_h
    begun: list[str] = []
    tried = find_fixes(
        plan, seconds=LONG_S, cancelled=lambda: len(begun) > 12, progress=lambda note, *_: begun.append(note)
    )
    (nothing,) = [fix for fix in tried.helping if fix.kind == kinds.NOTHING]
    assert nothing.effect_late_h == pytest.approx(plan.schedule.lateness_h - alone.schedule.lateness_h)
    assert apply_fix(week, nothing) == week
    (tray,) = [fix for fix in tried.helping if fix.kind == kinds.TRAYS and fix.amount == 1.0]
    assert tray.effect_late_h == pytest.approx(alone.schedule.lateness_h)
    told = [each.sentence for each in compare_plans(plan, planned_with(plan, apply_fix(week, tray))).changes]
    assert list(tray.differences) == told[:12]
    assert tray.more_differences == len(told) - len(tray.differences)
    assert any(fix.kind == kinds.ICE for fix in tried.in_vain)
    assert not any(fix.helps for fix in tried.in_vain)


@pytest.mark.long
def test_no_fix_is_told_that_does_not_help() -> None:
    for fix in fixes():
        assert fix.effect_unserved > 0 or (fix.effect_unserved == 0 and fix.effect_late_h > 0)
        assert fix.sentence.endswith(".")


@pytest.mark.long
def test_a_supplier_that_comes_too_late_is_answered_with_goods_that_are_fetched() -> None:
    assert any(fix.kind == kinds.GOODS and "L003" in fix.lines_helped for fix in fixes())


def test_a_week_without_trouble_needs_no_fixes() -> None:
    assert find_fixes(make_plan(week=a_week()), seconds=1.0) == TriedFixes((), (), ())


@pytest.mark.long
def test_a_pot_that_is_away_is_answered_with_having_it_back() -> None:
    """Both pots are away until the day after the first dispatches."""
    away = Outage(start=at("2027-01-31 00:00"), end=at("2027-02-04 12:00"), reason="service")
    week = replace(a_week(), pots=tuple(replace(pot, outages=(away,)) for pot in a_week().pots))
    plan = make_plan(week=week)
    assert plan.late or plan.unserved
    lifted = [fix for fix in find_fixes(plan, seconds=LONG_S).helping if fix.kind == kinds.OUTAGE]
    assert lifted
    after = planned_with(plan, apply_fix(week, lifted[0]))
    assert after.schedule.lateness_h < plan.schedule.lateness_h or missing(after) < missing(plan)


def test_looking_stops_when_it_is_told_to_and_what_was_half_tried_does_not_count() -> None:
    tried: list[str] = []
    found = find_fixes(
        impossible(), seconds=LONG_S, cancelled=lambda: len(tried) >= 2, progress=lambda note, *_: tried.append(note)
    )
    assert len(tried) == 2
    assert [each.sentence for each in found.untried] == [each.sentence for each in candidates_of(impossible())[1:]]
    assert not any(each.tried for each in found.untried)


def test_of_people_who_work_the_same_hours_one_is_asked() -> None:
    plan = make_plan(week=doubled(CUTS["cooks"](CUTS["trays"](whole()))))
    hours = [(each.start, each.end) for each in plan.week.shifts]
    assert len(set(hours)) < len(hours)
    told = [fix.sentence for fix in candidates_of(plan) if fix.kind == kinds.MORE_COOKS]
    assert told
    assert len(set(told)) == len(told)
    starts = [(fix.kind, fix.at, fix.amount) for fix in candidates_of(plan) if fix.kind == kinds.LONGER_EARLIER]
    assert len(set(starts)) == len(starts)


def doubled(week: Week) -> Week:
    """Everybody with a twin who works the same hours."""
    people = tuple(replace(each, code=f"{each.code}-twin") for each in week.people)
    shifts = tuple(replace(each, person=f"{each.person}-twin") for each in week.shifts)
    return replace(week, people=(*week.people, *people), shifts=(*shifts, *week.shifts))


# The changes by themselves


def fix(kind: str, target: str, amount: float, **more: object) -> Fix:
    return Fix(kind=kind, target=target, amount=amount, unit="", sentence="Do it.", **more)  # type: ignore[arg-type]


def changed(what: Fix, week: Week | None = None) -> Week:
    return apply_fix(week or a_week(), what)


def test_a_longer_shift_is_longer_at_its_end_or_its_start_and_no_other_is() -> None:
    shift = a_week().shifts[0]
    later = changed(fix(kinds.LONGER_LATER, shift.person, 1.0, at=shift.start))
    assert later.shifts[0].end - shift.end == timedelta(hours=1)
    earlier = changed(fix(kinds.LONGER_EARLIER, shift.person, 2.0, at=shift.start))
    assert shift.start - earlier.shifts[0].start == timedelta(hours=2)
    assert later.shifts[1:] == earlier.shifts[1:] == a_week().shifts[1:]


def test_one_more_cook_works_the_copied_shift() -> None:
    shift = a_week().shifts[2]
    week = changed(fix(kinds.MORE_COOKS, shift.person, 1.0, at=shift.start))
    assert (week.shifts[-1].start, week.shifts[-1].end) == (shift.start, shift.end)
    assert week.shifts[-1].person == week.people[-1].code not in {person.code for person in a_week().people}


def test_places_ice_trays_pots_power_room_and_formulas_are_added() -> None:
    assert changed(fix(kinds.COOLING_PLACES, "sink", 2.0)).get("cooling_devices", "sink").places == 6
    brought = changed(fix(kinds.ICE, "", 50.0, at=at("2027-02-02 09:00")))
    assert brought.ice_deliveries == (IceDelivery(code="ice", at=at("2027-02-02 09:00"), mass_kg=50.0),)
    assert changed(fix(kinds.TRAYS, "cube-30", 5.0)).cube_trays == (
        CubeTray(code="cube-30", name="Tray of 20", cells=20, cell_ml=30.0, trays=15),
    )
    more = changed(fix(kinds.POT_LIKE, "tall", 1.0))
    assert more.pots[-1].inner_height_mm == a_week().pots[0].inner_height_mm
    assert more.get("heat_sources", more.pots[-1].heat_source).input_kw == 26.0
    assert changed(fix(kinds.HEAT_SUPPLY, "gas", 12.0)).get("heat_supplies", "gas").capacity_kw == 52.0
    freezer = changed(fix(kinds.STORE_ROOM, "freezer", 100.0)).get("stores", "freezer")
    assert freezer.volume_l * freezer.usable_share == 750.0 + 100.0
    tall, wide = a_week().pots
    kept = replace(a_week(), pots=(tall, replace(wide, formulas=("fish",))))
    assert changed(fix(kinds.POT_ALLOWED, "wide", 1.0, detail="poultry"), kept).pots[1].formulas == ("fish", "poultry")


def test_goods_that_are_fetched_are_on_the_shelf() -> None:
    week = changed(fix(kinds.GOODS, "fish-frames", 12.5))
    assert (week.ingredient_stock[-1].ingredient, week.ingredient_stock[-1].mass_kg) == ("fish-frames", 12.5)
    assert week.ingredient_stock[-1].use_by == date(2027, 2, 7)


def test_an_order_in_two_parts_keeps_its_containers() -> None:
    week = changed(fix(kinds.SPLIT, "L1", 4.0, at=at("2027-02-04 09:00")))
    parts = [line for line in week.order_lines if line.code.startswith("L1")]
    assert [(line.containers, line.dispatch_at) for line in parts] == [
        (4, at("2027-02-03 09:00")),
        (2, at("2027-02-04 09:00")),
    ]


def test_a_later_dispatch_is_later_by_its_hours() -> None:
    assert changed(fix(kinds.LATER, "L1", 5.0)).order_lines[0].dispatch_at == at("2027-02-03 14:00")


def test_two_changes_that_go_together_are_both_made() -> None:
    both = fix(kinds.COOLING_PLACES, "sink", 1.0, also=(fix(kinds.TRAYS, "cube-30", 1.0),))
    week = changed(both)
    assert (week.get("cooling_devices", "sink").places, week.cube_trays[0].trays) == (5, 11)


def test_a_fix_for_something_that_is_gone_is_refused() -> None:
    with pytest.raises(PotwrightError) as caught:
        changed(fix(kinds.COOLING_PLACES, "gone", 1.0))
    assert caught.value.code == "fix-out-of-date"


def test_a_changed_week_is_one_that_its_reader_takes() -> None:
    for candidate in candidates_of(impossible()):
        week = apply_fix(impossible().week, candidate)
        assert parse_week(dumps_week(week).encode()) == week


def test_no_orders_no_candidates() -> None:
    assert candidates_of(make_plan(week=small_kitchen())) == ()


@pytest.mark.long
def test_longer_shifts_that_a_reason_names_are_tried_and_serve_what_it_is_about() -> None:
    week = whole()
    short = tuple(
        replace(shift, start=shift.start + timedelta(hours=1), end=shift.start + timedelta(hours=6))
        for shift in week.shifts
        if shift.person in ("ana", "cho")
    )
    cut = replace(week, shifts=short, kitchen=replace(week.kitchen, unattended_simmer=False))
    plan = make_plan(week=cut)
    assert {each.resource for each in plan.unserved if each.line == "L1"} == {"hours"}
    helping = [each for each in find_fixes(plan, seconds=LONG_S).helping if each.kind == kinds.LONGER_ALL]
    fix = max(helping, key=lambda each: each.amount)
    assert fix.sentence == "Every shift from Monday 06:30 longer by 5 h 30 min at both ends."
    longer = apply_fix(cut, fix)
    assert {shift.end - shift.start for shift in longer.shifts} == {timedelta(hours=16)}
    assert missing(planned_with(plan, longer), "L1") == 0
