"""One resource is cut at a time; the schedule must name that resource, and how much of it is missing."""

from __future__ import annotations

import pytest

from production.domain.schedule.check import check_schedule
from production.domain.schedule.greedy import greedy_schedule
from production.domain.schedule.problem import CoolingMode, Draw, Keep, Problem, Stage, Window
from production.domain.schedule.reasons import spell_minutes
from production.domain.schedule.result import Schedule, Unplaced
from tests.domain.schedule.problems import BATH, DAY, draw, job, kitchen, option, shifts, stages

FROZEN = (draw(freeze_min=240, trays=(("cube", 4),)),)
KEPT = (draw(keep=(Keep(store="cold", litres=50.0, until_min=3 * DAY),)),)
PAIR_OF_HANDS = (*stages()[:3], Stage(kind="draw_off", shortest_min=30, longest_min=30, cooks=2))


def plan(problem: Problem) -> Schedule:
    schedule = greedy_schedule(problem)
    assert check_schedule(problem, schedule) == ()
    return schedule


def only_unplaced(problem: Problem) -> Unplaced:
    schedule = plan(problem)
    assert schedule.status == "empty"
    assert len(schedule.unplaced) == 1
    return schedule.unplaced[0]


CUTS: dict[str, tuple[Problem, Problem, str, float, str]] = {
    "ice": (
        kitchen(job("A", option())),
        kitchen(job("A", option()), ice_bin_kg=6.0),
        "ice",
        4.0,
        "kg",
    ),
    "trays": (
        kitchen(job("A", option(draws=FROZEN))),
        kitchen(job("A", option(draws=FROZEN)), trays=1),
        "trays",
        3.0,
        "trays",
    ),
    "cooling places": (
        kitchen(job("A", option())),
        kitchen(job("A", option()), sinks=0),
        "cooling",
        1.0,
        "places",
    ),
    "store": (
        kitchen(job("A", option(draws=KEPT))),
        kitchen(job("A", option(draws=KEPT)), store_l=42.5),
        "storage",
        7.5,
        "l",
    ),
    "cooks": (
        kitchen(job("A", option(chain=PAIR_OF_HANDS))),
        kitchen(job("A", option(chain=PAIR_OF_HANDS)), cooks=shifts(3, amount=1)),
        "cooks",
        1.0,
        "cooks",
    ),
    "heat": (
        kitchen(job("A", option())),
        kitchen(job("A", option()), gas_kw=15.0),
        "heat",
        5.0,
        "kW",
    ),
    "pots": (
        kitchen(job("A", option())),
        kitchen(job("A", option()), outages=(("K1", Window(start_min=0, end_min=3 * DAY)),)),
        "pots",
        1.0,
        "pots",
    ),
    # Chain 4 h and cooling 1 h: a shift of 4.5 h has to be half an hour longer, on a grid of a quarter at both ends.
    "hours": (
        kitchen(job("A", option())),
        kitchen(job("A", option()), cooks=shifts(3, start_h=6, end_h=10)),
        "hours",
        0.5,
        "h",
    ),
    # The last start that is cooled by 18:00 on the third day is 3960 - 300 = 3660.
    "ingredients": (
        kitchen(job("A", option())),
        kitchen(job("A", option(), release_min=3660 + 630)),
        "ingredients",
        10.5,
        "h",
    ),
    # Ready at 3960 at the latest; the first good minute lies beyond the plan.
    "shelf life": (
        kitchen(job("A", option())),
        kitchen(job("A", option(draws=(draw(not_before_min=3 * DAY + 15),)))),
        "shelf life",
        6.25,
        "h",
    ),
}


