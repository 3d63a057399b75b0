"""How good a plan is, with the bound; and a search while it goes on."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

from production.domain.batches import Sizing
from production.domain.plan import Fix, Plan, Preview, PreviewRun, make_plan, preview_to_json
from production.domain.schedule.result import Level
from production.web.present.fixes import fix_rows
from production.web.present.goals import goal_rows
from production.web.present.progress import so_far
from production.web.style import Style
from tests.builders import ZONE, a_week, at


@cache
def the_plan() -> Plan:
    return make_plan(week=a_week())


def with_levels(*levels: Level, sizing: Sizing | None = None) -> Plan:
    plan = the_plan()
    return replace(plan, schedule=replace(plan.schedule, levels=levels), sizing=sizing or Sizing())


def level(name: str, value: float, bound: float | None, seconds: float = 12.4) -> Level:
    return Level(name=name, value=value, bound=bound, unit="h", seconds=seconds)


def test_a_level_says_whether_anything_better_is_possible() -> None:
    rows = goal_rows(with_levels(level("lateness", 2.5, 2.5), level("lateness", 2.5, 0.0), level("calm", 80.0, None)))
    assert [row.verdict for row in rows] == [
        "Nothing better is possible with these runs.",
        "Could at best be 0 h; the search stopped after 12 s.",
        "No bound is claimed: something better may exist.",
    ]
    assert [row.value for row in rows] == ["2.5 h", "2.5 h", "80 h"]
    assert [row.best for row in rows] == ["2.5 h", "0 h", ""]
    assert [row.proven for row in rows] == [True, False, False]


def test_a_bound_is_never_shown_above_the_value() -> None:
    (row,) = goal_rows(with_levels(level("lateness", 2.0, 2.0 + 5e-7)))
    assert (row.value, row.best, row.proven) == ("2 h", "2 h", True)


def test_the_choice_of_runs_tells_its_gap() -> None:
    sizing = Sizing(method="search", objective=1240.0, bound=1230.0, gap_share=0.0081, seconds=9.6, runs=12)
    (row,) = goal_rows(with_levels(sizing=sizing))
    assert (row.value, row.best) == ("1240", "1230")
    assert row.verdict == "Could at best cost 0.8 % less; the search took 10\N{NO-BREAK SPACE}s."
    proven = replace(sizing, bound=1240.0, gap_share=0.0)
    assert goal_rows(with_levels(sizing=proven))[0].proven
    unknown = replace(sizing, bound=None, gap_share=None)
    assert goal_rows(with_levels(sizing=unknown))[0].verdict.startswith("No bound is claimed")


def test_a_plan_by_rule_claims_nothing() -> None:
    assert goal_rows(with_levels()) == ()


STYLE = Style(units="metric", zone=ZONE, currency="USD", now=at("2026-01-01 08:00"))


def a_preview(**changes: object) -> Preview:
    run = PreviewRun(code="R01", formula="poultry", pot="tall", pan="", start_min=360, end_min=900, is_late=True)
    preview = Preview(
        origin=at("2027-02-01 00:00"),
        runs=(run,),
        without_time=2,
        lateness_h=3.0,
        bound_h=1.5,
        seconds=7.8,
        doing="Fewer late hours are looked for.",
    )
    return replace(preview, **changes)  # type: ignore[arg-type]


def test_a_search_shows_its_best_plan_and_how_good_it_can_become() -> None:
    found = so_far(preview=preview_to_json(a_preview()), week=a_week(), style=STYLE)
    assert (found.runs, found.without_time, found.late, found.best) == (1, 2, "3 h late", "could at best be 1.5 h late")
    assert found.doing == "Fewer late hours are looked for."
    assert found.line is not None
    names = [lane.name for lane in found.line.pots]
    assert names == [pot.name for pot in a_week().pots]
    (bar,) = found.line.pots[0].bars
    assert (bar.label, bar.start_min, bar.end_min, bar.word) == ("R01 Poultry broth", 360, 900, "late")
    assert (found.line.start_min, found.line.end_min) == (0, 1440)


def test_a_search_that_knows_its_bound_says_when_it_is_reached() -> None:
    done = so_far(preview=preview_to_json(a_preview(lateness_h=1.5)), week=a_week(), style=STYLE)
    assert done.best == "nothing better is possible with these runs"
    open_ended = so_far(preview=preview_to_json(a_preview(bound_h=None)), week=a_week(), style=STYLE)
    assert open_ended.best == ""
    empty = so_far(preview=preview_to_json(a_preview(runs=())), week=a_week(), style=STYLE)
    assert empty.line is None


def test_a_fix_says_what_it_gives_and_to_whom() -> None:
    week = a_week()
    line = week.order_lines[0]
    ice = Fix(
        kind="ice-delivery",
        target="ice",
        amount=80.0,
        unit="kg",
        sentence="80 kg of ice, bought in.",
        effect_late_h=2.5,
        effect_unserved=4,
        lines_helped=(line.code, "gone"),
    )
    (row,) = fix_rows(fixes=(ice,), week=week)
    assert row.effect == "4 containers more served; 2 h 30 min less late, weighed by importance"
    assert len(row.lines) == 1
    assert row.lines[0].startswith(f"{line.containers} × ")
    worse = replace(ice, effect_late_h=-0.5, effect_unserved=1)
    assert fix_rows(fixes=(worse,), week=week)[0].effect == (
        "1 container more served; 30 min later, weighed by importance"
    )


def test_runs_have_no_code_before_the_search_has_ended() -> None:
    run = replace(a_preview().runs[0], code="T7")
    found = so_far(preview=preview_to_json(a_preview(runs=(run,), doing="runs by rule")), week=a_week(), style=STYLE)
    assert found.line is not None
    assert found.line.pots[0].bars[0].label == "Poultry broth"
    assert found.doing == "runs by the rule of thumb; better ones are looked for"
