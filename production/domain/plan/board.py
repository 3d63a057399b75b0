"""The runs of a week as they are put up and taken down again, each with its containers, its pot and its time.

The work is done by compiled loops on tables; this is their face to the interpreter: it answers what they ask, and reads
what they have found.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from production.domain.batches import Batch, Peg, Portion
from production.domain.plan.kitchen_tables import KitchenTables
from production.domain.plan.swift import filling, improving, placing, serving, tables
from production.domain.plan.swift.natives import native
from production.domain.plan.swift.tables import Ints, Stand
from production.domain.schedule.problem import RunOption
from production.domain.schedule.result import Placed, PlacedCooling, PlacedRun

ROUNDS = 64  # between two looks at the clock (own choice)
Worth = tuple[float, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Standing:
    """A run on the board; it is known by its formula."""

    batch: Batch
    taken: Mapping[int, int]  # containers, by the number of the need
    run: PlacedRun
    late_h: float
    kwh: float


class Board:
    """What stands, what is still wanted, and what is free around it."""

    def __init__(self, kitchen: KitchenTables, seed: int = 0) -> None:
        self.kitchen, self.needs = kitchen, kitchen.demand.needs
        self._stand = _empty_stand(kitchen, seed)
        self._tables = kitchen.native_fixed, kitchen.native_recipes, native(self._stand)

    # What stands

    @property
    def standing(self) -> list[Standing]:
        """The runs, as they were put up."""
        return [self._standing(int(row)) for row in self._alive()]

    @property
    def best(self) -> list[Standing]:
        """The runs of the week that was worth most so far."""
        stand, many = self._stand, int(self._stand.numbers[tables.BEST_N])
        return [
            self._read(stand.best_runs[n], stand.best_run_values[n], stand.best_taken_need[n], stand.best_taken[n])
            for n in range(many)
        ]

    @property
    def best_worth(self) -> Worth:
        """As worth, of the week that was worth most so far."""
        return tuple(float(each) for each in self._stand.weights[tables.BEST_UNSERVED : tables.BEST_SURPLUS + 1])

    @property
    def runs(self) -> int:
        """How many stand."""
        return len(self._alive())

    @property
    def left(self) -> dict[int, int]:
        """Containers still wanted, by the number of the need."""
        return {n: int(containers) for n, containers in enumerate(self._stand.left)}

    def open_needs(self) -> list[int]:
        """Ordered needs of which containers are still wanted, by dispatch."""
        return [n for n, need in enumerate(self.needs) if self._stand.left[n] and not need.is_wish]

    def worth(self) -> Worth:
        """Unserved share, weighted hours late, runs and reductions, kWh, litres that nobody waits for."""
        rows = self._alive()
        late_h, kwh, surplus_l = self._stand.values[rows].sum(axis=0)
        runs = len(rows) + int((self._stand.runs[rows, tables.WAY] > 0).sum())
        unserved = sum(
            need.weight * self._stand.left[n] / need.of_containers
            for n, need in enumerate(self.needs)
            if not need.is_wish
        )
        return round(unserved, 9), round(float(late_h), 6), runs, round(float(kwh), 6), round(float(surplus_l), 6)

    @property
    def tries(self) -> int:
        """Placings that were looked for."""
        return int(self._stand.numbers[tables.TRIES])

    def _alive(self) -> Ints:
        alive: Ints = self._stand.alive[: self._stand.numbers[tables.ALIVE]]
        return alive

    @property
    def best_open(self) -> int:
        """Ordered needs that the best week leaves open."""
        left = {n: need.containers for n, need in enumerate(self.needs) if not need.is_wish}
        for each in self.best:
            for n, containers in each.taken.items():
                if n in left:
                    left[n] -= containers
        return sum(containers > 0 for containers in left.values())

    # Putting up and taking down

    def serve(self, order: Sequence[int], way: int = tables.BIGGEST, stop: Callable[[], bool] = lambda: False) -> None:
        """Serve needs in an order, beside what stands, as far as it goes."""
        fixed, recipes, stand = self._tables
        self._stand.order[: len(order)] = order
        self._stand.numbers[[tables.ORDERED, tables.AT, tables.ADDED]] = len(order), 0, 0
        self._stand.weights[tables.LOST] = 0.0
        answer = tables.ASKS
        while answer == tables.ASKS and not stop():
            answer = serving.serve(fixed, recipes, stand, False, way, serving.NO_LIMIT)
            self._answer_if(answer)
        improving.keep_if_best(fixed, stand)

    def copy(self, other: Board) -> None:
        """Let stand what stands on another board of the same week; chance stays one's own."""
        for name in Stand._fields:
            if name != "chance":
                getattr(self._stand, name)[...] = getattr(other._stand, name)

    def clear(self) -> None:
        """Let nothing stand; the best is still remembered."""
        improving.clear_all(*self._tables)

    def back_to_best(self) -> None:
        """Let stand what was worth most."""
        improving.back_to_best(*self._tables)

    def improve(self, heat: float) -> None:
        """Some rounds of taking down and serving anew; what is worth most is remembered."""
        if improving.improve(*self._tables, ROUNDS, heat) < ROUNDS:
            self._answer()

    def has_become_better(self) -> bool:
        """Whether the best has become better since this was last asked."""
        better = bool(self._stand.numbers[tables.BETTER])
        self._stand.numbers[tables.BETTER] = 0
        return better

    def tried(
        self, n: int, kind: int, *, second: bool = False, fill_share: float = 1.0, most_late_h: float = math.inf
    ) -> Standing | None:
        """The run of a kind of pot for a need in its best place; the next to be put up."""
        if self.filled(n, kind, second=second, fill_share=fill_share) is None:
            return None
        answer = tables.ASKS
        while answer == tables.ASKS:
            answer = placing.place_run(*self._tables, serving.is_drawn_twice(*self._tables), most_late_h)
            self._answer_if(answer)
        if answer == tables.NOTHING:
            return None
        row = int(self._stand.idle[self._stand.numbers[tables.IDLE] - 1])
        serving.write_run(self._tables[2], row)
        return self._standing(row)

    def put_up(self) -> None:
        """Let the run stand that was tried last."""
        serving.put_up_next(*self._tables)
        improving.keep_if_best(self._tables[0], self._tables[2])

    def filled(
        self, n: int, kind: int, *, second: bool, fill_share: float = 1.0
    ) -> tuple[Batch, dict[int, int]] | None:
        """What a run of a kind of pot for a need is filled with, and the containers that it takes off the needs."""
        answer = tables.ASKS
        while answer == tables.ASKS:
            answer = filling.fill_run(*self._tables, n, kind, second, fill_share)
            self._answer_if(answer)
        if answer == tables.NOTHING:
            return None
        stand = self._stand
        many = stand.numbers[tables.TAKEN_N]
        taken = {int(stand.job_need[m]): int(stand.job_taken[m]) for m in range(many)}
        formula = self.kitchen.formulas[stand.cand[tables.FORMULA]].code
        return self._batch(formula, taken, int(stand.numbers[tables.SURPLUS_N])), taken

    def fill_open_needs(self) -> tuple[list[Batch], dict[int, int]]:
        """Runs for what is still wanted, in the smallest pots, without a time; and what not even they can serve."""
        before, found = self._stand.left.copy(), []
        for n in self.open_needs():
            product = self.kitchen.frame.products[self.needs[n].product]
            for kind in reversed(range(len(self.kitchen.kinds[product.formula]))):
                while self._stand.left[n]:
                    filled = self.filled(n, kind, second=product.kind != "broth")
                    if filled is None:
                        break
                    for m, containers in filled[1].items():
                        self._stand.left[m] -= containers
                    found.append(filled[0])
        left = self.left
        self._stand.left[:] = before
        return found, left

    def load(self, runs: Sequence[tuple[Batch, PlacedRun]]) -> bool:
        """Let runs of a draft stand instead; not where they are poured together, or have what no row can hold."""
        rows = [self._row_of(batch, run) for batch, run in runs]
        if any(row is None for row in rows):
            return False
        improving.clear_all(*self._tables)
        for row in rows:
            if row is not None:
                at = int(self._stand.idle[self._stand.numbers[tables.IDLE] - 1])
                self._stand.runs[at], self._stand.values[at] = row.run, row.values
                for m, (n, containers) in enumerate(row.taken.items()):
                    self._stand.taken_need[at, m], self._stand.taken[at, m] = n, containers
                serving.put_up_next(*self._tables)
        improving.keep_if_best(self._tables[0], self._tables[2])
        return True

    # Questions

    def _answer_if(self, answer: int) -> None:
        if answer == tables.ASKS:
            self._answer()

    def _answer(self) -> None:
        kind, a, b, c = (int(self._stand.numbers[n]) for n in range(tables.ASK_KIND, tables.ASK_KIND + 4))
        self.kitchen.answer(kind, a, b, c)

    # From rows

    def _standing(self, row: int) -> Standing:
        stand = self._stand
        return self._read(stand.runs[row], stand.values[row], stand.taken_need[row], stand.taken[row])

    def _read(self, run: Ints, values: tables.Floats, needs: tables.Shorts, containers: tables.Shorts) -> Standing:
        taken = {int(needs[m]): int(containers[m]) for m in range(run[tables.TAKEN])}
        batch = self._batch(self.kitchen.formulas[run[tables.FORMULA]].code, taken, int(run[tables.SURPLUS]))
        return Standing(
            batch=batch,
            taken=taken,
            run=self._placed(batch, run),
            late_h=float(values[tables.LATE]),
            kwh=float(values[tables.KWH]),
        )

    def _batch(self, formula: str, taken: Mapping[int, int], surplus: int) -> Batch:
        products = self.kitchen.frame.products
        keeper = self.kitchen.keeper(formula).code
        by_product: dict[str, list[Peg]] = {}
        for n, containers in taken.items():
            need = self.needs[n]
            peg = Peg(
                line=need.line,
                containers=containers,
                share=containers / need.of_containers,
                dispatch_at=need.dispatch_at,
                weight=need.weight,
            )
            by_product.setdefault(need.product, []).append(peg)
        if surplus:
            by_product.setdefault(keeper, [])
        portions = []
        for code, pegs in by_product.items():
            containers = sum(peg.containers for peg in pegs) + (surplus if code == keeper else 0)
            portions.append(
                Portion(product=code, containers=containers, litres=containers * products[code].net_l, pegs=tuple(pegs))
            )
        return Batch(
            code=formula,
            formula=formula,
            first=tuple(each for each in portions if products[each.product].kind == "broth"),
            reduction=tuple(each for each in portions if products[each.product].kind != "broth"),
        )

    def _placed(self, batch: Batch, run: Ints) -> PlacedRun:
        step = self.kitchen.step
        option = self.kitchen.options[run[tables.RECIPE]]
        ends = [int(run[tables.START]), *(int(run[tables.ENDS + n]) for n in range(len(option.stages)))]
        starts = [int(run[tables.ADDS + n]) * step for n in range(len(option.additions))]
        additions = [
            Placed(name=task.name, start_min=start, end_min=start + task.cook_min)
            for task, start in zip(option.additions, starts, strict=True)
        ]
        return PlacedRun(
            job=batch.code,
            option=0,
            pot=self.kitchen.vessels[run[tables.POT]],
            stages=tuple(
                Placed(name=stage.kind, start_min=begin * step, end_min=end * step)
                for stage, (begin, end) in zip(option.stages, pairwise(ends), strict=True)
            ),
            additions=tuple(sorted(additions, key=lambda task: (task.start_min, task.name))),
            coolings=tuple(self._cooling(run, option, n) for n in range(len(option.draws))),
            wash=_washing(int(run[tables.WASH]) * step, option.wash_min),
            why_here="",
            pan=option.pan.code if option.pan else "",
            pan_wash=_washing(int(run[tables.PAN_WASH]) * step, option.pan.wash_min if option.pan else 0),
        )

    def _cooling(self, run: Ints, option: RunOption, number: int) -> PlacedCooling:
        draw, step = option.draws[number], self.kitchen.step
        which = _which(draw.name)
        mode = draw.modes[run[tables.MODE + which]]
        start_min = int(run[tables.ENDS + draw.stage]) * step
        return PlacedCooling(
            draw=draw.name,
            mode=mode.name,
            places=mode.places,
            ice_kg=mode.ice_kg,
            start_min=start_min,
            end_min=start_min + mode.minutes,
            ready_min=int(run[tables.READY + which]) * step,
        )

    # To rows

    def _row_of(self, batch: Batch, run: PlacedRun) -> _Row | None:
        kitchen, step = self.kitchen, self.kitchen.step
        place = kitchen.place_of(batch, run.pot)
        keeper = kitchen.keeper(batch.formula).code
        if place is None or any(each.surplus and each.product != keeper for each in batch.portions):
            return None
        group, level = place
        way = 0 if not batch.has_second_draw else 1 if not run.pan else 2 + kitchen.pans.index(run.pan)
        recipe = kitchen.recipe_of(group, way, level)
        if recipe < 0:
            return None
        option = kitchen.options[recipe]
        times = [run.start_min, *(each.end_min for each in run.stages)]
        names = [stage.kind for stage in option.stages]
        if any(minute % step for minute in times) or names != [each.name for each in run.stages]:
            return None
        row = np.zeros(tables.COLUMNS, dtype=np.int64)
        row[[tables.RECIPE, tables.GROUP, tables.WAY, tables.LEVEL]] = recipe, group, way, level
        row[[tables.FORMULA, tables.KIND]] = kitchen.formula_at[batch.formula], kitchen.groups[group].kind
        row[tables.POT], row[tables.PAN] = kitchen.vessels.index(run.pot), -1
        row[tables.START] = run.start_min // step
        row[[tables.WASH, tables.PAN_WASH]] = [
            each.start_min // step if each else -1 for each in (run.wash, run.pan_wash)
        ]
        row[[tables.FREE, tables.PAN_FREE]] = run.pot_free_min // step, run.pan_free_min // step
        if run.pan:
            row[tables.PAN] = kitchen.vessels.index(run.pan)
        row[tables.ENDS : tables.ENDS + len(run.stages)] = [each.end_min // step for each in run.stages]
        row[[tables.TRAY, tables.TRAY + 1]] = -1
        if not self._additions_into(row, option, run) or not self._coolings_into(row, option, run, batch):
            return None
        return self._filled_row(row, option, batch, run)

    def _additions_into(self, row: Ints, option: RunOption, run: PlacedRun) -> bool:
        waiting: dict[str, list[int]] = {}
        for each in run.additions:
            waiting.setdefault(each.name, []).append(each.start_min)
        for n, task in enumerate(option.additions):
            starts = waiting.get(task.name)
            if not starts:
                return False
            row[tables.ADDS + n] = starts.pop(0) // self.kitchen.step
        return True

    def _coolings_into(self, row: Ints, option: RunOption, run: PlacedRun, batch: Batch) -> bool:
        for draw, cooling in zip(option.draws, run.coolings, strict=True):
            which = _which(draw.name)
            mode = next((n for n, each in enumerate(draw.modes) if each.places == cooling.places), None)
            if mode is None or draw.modes[mode].minutes != cooling.end_min - cooling.start_min:
                return False
            row[tables.MODE + which] = mode
            row[tables.READY + which] = cooling.ready_min // self.kitchen.step
            row[tables.HOLD + which] = (cooling.ready_min - cooling.end_min) // self.kitchen.step
            portions = batch.first if which == 0 else batch.reduction
            for portion in portions:
                tray = self.kitchen.tray_of(portion.product, portion.containers)
                if tray is not None:
                    row[tables.TRAY + which], row[tables.TRAYS + which] = tray
        return True

    def _filled_row(self, row: Ints, option: RunOption, batch: Batch, run: PlacedRun) -> _Row | None:
        taken: dict[int, int] = {}
        late_h = 0.0
        for draw, cooling in zip(option.draws, run.coolings, strict=True):
            portions = batch.first if _which(draw.name) == 0 else batch.reduction
            for portion in portions:
                for peg in portion.pegs:
                    n = self.kitchen.need_at[peg.line, portion.product]
                    taken[n] = taken.get(n, 0) + peg.containers
                    due_min = self.kitchen.due_min(int(row[tables.RECIPE]), portion, peg)
                    late_h += peg.weight * peg.share * max(0, cooling.ready_min - due_min) / 60.0
        if len(taken) > tables.MOST_TAKEN:
            return None
        row[tables.TAKEN], row[tables.SURPLUS] = len(taken), sum(portion.surplus for portion in batch.portions)
        kwh = sum(
            stage.power_kw * (placed.end_min - placed.start_min) / 60.0
            for stage, placed in zip(option.stages, run.stages, strict=True)
        )
        return _Row(row, np.array([late_h, kwh, batch.surplus_l]), taken)


@dataclass(frozen=True, slots=True)
class _Row:
    """A run as the tables hold it."""

    run: Ints
    values: tables.Floats
    taken: dict[int, int]


def _which(draw: str) -> int:
    return 0 if draw == "first" else 1


def _washing(start_min: int, wash_min: int) -> Placed | None:
    return Placed(name="wash", start_min=start_min, end_min=start_min + wash_min) if wash_min else None


def _empty_stand(kitchen: KitchenTables, seed: int) -> Stand:
    fixed, runs, stages = kitchen.fixed, tables.MOST_RUNS, tables.MOST_STAGES
    wide, rows, needs = fixed.steps + 1, len(kitchen.rows), len(kitchen.demand.needs)
    most = max([tables.MOST_HANDS, *(places for _, places in kitchen.problem.devices)])
    pots = fixed.pots.shape[1] + 1

    def ints(*shape: int) -> Ints:
        return np.zeros(shape, dtype=np.int64)

    def shorts(*shape: int) -> tables.Shorts:
        return np.zeros(shape, dtype=np.int32)

    free = ints(rows, wide)
    for name, row in kitchen.rows.items():
        level = kitchen.book.free[name]
        free[row, : len(level)] = level
    stand = Stand(
        numbers=ints(tables.NUMBERS),
        weights=np.zeros(tables.WEIGHTS, dtype=np.float64),
        chance=np.array([(seed + 1) * 0x9E3779B97F4A7C15 % (1 << 64) or 1], dtype=np.uint64),
        left=np.array([need.containers for need in kitchen.demand.needs], dtype=np.int64),
        order=ints(needs + 1),
        free=free,
        version=ints(rows),
        ice_draws=ints(wide),
        ice_free=ints(wide),
        ice_after=ints(wide),
        ice_spill=ints(wide),
        clear_slot=np.full((rows, most + 1), -1, dtype=np.int32),
        clear_at=ints((1 + len(kitchen.problem.devices)) * (most + 1)),
        clear=shorts((1 + len(kitchen.problem.devices)) * (most + 1), wide),
        count_need=ints(tables.MOST_COUNTS),
        count_length=ints(tables.MOST_COUNTS),
        count_at=ints(tables.MOST_COUNTS),
        hands_at=shorts(tables.MOST_COUNTS, wide),
        runs=ints(runs, tables.COLUMNS),
        values=np.zeros((runs, 3), dtype=np.float64),
        taken_need=shorts(runs, tables.MOST_TAKEN),
        taken=shorts(runs, tables.MOST_TAKEN),
        alive=ints(runs),
        idle=np.arange(runs, dtype=np.int64)[::-1].copy(),
        removed=ints(runs),
        added=ints(runs),
        stays_n=ints(len(kitchen.vessels)),
        stays=ints(len(kitchen.vessels), tables.MOST_STAYS),
        stay_start=ints(len(kitchen.vessels), tables.MOST_STAYS),
        stay_free=ints(len(kitchen.vessels), tables.MOST_STAYS),
        stay_formula=ints(len(kitchen.vessels), tables.MOST_STAYS),
        job_need=ints(tables.MOST_TAKEN + 1),
        job_taken=ints(tables.MOST_TAKEN + 1),
        kinds=ints(64),
        shares=np.ones(64, dtype=np.float64),
        due=ints(2, tables.MOST_TAKEN + 1),
        due_weight=np.zeros((2, tables.MOST_TAKEN + 1), dtype=np.float64),
        due_n=ints(2),
        cand=ints(tables.COLUMNS),
        best=ints(tables.COLUMNS),
        best_values=np.zeros(3, dtype=np.float64),
        end=shorts(stages + 1, wide),
        held=shorts(stages + 1, wide),
        until=shorts(stages, wide),
        lands=shorts(stages, wide),
        go=np.zeros((stages, wide), dtype=np.uint8),
        cold=shorts(2, wide),
        soonest=shorts(2, wide),
        pan_until=shorts(wide),
        may=np.zeros(wide, dtype=np.uint8),
        heat_until=shorts(wide),
        tray_until=shorts(wide),
        pot_next=ints(pots),
        busy_n=ints(pots),
        busy=ints(pots, tables.MOST_STAYS + fixed.outs.shape[1], 2),
        walk=ints(2, stages),
        ready=ints(2, 2),
        best_runs=ints(runs, tables.COLUMNS),
        best_run_values=np.zeros((runs, 3), dtype=np.float64),
        best_taken_need=shorts(runs, tables.MOST_TAKEN),
        best_taken=shorts(runs, tables.MOST_TAKEN),
        near=np.zeros(max(runs, needs) + 1, dtype=np.float64),
    )
    stand.numbers[tables.IDLE] = runs
    stand.numbers[tables.ICE_DIRTY] = 1
    stand.weights[tables.BEST_UNSERVED : tables.BEST_SURPLUS + 1] = np.inf
    return stand