ENOUGH = {
    "ice": "With more ice at the draw-off it could be placed: 4 kg more would be enough.",
    "trays": ": 3 trays more would be enough.",
    "cooling places": ": 1 place more would be enough.",
    "store": ": 7.5 l more would be enough.",
    "cooks": ": 1 cook more would be enough.",
    "heat": ": 5 kW more would be enough.",
    "pots": "With another pot free it could be placed: 1 pot more would be enough.",
    "hours": "With longer shifts it could be placed: 30 min more at both ends of every shift would be enough.",
    "ingredients": ": 10 h 30 min earlier would be enough.",
    "shelf life": ": 6 h 15 min more would be enough.",
}


@pytest.mark.parametrize("cut", CUTS)
def test_an_unplaced_run_names_the_resource_that_was_cut_and_what_is_missing(cut: str) -> None:
    whole, short, resource, missing, unit = CUTS[cut]
    assert plan(whole).status == "complete"

    unplaced = only_unplaced(short)

    assert (unplaced.resource, unplaced.missing, unplaced.unit) == (resource, missing, unit)
    assert unplaced.sentence.endswith(ENOUGH[cut])
    assert unplaced.remedy


def test_other_ways_out_are_named_after_the_first() -> None:
    chill = CoolingMode(name="chill", places=(("chiller", 2),), minutes=60, ice_kg=0.0)
    problem = kitchen(job("A", option(draws=(draw(modes=(BATH, chill)),))), ice_bin_kg=0.0, chillers=1)

    unplaced = only_unplaced(problem)

    assert (unplaced.resource, unplaced.missing) == ("ice", 10.0)
    assert "It would also help to have more places in the cooling devices." in unplaced.remedy


def test_two_cuts_at_once_are_named_together() -> None:
    unplaced = only_unplaced(kitchen(job("A", option(draws=FROZEN)), ice_bin_kg=0.0, trays=0, gas_kw=30.0))

    assert unplaced.resource == "several"
    assert "more ice at the draw-off and more cube trays" in unplaced.sentence
    assert "heat" not in unplaced.sentence


def test_a_chain_longer_than_the_plan_lacks_time() -> None:
    unplaced = only_unplaced(kitchen(job("A", option(chain=stages(simmer=(4500, 4500))))))

    # 30 + 60 + 4500 + 30 + 15 for the wash, in 4320 minutes.
    assert (unplaced.resource, unplaced.missing, unplaced.unit) == ("time", 5.25, "h")


def test_a_run_without_a_pot_says_so() -> None:
    unplaced = only_unplaced(kitchen(job("A")))

    assert (unplaced.resource, unplaced.sentence) == ("pots", "No pot suits this run.")


def test_a_draw_without_a_way_to_cool_says_so() -> None:
    hopeless = option(draws=(draw(modes=()),))

    unplaced = only_unplaced(kitchen(job("A", hopeless)))
    assert unplaced.resource == "cooling"
    assert "No way to cool the first draw" in unplaced.sentence

    assert plan(kitchen(job("A", hopeless, option(pot="K2")))).runs[0].pot == "K2"


def test_a_kitchen_without_shifts_says_so() -> None:
    unplaced = only_unplaced(kitchen(job("A", option()), cooks=()))

    assert (unplaced.resource, unplaced.sentence) == ("cooks", "Nobody is on duty in this plan.")


def late_resource(problem: Problem) -> str:
    schedule = plan(problem)
    assert schedule.late
    return schedule.late[-1].resource


ON_TIME = option(draws=(draw(due=700),))
BUSY = job("Z", option(draws=(draw(due=660),)))  # holds K1 until 615

