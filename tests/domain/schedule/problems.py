"""Small scheduling problems whose answers can be worked out by hand, and random ones."""

from __future__ import annotations

import random
from collections.abc import Sequence

from production.domain.schedule.problem import (
    AdditionTask,
    CoolingMode,
    Draw,
    Due,
    IceDelivery,
    Join,
    Keep,
    Problem,
    RunJob,
    RunOption,
    Stage,
    StoreRoom,
    Window,
)

DAY = 1440
BATH = CoolingMode(name="bath", places=(("sink", 1),), minutes=60, ice_kg=10.0)


def shifts(days: int, *, start_h: int = 6, end_h: int = 18, amount: int = 2) -> tuple[Window, ...]:
    return tuple(
        Window(start_min=day * DAY + start_h * 60, end_min=day * DAY + end_h * 60, amount=amount) for day in range(days)
    )


def stages(*, simmer: tuple[int, int] = (120, 120)) -> tuple[Stage, ...]:
    """Load 30, heat 60, simmer, draw off 30."""
    return (
        Stage(kind="load", shortest_min=30, longest_min=30, cooks=1),
        Stage(kind="heat_up", shortest_min=60, longest_min=60, on_site=True, power_kw=20.0),
        Stage(kind="simmer", shortest_min=simmer[0], longest_min=simmer[1], power_kw=5.0),
        Stage(kind="draw_off", shortest_min=30, longest_min=30, cooks=1),
    )


def draw(
    *,
    modes: tuple[CoolingMode, ...] = (BATH,),
    due: int | None = None,
    name: str = "first",
    stage: int = 3,
    freeze_min: int = 0,
    trays: tuple[tuple[str, int], ...] = (),
    not_before_min: int = 0,
    keep: tuple[Keep, ...] = (),
) -> Draw:
    dues = () if due is None else (Due(label=f"line {due}", minute=due, weight=1.0, share=1.0),)
    return Draw(
        name=name,
        stage=stage,
        modes=modes,
        freeze_min=freeze_min,
        trays=trays,
        dues=dues,
        not_before_min=not_before_min,
        keep=keep,
    )


def option(
    *,
    pot: str = "K1",
    chain: tuple[Stage, ...] | None = None,
    draws: tuple[Draw, ...] | None = None,
    additions: tuple[AdditionTask, ...] = (),
    wash_min: int = 15,
) -> RunOption:
    return RunOption(
        pot=pot,
        supply="gas",
        stages=chain or stages(),
        draws=(draw(),) if draws is None else draws,
        additions=additions,
        wash_min=wash_min,
    )


def job(code: str, *options: RunOption, allergens: Sequence[str] = (), release_min: int = 0) -> RunJob:
    return RunJob(
        code=code,
        formula="white stock",
        allergens=frozenset(allergens),
        options=options,
        release_min=release_min,
    )


def kitchen(
    *jobs: RunJob,
    days: int = 3,
    now_min: int = 0,
    step_min: int = 15,
    cooks: tuple[Window, ...] | None = None,
    gas_kw: float = 100.0,
    electric_kw: float = 30.0,
    sinks: int = 4,
    chillers: int = 0,
    ice_bin_kg: float = 100.0,
    ice_start_kg: float | None = None,
    ice_kg_per_min: float = 0.1,
    trays: int = 10,
    store_l: float = 1000.0,
    opening: tuple[tuple[int, float], ...] = (),
    unattended: bool = True,
    soak_min: int = 0,
    outages: tuple[tuple[str, Window], ...] = (),
    joins: tuple[Join, ...] = (),
    ice_deliveries: tuple[IceDelivery, ...] = (),
) -> Problem:
    return Problem(
        horizon_min=days * DAY,
        now_min=now_min,
        step_min=step_min,
        cooks=shifts(days) if cooks is None else cooks,
        supplies_kw=(("gas", gas_kw), ("electric", electric_kw)),
        devices=(("sink", sinks), ("chiller", chillers)),
        ice_bin_kg=ice_bin_kg,
        ice_start_kg=ice_bin_kg if ice_start_kg is None else ice_start_kg,
        ice_kg_per_min=ice_kg_per_min,
        trays=(("cube", trays),),
        stores=(StoreRoom(code="cold", litres=store_l, opening=opening),),
        unattended_simmer=unattended,
        soak_min=soak_min,
        jobs=jobs,
        outages=outages,
        joins=joins,
        ice_deliveries=ice_deliveries,
    )


