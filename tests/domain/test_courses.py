"""The ways of runs through the week's shifts: attended where they must be, simmered as long as the formula says."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import replace
from datetime import timedelta

import pytest

from production.domain.batches import size_batches
from production.domain.batches.courses import Course, released_h
from production.domain.batches.parts import Part
from production.domain.batches.shapes import Shape
from production.domain.batches.slots import clock_of
from production.domain.demand import net_demand
from production.domain.kitchen import Formula, SecondDraw, Week
from production.domain.parameters import DEFAULT_PARAMETERS
from tests.builders import a_line, at, poultry, small_kitchen
from tests.domain.test_joint import parts
from tests.kitchens import random_week

WEEK = small_kitchen(order_lines=(a_line(containers=4),))
OVERNIGHT = random_week("tiny", 2)


def ways(week: Week) -> Iterator[tuple[Part, Shape, Course]]:
    for part in parts(week).parts:
        for shape in part.shapes:
            for course in part.ways.courses(shape):
                yield part, shape, course


@pytest.mark.parametrize(("size", "seed"), [("tiny", 2), ("small", 3)])
def test_no_course_is_shorter_than_its_simmers_or_longer_than_they_may_be(size: str, seed: int) -> None:
    found = 0
    for part, shape, course in ways(random_week(size, seed)):
        spans, (i, j) = part.ways.spans, course.spans[:2]
        shortest_h = shape.least(shape.prepare_h) + shape.simmer_h + shape.least(shape.draw_h)
        assert course.cold_from_h >= spans[i].begin_h + shortest_h + part.ways.cold_h - 1e-6
        assert course.cold_from_h <= course.cold_until_h + 1e-6
        assert spans[j].begin_h <= course.cold_from_h
        assert spans[j].begin_h - spans[i].end_h <= shape.simmer_most_h + 0.02
        if shape.again is not None:
            assert course.reduced_h >= course.cold_from_h - part.ways.cold_h + shape.again.simmer_h - 24.0
        found += 1
    assert found > 0


def test_where_no_simmer_goes_on_overnight_a_run_ends_on_the_day_it_begins() -> None:
    attended = replace(OVERNIGHT, kitchen=replace(OVERNIGHT.kitchen, unattended_simmer=False))
    assert any(len(set(course.spans)) > 1 for *_, course in ways(OVERNIGHT))
    assert all(len(set(course.spans)) == 1 for *_, course in ways(attended))


def test_what_simmers_overnight_waits_in_the_morning_for_what_is_added_shortly_before() -> None:
    found = 0
    for part, shape, course in ways(OVERNIGHT):
        additions = part.ways.formula.additions
        is_last = part.ways.spans[course.spans[1]].end_h == math.inf  # it stands for later ones too
        if course.spans[0] == course.spans[1] or not additions or is_last:
            continue
        begin_h = part.ways.spans[course.spans[1]].begin_h
        offset_h = max(each.minutes_before_end for each in additions) / 60.0 - 0.25
        assert course.cold_from_h >= begin_h + offset_h + shape.least(shape.draw_h) + part.ways.cold_h - 1e-6
        found += 1
    assert found > 0


def test_the_shortest_hot_hold_may_lie_between_two_shifts_though_none_is_allowed() -> None:
    def apart(minutes: int) -> bool:
        noon = at("2027-02-01 13:00")
        shifts = tuple(
            replace(WEEK.shifts[0], start=start, end=end)
            for start, end in (
                (at("2027-02-01 05:30"), noon),
                (noon + timedelta(minutes=minutes), at("2027-02-01 21:30")),
            )
        )
        lines = (a_line(containers=4), a_line(code="G1", product="poultry-glaze", containers=1))
        week = small_kitchen(
            kitchen=replace(WEEK.kitchen, hot_hold_max_h=0.0),
            shifts=shifts,
            order_lines=lines,
            formulas=(quick(), WEEK.formulas[1]),
        )
        return any(course.spans == (0, 0, 0, 0, 1) for *_, course in ways(replace(week, offers=())))

    assert apart(5)
    assert not apart(10)


def quick() -> Formula:
    second = SecondDraw(simmer_min_h=0.5, simmer_max_h=1.0)
    return poultry(simmer_min_h=0.5, simmer_max_h=1.0, additions=(), second_draw=second)


def test_what_is_loaded_before_the_last_dispatch_and_drawn_after_it_waits_for_no_addition() -> None:
    # of the spans after the last dispatch only the first is known: what is added may be added in any of them
    last = max(span.begin_h for part, *_ in ways(OVERNIGHT) for span in part.ways.spans)
    late = [
        course.cold_from_h - shape.least(shape.draw_h) - part.ways.cold_h
        for part, shape, course in ways(OVERNIGHT)
        if part.ways.formula.additions and course.spans[0] < course.spans[1] == len(part.ways.spans) - 1
    ]
    assert late
    assert min(late) == pytest.approx(last)


def test_goods_are_waited_for_until_their_first_delivery_can_be_there() -> None:
    # planned on Saturday the 30th at 10:00, ordered by 16:00 for the day after; delivered from Monday on at 5:30
    week = replace(WEEK, saved_bones=(), ingredient_stock=())
    friday = replace(week, plan_from=at("2027-02-05 17:00"))  # too late for Saturday, so Monday the 8th
    assert released_h(week=week, formula=poultry()) == pytest.approx(43.5)
    assert released_h(week=friday, formula=poultry()) == pytest.approx(60.5)
    assert released_h(week=replace(week, offers=()), formula=poultry()) == 0.0


def test_staffed_time_is_cut_off_at_the_last_moment() -> None:
    hours = clock_of(week=WEEK, until=WEEK.shifts[0].end - timedelta(hours=1))
    assert hours.windows == ((hours.hours(WEEK.shifts[0].start), hours.hours(WEEK.shifts[0].end) - 1.0),)
    assert clock_of(week=replace(WEEK, shifts=()), until=WEEK.shifts[0].end).windows == ()


def test_what_no_shift_can_attend_keeps_the_runs_of_the_rule() -> None:
    kitchen = replace(WEEK.kitchen, unattended_simmer=False)
    long = replace(poultry(), simmer_min_h=30.0, simmer_max_h=40.0)
    formulas = tuple(long if each.code == long.code else each for each in WEEK.formulas)
    week = small_kitchen(kitchen=kitchen, formulas=formulas, order_lines=(a_line(containers=4),))
    demand = net_demand(week=week)
    limits_l = {formula.code: 60.0 for formula in week.formulas}
    rule, found = (
        size_batches(week=week, demand=demand, parameters=DEFAULT_PARAMETERS, coolable_l=limits_l, seconds=seconds)
        for seconds in (0.0, 1.0)
    )
    assert found.batches == rule.batches
    assert found.sizing.method == "rule"


def test_a_broth_that_would_not_keep_is_cooked_apart() -> None:
    # both lines fit one pot, but the first cannot wait for a broth that is still good for the second
    soon, later = at("2027-02-02 20:00"), at("2027-02-06 20:00")
    young = replace(WEEK.products[0], shelf_life_days=2)
    week = small_kitchen(
        products=(young, *WEEK.products[1:]),
        order_lines=(
            a_line(containers=2, dispatch_at=soon),
            a_line(code="L2", containers=2, dispatch_at=later),
        ),
    )
    found = size_batches(
        week=week,
        demand=net_demand(week=week),
        parameters=DEFAULT_PARAMETERS,
        coolable_l={formula.code: 60.0 for formula in week.formulas},
        seconds=2.0,
    )
    assert len(found.batches) == 2
