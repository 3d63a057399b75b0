"""A problem that contradicts itself is refused when it is stated."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import pytest

from production.domain.schedule.problem import AdditionTask, BadProblem, CoolingMode, Keep, Stage, Window
from tests.domain.schedule.problems import BATH, draw, job, kitchen, option

REFUSED: dict[str, Callable[[], object]] = {
    "a window that ends before it starts": lambda: Window(start_min=5, end_min=5),
    "a stage without a length": lambda: Stage(kind="simmer", shortest_min=60, longest_min=30),
    "a draw of a stage that is not there": lambda: option(draws=(draw(stage=4),)),
    "two draws with one name": lambda: option(draws=(draw(), draw())),
    "a cooling that takes no time": lambda: replace(BATH, minutes=0),
    "a cooling that names a device twice": lambda: CoolingMode(
        name="bath", places=(("sink", 1), ("sink", 1)), minutes=60, ice_kg=0.0
    ),
    "a draw that names a tray twice": lambda: draw(trays=(("cube", 1), ("cube", 2))),
    "an addition to a stage that is not there": lambda: option(
        additions=(AdditionTask(name="herbs", stage=4, before_end_min=5, cook_min=5),)
    ),
    "a plan without time": lambda: kitchen(days=1, now_min=1440),
    "a grid without a step": lambda: kitchen(step_min=0),
    "two runs with one code": lambda: kitchen(job("A"), job("A")),
    "an unknown heat supply": lambda: kitchen(job("A", replace(option(), supply="steam"))),
    "an unknown cooling device": lambda: kitchen(
        job("A", option(draws=(draw(modes=(replace(BATH, places=(("snow", 1),)),)),)))
    ),
    "an unknown tray": lambda: kitchen(job("A", option(draws=(draw(trays=(("ring", 1),)),)))),
    "an unknown store": lambda: kitchen(
        job("A", option(draws=(draw(keep=(Keep(store="attic", litres=1.0, until_min=9),)),)))
    ),
}


@pytest.mark.parametrize("case", REFUSED)
def test_a_problem_that_contradicts_itself_is_refused(case: str) -> None:
    with pytest.raises(BadProblem) as refused:
        REFUSED[case]()

    assert refused.value.sentence
    assert refused.value.code == "bad-schedule-problem"


def test_the_first_due_of_a_run_is_the_earliest_of_all_its_draws() -> None:
    run = job("A", option(draws=(draw(due=900),)), option(pot="K2", draws=(draw(due=800),)))

    assert run.first_due_min == 800
    assert job("B", option()).first_due_min is None


def test_an_option_without_stages_is_refused() -> None:
    with pytest.raises(BadProblem):
        replace(option(draws=()), stages=())