LATE: dict[str, tuple[Problem, str]] = {
    "ice": (kitchen(job("A", ON_TIME), ice_start_kg=0.0, ice_kg_per_min=0.01), "ice"),
    "trays": (
        kitchen(
            job("Z", option(draws=(draw(due=901, freeze_min=240, trays=(("cube", 6),)),))),
            job("A", option(pot="K2", draws=(draw(due=902, freeze_min=240, trays=(("cube", 6),)),))),
        ),
        "trays",
    ),
    "cooling": (kitchen(BUSY, job("A", option(pot="K2", draws=(draw(due=700),))), sinks=1), "cooling"),
    "storage": (
        kitchen(
            job("A", option(draws=(draw(due=700, keep=(Keep(store="cold", litres=50.0, until_min=2000),)),))),
            store_l=60.0,
            opening=((800, 40.0),),
        ),
        "storage",
    ),
    "cooks": (kitchen(BUSY, job("A", option(pot="K2", draws=(draw(due=670),))), cooks=shifts(3, amount=1)), "cooks"),
    "heat": (kitchen(BUSY, job("A", option(pot="K2", draws=(draw(due=670),))), gas_kw=25.0), "heat"),
    "pots": (kitchen(BUSY, job("A", ON_TIME)), "pots"),
    "hours": (kitchen(job("A", option(draws=(draw(due=630),)))), "hours"),
    "ingredients": (kitchen(job("A", ON_TIME, release_min=500)), "ingredients"),
    "shelf life": (kitchen(job("A", option(draws=(draw(due=700, not_before_min=800),)))), "shelf life"),
    "time": (kitchen(job("A", option(draws=(draw(due=299),)))), "time"),
    "several": (kitchen(BUSY, job("A", ON_TIME, release_min=420)), "several"),
}


@pytest.mark.parametrize("cut", LATE)
def test_a_late_dispatch_names_the_resource_that_was_cut(cut: str) -> None:
    problem, resource = LATE[cut]

    assert late_resource(problem) == resource


def test_a_late_dispatch_says_how_late_and_how_much_more_would_do() -> None:
    late = plan(LATE["ice"][0]).late[0]

    # 10 kg are there at 1000, the next draw-off on the grid is at 1005. In time is 630 (start 390): 3.7 kg too few.
    assert late.ready_min == 1065
    assert late.sentence.startswith(
        "Ready 6 h 5 min after its dispatch. With more ice at the draw-off it could be on time"
    )
    assert "3.7 kg more would be enough" in late.sentence


def why_here(problem: Problem, code: str = "A") -> str:
    return {run.job: run for run in plan(problem).runs}[code].why_here


def test_a_run_that_starts_at_once_says_so() -> None:
    day_and_night = (Window(start_min=0, end_min=3 * DAY, amount=2),)

    assert why_here(kitchen(job("A", option()), cooks=day_and_night)) == "K1 starts as soon as this plan may begin."


def test_a_run_says_what_keeps_it_from_ending_earlier() -> None:
    assert why_here(kitchen(job("A", option()))) == "With longer shifts it could end 6 h earlier in K1."
    assert why_here(LATE["pots"][0]) == "With another pot free it could end 4 h 15 min earlier in K1."
    assert (
        why_here(LATE["ingredients"][0]) == "With its ingredients there earlier it could end 2 h 30 min earlier in K1."
    )


def test_a_run_held_by_several_limits_says_so() -> None:
    open_all_day = (Window(start_min=0, end_min=3 * DAY, amount=2),)
    frozen: tuple[Draw, ...] = (draw(freeze_min=60, trays=(("cube", 6),)),)
    problem = kitchen(
        job("Z", option(draws=(draw(due=2, freeze_min=60, trays=(("cube", 6),)),))),
        job("A", option(pot="K2", draws=frozen)),
        cooks=open_all_day,
        ice_bin_kg=10.0,
        ice_kg_per_min=10 / 120,
        step_min=1,
    )

    # Trays and ice are both there again two hours after the first draw-off: either alone would not help.
    assert why_here(problem) == "Several limits together hold it; without them it could end 2 h earlier."


@pytest.mark.parametrize(("minutes", "words"), [(0, "0 min"), (59, "59 min"), (60, "1 h"), (135, "2 h 15 min")])
def test_lengths_of_time_are_spelled_in_hours_and_minutes(minutes: int, words: str) -> None:
    assert spell_minutes(minutes) == words
