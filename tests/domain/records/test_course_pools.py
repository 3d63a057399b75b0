"""Second draws that are poured into a pan, alone or together."""

from __future__ import annotations

from datetime import datetime
from functools import cache

import pytest

from production.domain.plan import Plan
from production.domain.records.course import Running, course_of, planned_steps
from production.domain.records.course_content import Course, Noted
from production.domain.sheets import batch_sheets
from tests.domain.test_pools import a_pan, pan_week, plan_of, runs_of


@cache
def pool() -> Plan:
    return plan_of(pan_week(a_pan()))


def note(number: int, step: str, kind: str, when: datetime, **content: str) -> Noted:
    return Noted(
        number=number,
        key=str(number),
        kind=kind,
        content={"step": step, **content},
        happened_at=when,
        made_at=when,
        by="Ada",
        role="cook",
    )


def course(code: str, *notes: Noted, now: datetime) -> Course:
    sheet = next(sheet for sheet in batch_sheets(pool()) if sheet.run == code)
    return course_of(Running(pool(), sheet, "under_way", notes), now=now)


def test_what_is_poured_over_is_recorded_by_both_runs_and_the_guest_ends_there() -> None:
    host, guest = runs_of(pool())
    for run in (host, guest):
        sheet = next(sheet for sheet in batch_sheets(pool()) if sheet.run == run.code)
        steps = {step.code: step for step in planned_steps(pool(), sheet)}
        assert steps["pour"].kind == "poured"
        assert ("reduce" in steps) == (run is host)
        assert ("portion" in steps) == (run is host)


def test_the_aim_of_the_host_counts_its_own_draw_as_weighed_and_the_guest_as_planned() -> None:
    host, guest = runs_of(pool())
    assert guest.charge.liquor is not None
    draw = next(stage for stage in host.placed.stages if stage.name == "second_draw_off")
    when = pool().at(draw.end_min)
    found = course(host.code, note(1, "draw.second", "drawn", when, mass="20 kg"), now=when).reduction
    assert found is not None
    assert found.start_kg == pytest.approx(20.0 + guest.charge.liquor.mass_kg)


def test_the_depth_is_that_of_the_pan() -> None:
    """A hand's breadth in a pan 700 mm wide is far more than in the pot, 500 mm wide."""
    host, _ = runs_of(pool())
    when = pool().at(host.placed.stages[-1].start_min)
    found = course(host.code, note(1, "reduce", "reduction_checked", when, depth="80 mm"), now=when).reduction
    assert found is not None
    assert found.levels[0].mass_kg == pytest.approx(3.1416 * 0.35**2 * 80.0 * 0.96, rel=0.02)


def test_more_bones_of_the_host_change_what_its_pan_gives() -> None:
    host, _ = runs_of(pool())
    before = course(host.code, now=host.start_at).charge
    weighed = note(1, "charge.1", "charge_weighed", host.start_at, mass=f"{1.1 * host.charge.items[0].mass_kg:.2f} kg")
    after = course(host.code, weighed, now=host.start_at).charge
    assert before.reduction_kg is not None
    assert after.reduction_kg is not None
    assert after.reduction_kg > before.reduction_kg
