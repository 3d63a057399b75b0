"""Seeded random weeks of whole kitchens, from a few runs to a hundred: the same seed gives the same week.

The figures (burners, minutes, trays, ice) are our own, of the size that is common practice; no source.
"""

from __future__ import annotations

import random
from dataclasses import dataclass, replace
from itertools import pairwise

from production.domain.schedule.problem import (
    AdditionTask,
    CoolingMode,
    Draw,
    Due,
    IceDelivery,
    Join,
    Keep,
    Pan,
    Problem,
    RunJob,
    RunOption,
    Stage,
    StoreRoom,
    Was,
    Window,
)
from production.domain.schedule.result import POUR_OVER, PlacedRun, Schedule

DAY = 1440
STEP = 5
WEEK_DAYS, OVERFLOW_DAYS = 7, 3


@dataclass(frozen=True, slots=True, kw_only=True)
class Size:
    """How large a kitchen is."""

    pots: int
    pans: int
    runs: int
    lines: int
    cooks: int
    sinks: int
    chillers: int
    ice_bin_kg: float
    formulas: int


TINY = Size(pots=3, pans=1, runs=5, lines=8, cooks=3, sinks=8, chillers=6, ice_bin_kg=150.0, formulas=3)
SMALL = Size(pots=4, pans=1, runs=12, lines=15, cooks=3, sinks=10, chillers=8, ice_bin_kg=200.0, formulas=4)
MEDIUM = Size(pots=10, pans=2, runs=27, lines=60, cooks=4, sinks=16, chillers=12, ice_bin_kg=350.0, formulas=6)
LARGE = Size(pots=36, pans=4, runs=100, lines=400, cooks=10, sinks=36, chillers=30, ice_bin_kg=900.0, formulas=10)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Vessel:
    code: str
    capacity_l: float
    burner_kw: float
    supply: str


@dataclass(frozen=True, slots=True, kw_only=True)
class _Dish:
    code: str
    allergens: frozenset[str]
    simmer: tuple[int, int]
    second: tuple[int, int] | None
    additions: tuple[AdditionTask, ...]
    boiled_off_share: float
    frozen: bool