def random_problem(seed: int) -> Problem:
    """A small kitchen in which any few of the resources may run out."""
    dice = random.Random(seed)
    days = dice.randint(2, 4)
    jobs = tuple(_random_job(dice, f"R{number}", days) for number in range(dice.randint(1, 6)))
    start_h = dice.randint(0, 9)

    def tight(amount: float, ample: float) -> float:
        return amount if dice.random() < 0.3 else ample

    outages = tuple(
        (f"K{dice.randint(1, 3)}", Window(start_min=start, end_min=start + dice.randint(30, 900)))
        for start in (dice.randrange(days * DAY) for _ in range(dice.randint(0, 3)))
    )
    now_min = dice.choice([0, 0, 700])
    opening = tuple((dice.randrange(1, days * DAY), float(dice.randint(5, 60))) for _ in range(dice.randint(0, 2)))
    return kitchen(
        *jobs,
        days=days,
        now_min=now_min,
        step_min=dice.choice([5, 15, 30]),
        cooks=shifts(days, start_h=start_h, end_h=dice.randint(start_h + 6, 24), amount=dice.randint(1, 3)),
        gas_kw=tight(dice.choice([18.0, 25.0]), 60.0),
        sinks=int(tight(dice.randint(1, 3), 8)),
        chillers=int(tight(dice.randint(0, 1), 3)),
        ice_bin_kg=tight(dice.choice([0.0, 15.0, 30.0]), 90.0),
        ice_start_kg=tight(dice.choice([0.0, 10.0]), 90.0),
        ice_kg_per_min=dice.choice([0.0, 0.013, 0.05, 0.3]),
        trays=int(tight(dice.randint(0, 6), 20)),
        store_l=tight(dice.choice([20.0, 60.0]), 400.0),
        opening=opening,
        unattended=dice.random() < 0.7,
        soak_min=dice.choice([0, 30, 90]),
        outages=outages,
    )


def _random_job(dice: random.Random, code: str, days: int) -> RunJob:
    reduces = dice.random() < 0.4
    pots = dice.sample(["K1", "K2", "K3"], dice.randint(1, 3))
    dues = [dice.randrange(300, days * DAY + 400) for _ in range(2)]
    options = tuple(_random_option(dice, pot, dues, reduces=reduces) for pot in pots)
    allergens = dice.sample(["fish", "celery", "milk"], dice.randint(0, 2))
    return job(code, *options, allergens=allergens, release_min=dice.choice([0, 0, dice.randrange(DAY)]))


def _random_option(dice: random.Random, pot: str, dues: list[int], *, reduces: bool) -> RunOption:
    shortest = dice.randint(60, 400)
    chain = stages(simmer=(shortest, shortest + dice.choice([0, 60, 600])))
    draws = [_random_draw(dice, "first", 3, dues[0])]
    if reduces:
        chain += (
            Stage(kind="refill", shortest_min=10, longest_min=10, cooks=1),
            Stage(kind="simmer", shortest_min=90, longest_min=dice.choice([90, 500]), power_kw=6.0),
            Stage(kind="reduce", shortest_min=60, longest_min=60, on_site=True, power_kw=15.0),
            Stage(kind="portion", shortest_min=20, longest_min=20, cooks=dice.randint(1, 2)),
        )
        draws.append(_random_draw(dice, "reduction", 7, dues[1]))
    additions = tuple(
        AdditionTask(
            name=name,
            stage=2,
            before_end_min=dice.randint(0, 90),
            cook_min=dice.randint(5, 20),
            tolerance_min=dice.choice([0, 15, 30]),
        )
        for name in ["vegetables", "herbs"][: dice.randint(0, 2)]
    )
    return option(pot=pot, chain=chain, draws=tuple(draws), additions=additions, wash_min=dice.choice([0, 15, 40]))


def _random_draw(dice: random.Random, name: str, stage: int, due: int) -> Draw:
    bath = CoolingMode(
        name="bath", places=(("sink", dice.randint(1, 3)),), minutes=dice.randint(30, 240), ice_kg=dice.uniform(1, 30)
    )
    chill = CoolingMode(name="chill", places=(("chiller", 1),), minutes=dice.randint(60, 300), ice_kg=0.0)
    both = CoolingMode(name="both", places=(("sink", 1), ("chiller", 1)), minutes=90, ice_kg=dice.uniform(1, 9))
    return draw(
        name=name,
        stage=stage,
        modes=tuple(dice.sample([bath, chill, both], dice.randint(1, 3))),
        due=due if dice.random() < 0.8 else None,
        freeze_min=dice.choice([0, 0, 240]),
        trays=(("cube", dice.randint(1, 5)),) if dice.random() < 0.3 else (),
        not_before_min=dice.choice([0, 0, max(0, due - 900)]),
        keep=tuple(
            Keep(store="cold", litres=dice.uniform(5, 50), until_min=due + dice.randrange(600))
            for _ in range(dice.randint(0, 2))
        ),
    )