def _up(minutes: float) -> int:
    return max(STEP, -int(-minutes // STEP) * STEP)


def random_week(seed: int, size: Size = TINY, *, tight: float = 0.25) -> Problem:
    """A week of runs with pots, pans, cooling, ice and stores; each resource is cut with the probability `tight`."""
    dice = random.Random(seed)

    def cut(amount: float, to: float = 0.45) -> float:
        return amount * to if dice.random() < tight else amount

    pots, pans = _vessels(dice, size)
    dishes = [_dish(dice, number) for number in range(size.formulas)]
    days = WEEK_DAYS + OVERFLOW_DAYS
    jobs: list[RunJob] = []
    joins: list[Join] = []
    while len(jobs) < size.runs:
        fresh, join = _jobs(dice, len(jobs), dishes, pots, pans, size)
        jobs += fresh
        joins += [join] if join else []
    gas = sum(pot.burner_kw for pot in pots)
    outages = tuple(
        (dice.choice([*pots, *pans]).code, Window(start_min=at, end_min=at + dice.choice([240, 1440, 2880])))
        for at in (dice.randrange(WEEK_DAYS * DAY) for _ in range(dice.randint(0, 2)))
    )
    bin_kg = cut(size.ice_bin_kg)
    deliveries = tuple(
        IceDelivery(minute=day * DAY + 420, mass_kg=bin_kg * 0.6)
        for day in sorted(dice.sample(range(WEEK_DAYS), dice.choice([0, 0, 1, 2])))
    )
    return Problem(
        horizon_min=days * DAY,
        now_min=dice.choice([0, 300]),
        step_min=STEP,
        cooks=_cooks(dice, days, max(1, round(cut(size.cooks, 0.6)))),
        supplies_kw=(("gas", max(cut(gas, 0.5), 40.0)), ("electric", 48.0 * max(size.pans, 1))),
        devices=(("sink", max(1, round(cut(size.sinks)))), ("chiller", max(1, round(cut(size.chillers))))),
        ice_bin_kg=bin_kg,
        ice_start_kg=bin_kg * dice.choice([0.3, 1.0]),
        ice_kg_per_min=cut(size.ice_bin_kg) / DAY,
        trays=(("cube", max(4, round(cut(7.0 * size.pots)))),),
        stores=(
            StoreRoom(code="cold", litres=cut(400.0 * size.pots), opening=((2 * DAY, 60.0 * size.pots),)),
            StoreRoom(code="freezer", litres=cut(120.0 * size.pots)),
        ),
        unattended_simmer=dice.random() < 0.8,
        soak_min=dice.choice([0, 30, 60]),
        jobs=tuple(jobs),
        outages=outages,
        joins=tuple(joins),
        ice_deliveries=deliveries,
    )


def _vessels(dice: random.Random, size: Size) -> tuple[list[_Vessel], list[_Vessel]]:
    """Pots of three classes, the larger ones first, and pans for reductions."""
    classes = [(300.0, 36.0), (150.0, 24.0), (80.0, 14.0)]
    share = max(1, size.pots // len(classes))
    pots = []
    for number in range(size.pots):
        capacity_l, burner_kw = classes[min(number // share, len(classes) - 1)]
        pots.append(_Vessel(code=f"K{number + 1}", capacity_l=capacity_l, burner_kw=burner_kw, supply="gas"))
    pans = [
        _Vessel(code=f"P{number + 1}", capacity_l=dice.choice([120.0, 200.0]), burner_kw=48.0, supply="electric")
        for number in range(size.pans)
    ]
    return pots, pans


def _dish(dice: random.Random, number: int) -> _Dish:
    shortest, longest = dice.choice([(45, 60), (60, 120), (180, 300), (300, 480), (480, 900), (600, 1080)])
    additions = tuple(
        AdditionTask(name=name, stage=3, before_end_min=before, cook_min=cook)
        for name, before, cook in [("roots", 90, 15), ("herbs", 30, 5)][: dice.randint(0, 2)]
        if before + cook <= shortest
    )
    allergens = dice.choice([(), (), ("fish",), ("celery",), ("fish", "crustaceans"), ("milk",)])
    return _Dish(
        code=f"stock {number + 1}",
        allergens=frozenset(allergens),
        simmer=(shortest, longest),
        second=dice.choice([(240, 540), (360, 660)]) if shortest >= 300 and dice.random() < 0.6 else None,
        additions=additions,
        boiled_off_share=dice.uniform(0.7, 0.9),
        frozen=dice.random() < 0.5,
    )


def _cooks(dice: random.Random, days: int, most: int) -> tuple[Window, ...]:
    """Early and late shifts that overlap at noon, fewer hands at the end of the week."""
    windows = []
    for day in range(days):
        hands = max(1, most - 1) if day % 7 >= 5 else most
        first = max(1, hands // 2)
        windows.append(Window(start_min=day * DAY + 360, end_min=day * DAY + 840, amount=first))
        late_until = 1320 if dice.random() < 0.8 else 1200
        windows.append(Window(start_min=day * DAY + 600, end_min=day * DAY + late_until, amount=max(1, hands - first)))
    return tuple(windows)


def _jobs(
    dice: random.Random, number: int, dishes: list[_Dish], pots: list[_Vessel], pans: list[_Vessel], size: Size
) -> tuple[list[RunJob], Join | None]:
    """One run, or two or three whose second draws are reduced together."""
    dish = dice.choice(dishes)
    release = dice.choice([0, 0, 360, dice.randrange(3) * DAY + 480])
    due_day = dice.randint(1, WEEK_DAYS - 1)
    guests = dice.randint(1, 2) if dish.second and pans and dice.random() < 0.35 else 0
    guests = min(guests, size.runs - number - 1)
    classes = sorted({pot.capacity_l for pot in pots})
    litres = dice.choice(classes[:2] if guests else classes) * dice.uniform(0.55, 0.85)
    in_pan = guests > 0 or (dish.second is not None and bool(pans) and dice.random() < 0.3)
    dues = [_dues(dice, number + each, due_day, size) for each in range(guests + 2)]
    jobs = []
    for each in range(guests + 1):
        options = tuple(
            _option(dish, litres, pot, pan, reduces=each == 0, liquors=guests + 1, dues=(dues[each], dues[-1]))
            for pot in pots
            if 0.35 * pot.capacity_l <= litres <= pot.capacity_l
            for pan in (pans if in_pan and each == 0 else [None])
        )
        jobs.append(
            RunJob(
                code=f"R{number + each + 1:03d}",
                formula=dish.code,
                allergens=dish.allergens,
                options=options,
                release_min=release,
            )
        )
    join = Join(host=jobs[0].code, guests=tuple(job.code for job in jobs[1:])) if guests else None
    return jobs, join


def _dues(dice: random.Random, number: int, day: int, size: Size) -> tuple[Due, ...]:
    count = max(1, round(size.lines / size.runs))
    return tuple(
        Due(
            label=f"line {number + 1}.{each}",
            minute=min(day + dice.randint(0, 2), WEEK_DAYS - 1) * DAY + dice.choice([600, 960]),
            weight=dice.choice([1.0, 1.0, 2.0, 5.0]),
            share=dice.choice([0.25, 0.5, 1.0]),
        )
        for each in range(count)
    )


def _option(
    dish: _Dish,
    litres: float,
    pot: _Vessel,
    pan: _Vessel | None,
    *,
    reduces: bool,
    liquors: int,
    dues: tuple[tuple[Due, ...], tuple[Due, ...]],
) -> RunOption:
    chain = _first_stages(dish, litres, pot)
    draws = [_draw("first", 4, litres, dues[0], frozen=False)]
    if dish.second:
        chain += _second_stages(litres, dish.second, pot)
        joined = liquors > 1
        if pan or joined:
            chain.append(Stage(kind=POUR_OVER, shortest_min=10, longest_min=10, cooks=1))
        if reduces:
            vessel, liquor_l = pan or pot, 0.8 * litres * liquors
            chain += _reduction(liquor_l * dish.boiled_off_share, vessel)
            cubes_l = liquor_l * (1 - dish.boiled_off_share)
            draws.append(_draw("reduction", len(chain) - 1, cubes_l, dues[1], frozen=dish.frozen))
    return RunOption(
        pot=pot.code,
        supply=pot.supply,
        stages=tuple(chain),
        draws=tuple(draws),
        additions=dish.additions,
        wash_min=15,
        pan=Pan(code=pan.code, supply=pan.supply, pour_stage=10, wash_min=10) if pan else None,
    )


def _first_stages(dish: _Dish, litres: float, pot: _Vessel) -> list[Stage]:
    heat_min = _up(litres * 4.186 * 83 / 60 / (pot.burner_kw * 0.55))
    return [
        Stage(kind="load", shortest_min=25, longest_min=25, cooks=1),
        Stage(kind="heat_up", shortest_min=heat_min, longest_min=heat_min, on_site=True, power_kw=pot.burner_kw),
        Stage(kind="skim", shortest_min=15, longest_min=15, cooks=1, power_kw=pot.burner_kw / 4),
        Stage(kind="simmer", shortest_min=dish.simmer[0], longest_min=dish.simmer[1], power_kw=pot.burner_kw / 4),
        Stage(kind="draw_off", shortest_min=_up(10 + litres / 10), longest_min=_up(10 + litres / 10), cooks=1),
    ]


def _second_stages(litres: float, simmer: tuple[int, int], pot: _Vessel) -> list[Stage]:
    heat_min = _up(litres * 4.186 * 60 / 60 / (pot.burner_kw * 0.55))
    low_kw = pot.burner_kw / 4
    return [
        Stage(kind="refill", shortest_min=10, longest_min=10, cooks=1),
        Stage(kind="second_heat_up", shortest_min=heat_min, longest_min=heat_min, on_site=True, power_kw=pot.burner_kw),
        Stage(kind="second_simmer", shortest_min=simmer[0], longest_min=simmer[1], power_kw=low_kw),
        Stage(kind="second_draw_off", shortest_min=20, longest_min=20, cooks=1),
        Stage(kind="hot_hold", shortest_min=STEP, longest_min=240, power_kw=low_kw),
    ]


def _reduction(boiled_off_l: float, vessel: _Vessel) -> list[Stage]:
    reduce_min = _up(60 * boiled_off_l / (vessel.burner_kw * 1.3))
    return [
        Stage(
            kind="reduce",
            shortest_min=reduce_min,
            longest_min=reduce_min,
            on_site=True,
            power_kw=vessel.burner_kw * 0.8,
        ),
        Stage(kind="finish", shortest_min=15, longest_min=15, cooks=1, power_kw=vessel.burner_kw * 0.8),
        Stage(kind="portion", shortest_min=25, longest_min=25, cooks=1),
    ]


def _draw(name: str, stage: int, litres: float, dues: tuple[Due, ...], *, frozen: bool) -> Draw:
    sinks = max(1, -int(-litres // 50))
    places = max(1, -int(-litres // 60))
    modes = [
        CoolingMode(name="sinks", places=(("sink", sinks),), minutes=_up(60 + litres / sinks), ice_kg=0.45 * litres),
        CoolingMode(name="chiller", places=(("chiller", places),), minutes=150, ice_kg=0.0),
    ]
    if sinks > 1:
        half = (("sink", sinks // 2), ("chiller", max(1, places // 2)))
        modes.append(CoolingMode(name="both", places=half, minutes=150, ice_kg=0.25 * litres))
    until = max(due.minute for due in dues)
    return Draw(
        name=name,
        stage=stage,
        modes=tuple(modes),
        freeze_min=480 if frozen else 0,
        trays=(("cube", max(1, -int(-litres // 8))),) if frozen else (),
        dues=dues,
        not_before_min=max(0, until - (30 if frozen else 5) * DAY),
        keep=(Keep(store="freezer" if frozen else "cold", litres=litres, until_min=until),),
    )


# The same week, some days on


def later(problem: Problem, schedule: Schedule, now_min: int) -> Problem:
    """The problem as it stands at a later minute of a schedule: what has begun is held to what it was.

    Runs of which nothing is left are gone; begun ones keep their start, the ends of their past stages and their begun
    tasks; runs to come know where they were.
    """
    placed = {run.job: run for run in schedule.runs}
    level, last = problem.ice_start_kg, problem.now_min
    brought = [(item.minute, 0, item.mass_kg) for item in problem.ice_deliveries if problem.now_min <= item.minute]
    drawn = [(each.start_min, 1, -each.ice_kg) for run in schedule.runs for each in run.coolings]
    for minute, _, kg in sorted(event for event in (*brought, *drawn, (now_min, 2, 0.0)) if event[0] < now_min):
        level = min(problem.ice_bin_kg, level + problem.ice_kg_per_min * (minute - last))
        level, last = min(problem.ice_bin_kg, level + kg), minute
    level = min(problem.ice_bin_kg, level + problem.ice_kg_per_min * (now_min - last))
    over = {job.code for job in problem.jobs if _is_over(problem, job, placed.get(job.code), now_min)}
    for join in problem.joins:
        if not over.issuperset((join.host, *join.guests)):
            over -= {join.host, *join.guests}
    jobs = tuple(_job_later(job, placed.get(job.code), now_min) for job in problem.jobs if job.code not in over)
    left = {job.code for job in jobs}
    return replace(
        problem,
        now_min=now_min,
        ice_start_kg=max(0.0, level),
        jobs=jobs,
        joins=tuple(join for join in problem.joins if join.host in left),
    )


def _is_over(problem: Problem, job: RunJob, run: PlacedRun | None, now_min: int) -> bool:
    """Whether nothing of a run is left: vessels, soaking, cooling, and its litres in the stores."""
    if run is None:
        return False
    kept = [keep.until_min for draw in job.options[run.option].draws for keep in draw.keep]
    freed = max(run.pot_free_min, run.pan_free_min) + problem.soak_min
    return max([freed, *kept, *(each.ready_min for each in run.coolings)]) <= now_min


def _job_later(job: RunJob, run: PlacedRun | None, now_min: int) -> RunJob:
    if run is None:
        return job
    if run.start_min >= now_min:
        return replace(job, was=Was(pot=run.pot, start_min=run.start_min))
    option = job.options[run.option]
    stages = []
    for stage, (begin, end) in zip(
        option.stages, pairwise([run.start_min, *(s.end_min for s in run.stages)]), strict=True
    ):
        if end <= now_min:
            stages.append(replace(stage, shortest_min=end - begin, longest_min=end - begin))
        elif begin < now_min:
            stages.append(replace(stage, shortest_min=max(stage.shortest_min, min(now_min - begin, stage.longest_min))))
        else:
            stages.append(stage)
    done = {task.name: task.start_min for task in run.additions if task.start_min < now_min}
    cooling = {each.draw: each for each in run.coolings if each.start_min < now_min}
    held = replace(
        option,
        stages=tuple(stages),
        additions=tuple(replace(task, done_at_min=done.get(task.name)) for task in option.additions),
        draws=tuple(
            replace(draw, modes=tuple(mode for mode in draw.modes if mode.name == cooling[draw.name].mode))
            if draw.name in cooling
            else draw
            for draw in option.draws
        ),
    )
    washed = run.wash.start_min if run.wash and run.wash.start_min < now_min else None
    return replace(job, options=(held,), start_at_min=run.start_min, washed_at_min=washed)
