"""The week written into arrays, and recipes written when a search asks for them."""

from __future__ import annotations

import math
import threading
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from functools import partial

import numpy as np

from production.domain.batches import Batch, Peg, Portion
from production.domain.batches.cells import common_l
from production.domain.demand import Demand, Need, first_cook_date
from production.domain.formula import PotRange, least_reduction_l, pot_ranges
from production.domain.kitchen import Formula, Product, Week
from production.domain.plan.charges import charges_of
from production.domain.plan.draws import first_day_min, freeze_min, room_l
from production.domain.plan.frame import Frame, down_min, up_min
from production.domain.plan.jobs import Held, Source, jobs_of
from production.domain.plan.problem import problem_of
from production.domain.plan.swift import tables
from production.domain.plan.swift.natives import native
from production.domain.plan.swift.placing import freeze_place
from production.domain.plan.swift.tables import Fixed, Ints, Recipes
from production.domain.schedule.book import (
    COARSEST_MIN,
    COOKS,
    COOLING,
    HEAT,
    SLACK,
    STORAGE,
    TRAYS,
    Book,
    Shape,
    micro,
)
from production.domain.schedule.problem import Draw, Problem, RunOption, Stage
from production.domain.sourcing import Portioned, Wanted, source_ingredients

MOST_RECIPES = 12_000
_FREEZE_ROOM = 1 << 17
LEAST_GRID_L = 0.05  # a measure that is finer makes too many levels (own choice)
_WORD_L = 0.001  # of reduction, to ask what a run drawn twice is like


@dataclass(frozen=True, slots=True, kw_only=True)
class PotKind:
    """Pots that make the same volumes of a formula; no more than can be cooled at once."""

    pots: frozenset[str]
    smallest_l: float
    largest_l: float


@dataclass(frozen=True, slots=True)
class Group:
    """Pots of a kind in which a run of a formula is the same, but for the pot."""

    formula: str
    kind: int
    pots: tuple[str, ...]


class KitchenTables:
    """What searches of one week share."""

    def __init__(self, frame: Frame, demand: Demand, coolable_l: Mapping[str, float]) -> None:
        self.frame, self.demand = frame, demand
        self.held = Held(source=_bought_source(frame.week))
        self.formulas = list(frame.week.formulas)
        self.products = list(frame.week.products)
        self.product_at = {each.code: n for n, each in enumerate(self.products)}
        self.formula_at = {each.code: n for n, each in enumerate(self.formulas)}
        self.need_at = {(need.line, need.product): n for n, need in enumerate(demand.needs)}
        self.vessels = [each.code for each in frame.week.pots]
        self.pans = [each.code for each in frame.week.pots if each.reduction_pan]
        self.kinds = {each.code: kinds_for(frame, each, coolable_l.get(each.code, 0.0)) for each in self.formulas}
        self.grids_l = [_grid_l(frame, each) for each in self.formulas]
        self.grids_ml = [round(1000.0 * each) for each in self.grids_l]
        self.groups = list(self._groups())
        self.step = 1 if any(_is_narrow(each) for each in self.formulas) else COARSEST_MIN
        self.problem = problem_of(frame, demand, ())
        self.book = Book(self.problem, Shape(self.step, {}))
        self.rows = _rows(self.problem)
        self.fixed = _Writing(self).fixed()
        self.recipes = self._no_recipes()
        self.native_fixed, self.native_recipes = native(self.fixed), native(self.recipes)
        self.options: list[RunOption] = []  # what each recipe was written from
        self.asked: list[tuple[int, int, int]] = []  # group, way and level of each recipe
        self._frozen = 0  # how many freezings are known
        self._lock = threading.Lock()

    def _groups(self) -> Iterable[Group]:
        week, frame = self.frame.week, self.frame
        for formula in self.formulas:
            ranges = partial(pot_ranges, week=week, parameters=frame.parameters, formula=formula)
            in_order = [each.pot for each in frame.once(("ranges", formula.code), ranges)]
            for number, kind in enumerate(self.kinds[formula.code]):
                alike: dict[object, list[str]] = {}
                for pot in (pot for pot in in_order if pot in kind.pots):
                    supply = week.get("heat_sources", frame.pots[pot].heat_source).supply
                    alike.setdefault((frame.kinds[pot], supply), []).append(pot)
                yield from (Group(formula.code, number, tuple(pots)) for pots in alike.values())

    def _no_recipes(self) -> Recipes:
        many, stages, adds = MOST_RECIPES, tables.MOST_STAGES, tables.MOST_ADDITIONS
        modes, places = tables.MOST_MODES, tables.MOST_PLACES
        levels = 2 + max((math.floor(_most_l(kinds) / grid_l) for kinds, grid_l in self._by_formula()), default=0)
        kinds_n = max((len(kinds) for kinds in self.kinds.values()), default=0)

        def ints(*shape: int) -> Ints:
            return np.zeros(shape, dtype=np.int64)

        def shorts(*shape: int) -> tables.Shorts:
            return np.zeros(shape, dtype=np.int32)

        return Recipes(
            known=np.full((max(len(self.groups), 1), 2 + len(self.pans), levels), tables.UNKNOWN, dtype=np.int32),
            yields=np.full((max(len(self.formulas), 1), max(kinds_n, 1), levels), tables.UNKNOWN, dtype=np.int64),
            freeze_keys=ints(_FREEZE_ROOM),
            freeze=ints(_FREEZE_ROOM),
            release=ints(many),
            stages=ints(many),
            last_pot=ints(many),
            pour=ints(many),
            pan=ints(many),
            wash=ints(many),
            pan_wash=ints(many),
            shortest=shorts(many, stages),
            longest=shorts(many, stages),
            hands=shorts(many, stages),
            on_site=np.zeros((many, stages), dtype=np.uint8),
            heat=ints(many, stages),
            kw=np.zeros((many, stages), dtype=np.float64),
            supply=shorts(many, stages),
            additions=ints(many),
            add_stage=shorts(many, adds),
            add_before=shorts(many, adds),
            add_length=shorts(many, adds),
            add_tolerance=shorts(many, adds),
            draw_stage=np.full((many, 2), -1, dtype=np.int32),
            modes=shorts(many, 2),
            longest_mode_min=ints(many, 2),
            mode_length=shorts(many, 2, modes),
            mode_ice=ints(many, 2, modes),
            mode_places=shorts(many, 2, modes),
            place_row=shorts(many, 2, modes, places),
            place_n=shorts(many, 2, modes, places),
        )

    def _by_formula(self) -> Iterable[tuple[tuple[PotKind, ...], float]]:
        for formula, grid_l in zip(self.formulas, self.grids_l, strict=True):
            yield self.kinds[formula.code], grid_l

    # Answers

    def answer(self, kind: int, a: int, b: int, c: int) -> None:
        """Write down what a search has asked for."""
        with self._lock:
            if kind == tables.ASK_RECIPE:
                self._write_recipes(self.groups[a].formula, b > 0, c)
            elif kind == tables.ASK_YIELD:
                self.recipes.yields[a, b, c] = self._yield_ml(self.formulas[a], self.kinds[self.formulas[a].code][b], c)
            else:
                self._write_freezing(a, b, c)

    def recipe_of(self, group: int, way: int, level: int) -> int:
        """The recipe of a run, written if need be."""
        if self.recipes.known[group, way, level] == tables.UNKNOWN:
            self.answer(tables.ASK_RECIPE, group, way, level)
        return int(self.recipes.known[group, way, level])

    def first_l(self, formula: str, level: int) -> float:
        """Litres of a level."""
        return level * self.grids_l[self.formula_at[formula]]

    def in_grids_ml(self, formula: str, litres: float) -> float:
        """Litres of a formula's broth in whole millilitres for each measure of its containers, whatever these hold."""
        at = self.formula_at[formula]
        return litres / self.grids_l[at] * self.grids_ml[at]

    def place_of(self, batch: Batch, pot: str) -> tuple[int, int] | None:
        """The group and the level of a run in a pot; none where it is poured together with others."""
        grid_l = self.grids_l[self.formula_at[batch.formula]]
        level = round(batch.first_l / grid_l)
        rest = round(1000.0 * (batch.first_l - level * grid_l))
        group = next(
            (n for n, each in enumerate(self.groups) if each.formula == batch.formula and pot in each.pots), None
        )
        return None if group is None or rest or batch.guests or batch.pours_into else (group, level)

    def keeper(self, formula: str) -> Product:
        """The product in whose containers a run is topped up."""
        return self.products[int(self.fixed.keeper[self.formula_at[formula]])]

    def tray_of(self, product: str, containers: int) -> tuple[int, int] | None:
        """The row and the number of the trays that containers of a product take; none where it is in none."""
        at = self.product_at[product]
        row = int(self.fixed.tray[at])
        return None if row < 0 else (row, -(-containers * int(self.fixed.cubes[at]) // int(self.fixed.cells[row])))

    def due_min(self, recipe: int, portion: Portion, peg: Peg) -> int:
        """When what a run makes for an order line must be ready: before it is frozen, unless it is frozen in trays."""
        due_min, product = self.frame.minute(peg.dispatch_at), self.frame.products[portion.product]
        if product.storage != "frozen" or product.cube_tray:
            return due_min
        at = freeze_place(self.native_recipes, recipe, self.product_at[portion.product], portion.containers)
        if not self.recipes.freeze_keys[at]:
            self._write_freezing(recipe, self.product_at[portion.product], portion.containers)
        return due_min - int(self.recipes.freeze[at])

    def _word(self, formula: str, level: int, *, twice: bool) -> Batch:
        """A run of a formula and a volume, with as little as can be said else."""
        products = [each for each in self.products if each.formula == formula]
        keeper = next(each for each in products if each.kind == "broth")
        reduced = next((each for each in products if each.kind != "broth"), None)
        return Batch(
            code=formula,
            formula=formula,
            first=(Portion(product=keeper.code, containers=1, litres=self.first_l(formula, level), pegs=()),),
            reduction=(Portion(product=reduced.code, containers=1, litres=_WORD_L, pegs=()),)
            if twice and reduced
            else (),
        )

    def _write_recipes(self, formula: str, twice: bool, level: int) -> None:
        """The recipes of all groups and ways of a formula for a volume."""
        batch = self._word(formula, level, twice=twice)
        ready = jobs_of(self.frame, [batch], self.held).ready.get(formula)
        made = ready.job if ready is not None and batch.has_second_draw == twice else None
        by_place: dict[tuple[str, str], RunOption] = {}
        for each in made.options if made else ():
            by_place.setdefault((each.pot, each.pan.code if each.pan else ""), each)
        for number, group in enumerate(self.groups):
            if group.formula != formula:
                continue
            for way in range(1, 2 + len(self.pans)) if twice else (0,):
                if self.recipes.known[number, way, level] != tables.UNKNOWN:
                    continue
                pan = self.pans[way - 2] if way > 1 else ""
                option = next((by_place[pot, pan] for pot in group.pots if (pot, pan) in by_place), None)
                if option is None or made is None or len(self.options) >= MOST_RECIPES or _is_too_long(option):
                    self.recipes.known[number, way, level] = tables.IMPOSSIBLE
                else:
                    self._write_recipe(option, made.release_min)
                    self.asked.append((number, way, level))
                    self.recipes.known[number, way, level] = len(self.options) - 1

    def _write_recipe(self, option: RunOption, release_min: int) -> None:
        r, at = self.recipes, len(self.options)
        self.options.append(option)
        r.release[at] = self._on_grid(release_min)
        r.stages[at], r.last_pot[at] = len(option.stages), option.last_pot_stage
        r.pour[at], r.pan[at] = -1, -1
        if option.pan is not None:
            r.pour[at], r.pan[at] = option.pan.pour_stage, self.vessels.index(option.pan.code)
            r.pan_wash[at] = option.pan.wash_min // self.step
        r.wash[at] = option.wash_min // self.step
        for n, stage in enumerate(option.stages):
            self._write_stage(at, n, stage, option.supply_of(n))
        r.additions[at] = len(option.additions)
        for n, task in enumerate(option.additions):
            r.add_stage[at, n], r.add_before[at, n] = task.stage, task.before_end_min // self.step
            r.add_length[at, n], r.add_tolerance[at, n] = task.cook_min // self.step, task.tolerance_min // self.step
        for draw in option.draws:
            self._write_draw(at, 0 if draw.name == "first" else 1, draw)

    def _on_grid(self, minute: int) -> int:
        step_min = self.problem.step_min
        return -(-max(self.problem.now_min, minute) // step_min) * step_min // self.step

    def _write_stage(self, at: int, n: int, stage: Stage, supply: str) -> None:
        r = self.recipes
        r.shortest[at, n], r.longest[at, n] = stage.shortest_min // self.step, stage.longest_min // self.step
        r.hands[at, n], r.on_site[at, n] = stage.cooks, self.book.needs_staff(stage)
        r.heat[at, n], r.kw[at, n], r.supply[at, n] = micro(stage.power_kw), stage.power_kw, self.rows[HEAT, supply]

    def _write_draw(self, at: int, which: int, draw: Draw) -> None:
        r = self.recipes
        modes = draw.modes[: tables.MOST_MODES]
        r.draw_stage[at, which], r.modes[at, which] = draw.stage, len(modes)
        r.longest_mode_min[at, which] = max(mode.minutes for mode in draw.modes)
        for m, mode in enumerate(modes):
            r.mode_length[at, which, m], r.mode_ice[at, which, m] = mode.minutes // self.step, micro(mode.ice_kg)
            r.mode_places[at, which, m] = len(mode.places)
            for p, (device, places) in enumerate(mode.places):
                r.place_row[at, which, m, p], r.place_n[at, which, m, p] = self.rows[COOLING, device], places

    def _yield_ml(self, formula: Formula, kind: PotKind, level: int) -> int:
        """Reduction that a run gives in the least favourable pot of a kind."""
        if formula.second_draw is None or formula.reduction_bx is None:
            return 0
        drawn_l = round(min(self.first_l(formula.code, level), kind.largest_l), 6)
        pots = self.frame.once(("only", kind.pots), partial(_only_these_pots, self.frame, kind.pots))
        given_l = least_reduction_l(week=pots, parameters=self.frame.parameters, formula=formula, drawn_l=drawn_l)
        return math.floor(1000.0 * given_l + 1e-3)

    def _write_freezing(self, recipe: int, product: int, containers: int) -> None:
        group, way, level = self.asked[recipe]
        formula = self.groups[group].formula
        batch = self._word(formula, level, twice=way > 0)
        option = self.options[recipe]
        pan = option.pan.code if option.pan else ""
        charges = charges_of(self.frame, (batch,), batch)
        ends = next(ends for ends in charges if ends[0].pot == option.pot and ends[0].pan == pan)
        made = self.products[product]
        portion = Portion(product=made.code, containers=containers, litres=containers * made.net_l, pegs=())
        if self._frozen > _FREEZE_ROOM // 2:  # begin anew: what is asked for again is worked out again
            self.recipes.freeze_keys[:], self._frozen = 0, 0
        self._frozen += 1
        at = freeze_place(self.native_recipes, recipe, product, containers)
        self.recipes.freeze[at] = freeze_min(self.frame, portion, ends[0])
        self.recipes.freeze_keys[at] = (recipe * 1_000 + product) * 10_000 + containers + 1


def kinds_for(frame: Frame, formula: Formula, limit_l: float) -> tuple[PotKind, ...]:
    """Kinds of pots for a formula, biggest first.

    Equation: pots with the same least and largest first draw; none whose least draw is too much to cool at once.
    Units: frame, formula (records), limit_l [L] that can be cooled at once; returns records with L.
    Valid: a week that passed its reader.
    Errors: UnknownParameter.
    Source: own definition.
    """
    ranges = partial(pot_ranges, week=frame.week, parameters=frame.parameters, formula=formula)
    alike: dict[tuple[float, float], list[PotRange]] = {}
    for each in frame.once(("ranges", formula.code), ranges):
        if each.smallest_l <= limit_l:
            alike.setdefault((each.smallest_l, each.largest_l), []).append(each)
    return tuple(
        PotKind(pots=frozenset(each.pot for each in members), smallest_l=smallest_l, largest_l=min(largest_l, limit_l))
        for (smallest_l, largest_l), members in sorted(alike.items(), key=lambda item: -item[0][1])
    )


def _bought_source(week: Week) -> Source:
    """All goods bought, because what is at hand is given out later; what nobody sells is taken from what is there."""
    bare = replace(week, saved_bones=(), ingredient_stock=())

    def source(_: Week, wanted: tuple[Wanted, ...]) -> tuple[Portioned, ...]:
        bought = source_ingredients(week=bare, wanted=wanted)
        if all(part.there_at is not None for part in bought):
            return bought
        return source_ingredients(week=week, wanted=wanted)

    return source


def _only_these_pots(frame: Frame, pots: frozenset[str]) -> Week:
    """The week with one of each of a kind's pots: others may give less of a reduction, and are not asked."""
    first = {frame.kinds[pot.code]: pot for pot in reversed(frame.week.pots) if pot.code in pots}
    return replace(frame.week, pots=tuple(first.values()))


def _grid_l(frame: Frame, formula: Formula) -> float:
    """The largest measure of which every container holds a whole number; nearly so where there is none worth a grid."""
    nets = [each.net_l for each in frame.products.values() if each.formula == formula.code and each.kind == "broth"]
    exact_l = common_l(nets) if nets else 1.0
    return exact_l if exact_l >= LEAST_GRID_L else common_l(math.floor(1000.0 * each + 1e-6) / 1000.0 for each in nets)


def _most_l(kinds: Iterable[PotKind]) -> float:
    return max((kind.largest_l for kind in kinds), default=0.0)


def _is_narrow(formula: Formula) -> bool:
    """Whether a simmer has no length on the grid, so that times are to the minute."""
    spans = [(formula.simmer_min_h, formula.simmer_max_h)]
    if formula.second_draw is not None:
        spans.append((formula.second_draw.simmer_min_h, formula.second_draw.simmer_max_h))
    return any(up_min(60.0 * shortest) > down_min(60.0 * longest) for shortest, longest in spans)


def _is_too_long(option: RunOption) -> bool:
    """Whether the tables have no room for a run."""
    places = [len(mode.places) for draw in option.draws for mode in draw.modes]
    return len(option.additions) > tables.MOST_ADDITIONS or max(places, default=0) > tables.MOST_PLACES


def _rows(problem: Problem) -> dict[tuple[str, str], int]:
    """The row of everything that runs share."""
    names = [
        (COOKS, ""),
        *((HEAT, code) for code, _ in problem.supplies_kw),
        *((COOLING, code) for code, _ in problem.devices),
        *((TRAYS, code) for code, _ in problem.trays),
        *((STORAGE, store.code) for store in problem.stores),
    ]
    return {name: row for row, name in enumerate(names)}


class _Writing:
    """The arrays that do not change."""

    def __init__(self, kitchen: KitchenTables) -> None:
        self.kitchen, self.frame, self.book = kitchen, kitchen.frame, kitchen.book
        self.problem, self.step, self.steps = kitchen.problem, kitchen.step, kitchen.book.steps

    def fixed(self) -> Fixed:
        outs, outs_n = self._outs()
        needs, products = self.kitchen.demand.needs, self.kitchen.products
        formula_at = {each.code: n for n, each in enumerate(self.kitchen.formulas)}
        of_need = [self.kitchen.product_at[need.product] for need in needs]
        by_formula = [
            [n for n, need in enumerate(needs) if self.frame.products[need.product].formula == each.code]
            for each in self.kitchen.formulas
        ]
        kinds_n = max((len(kinds) for kinds in self.kitchen.kinds.values()), default=0)
        smallest, largest = (
            np.zeros((len(formula_at), kinds_n), np.int64),
            np.zeros((len(formula_at), kinds_n), np.int64),
        )
        for code, kinds in self.kitchen.kinds.items():
            for n, kind in enumerate(kinds):
                smallest[formula_at[code], n] = math.ceil(self.kitchen.in_grids_ml(code, kind.smallest_l) - 1e-3)
                largest[formula_at[code], n] = math.floor(self.kitchen.in_grids_ml(code, kind.largest_l) + 1e-3)
        groups = self.kitchen.groups
        pots = np.zeros((len(groups), max((len(each.pots) for each in groups), default=1)), np.int64)
        for n, group in enumerate(groups):
            pots[n, : len(group.pots)] = [self.kitchen.vessels.index(pot) for pot in group.pots]
        cells = np.zeros(len(self.kitchen.rows), np.int64)
        for tray in self.frame.week.cube_trays:
            cells[self.kitchen.rows[TRAYS, tray.code]] = tray.cells
        stores = {store.kind: self.kitchen.rows[STORAGE, store.code] for store in reversed(self.frame.week.stores)}
        rate = math.floor(self.problem.ice_kg_per_min * 1_000_000)
        started = micro(min(self.problem.ice_start_kg, self.problem.ice_bin_kg)) + SLACK
        full = micro(self.problem.ice_bin_kg) + SLACK
        return Fixed(
            steps=self.steps,
            step_min=self.step,
            now=self.book.now,
            soak=self.problem.soak_min // self.step,
            ice_full=full,
            ice_rate=rate * self.step,
            ice_start=min(full, started + rate * (self.book.now * self.step - self.problem.now_min)),
            staffed=(self.book.staffed_until > self.book.every).astype(np.uint8),
            staffed_until=self.book.staffed_until.astype(np.int32),
            brought=self._brought(),
            outs=outs,
            outs_n=outs_n,
            clash=self._clash(),
            product=_ints(of_need),
            containers_of=_ints(need.of_containers for need in needs),
            due_min=_ints(self.frame.minute(need.dispatch_at) for need in needs),
            until=_ints(max(0, self.book.up(self.frame.minute(need.dispatch_at))) for need in needs),
            weight=np.array([need.weight for need in needs], dtype=np.float64),
            leave_day=_ints(self.frame.local_date(need.dispatch_at).toordinal() for need in needs),
            first_day=_ints(self._first_day(need) for need in needs),
            first_min=_ints(
                first_day_min(self.frame, self.frame.products[need.product], need.dispatch_at) for need in needs
            ),
            is_wish=np.array([need.is_wish for need in needs], dtype=np.uint8),
            needs_from=_ints([0, *np.cumsum([len(each) for each in by_formula])]),
            needs=_ints(n for each in by_formula for n in each),
            net_ml=_ints(self._net_ml(each) for each in products),
            formula_of=_ints(formula_at[each.formula] for each in products),
            is_broth=np.array([each.kind == "broth" for each in products], dtype=np.uint8),
            is_frozen=np.array([each.storage == "frozen" for each in products], dtype=np.uint8),
            tray=_ints(self.kitchen.rows[TRAYS, each.cube_tray] if each.cube_tray else -1 for each in products),
            cubes=_ints(each.cubes_per_container or 0 for each in products),
            cells=cells,
            store=_ints(stores.get(each.storage, 0) for each in products),
            keeps=_ints(micro(room_l(self.frame, each)) for each in products),
            keeper=_ints(self._keeper(each) for each in self.kitchen.formulas),
            grid_ml=_ints(self.kitchen.grids_ml),
            kinds_n=_ints(len(self.kitchen.kinds[each.code]) for each in self.kitchen.formulas),
            smallest_ml=smallest,
            largest_ml=largest,
            groups_from=self._groups_from(kinds_n),
            pots_n=_ints(len(each.pots) for each in groups),
            pots=pots,
            pans=_ints(self.kitchen.vessels.index(code) for code in self.kitchen.pans),
        )

    def _net_ml(self, product: Product) -> int:
        """Broth in the measure of its containers; of reductions no more is promised than they hold."""
        if product.kind == "broth":
            return round(self.kitchen.in_grids_ml(product.formula, product.net_l))
        return math.ceil(1000.0 * product.net_l - 1e-3)

    def _outs(self) -> tuple[Ints, Ints]:
        found: dict[str, list[tuple[int, int]]] = {}
        for code, window in sorted(self.problem.outages, key=lambda item: item[1].start_min):
            first = max(window.start_min, 0) // self.step
            found.setdefault(code, []).append((first, self.book.up(max(window.end_min, 0))))
        many = max((len(each) for each in found.values()), default=0)
        outs = np.zeros((len(self.kitchen.vessels), max(many, 1), 2), np.int64)
        for n, code in enumerate(self.kitchen.vessels):
            for m, span in enumerate(found.get(code, ())):
                outs[n, m] = span
        return outs, _ints(len(found.get(code, ())) for code in self.kitchen.vessels)

    def _brought(self) -> Ints:
        brought = np.zeros(self.steps + 1, np.int64)
        for delivery in self.problem.ice_deliveries:
            at = self.book.up(delivery.minute)
            if self.problem.now_min <= delivery.minute and at <= self.steps:
                brought[at] += micro(delivery.mass_kg)
        return brought

    def _clash(self) -> tables.Flags:
        ingredients = {each.code: each for each in self.frame.week.ingredients}
        used = [
            {*(each.ingredient for each in formula.solids), *(each.ingredient for each in formula.additions)}
            for formula in self.kitchen.formulas
        ]
        allergens = [{name for code in codes for name in ingredients[code].allergens} for codes in used]
        clash = np.zeros((len(allergens), len(allergens)), np.uint8)
        for a, one in enumerate(allergens):
            for b, other in enumerate(allergens):
                clash[a, b] = bool(one - other) and self.problem.soak_min > 0
        return clash

    def _first_day(self, need: Need) -> int:
        return first_cook_date(
            dispatch_on=self.frame.local_date(need.dispatch_at), product=self.frame.products[need.product]
        ).toordinal()

    def _keeper(self, formula: Formula) -> int:
        broths = [each for each in self.kitchen.products if each.formula == formula.code and each.kind == "broth"]
        keeper = min(broths, key=lambda each: each.net_l, default=None)
        return -1 if keeper is None else self.kitchen.product_at[keeper.code]

    def _groups_from(self, kinds_n: int) -> Ints:
        table = np.zeros((len(self.kitchen.formulas), kinds_n + 1), np.int64)
        at = 0
        for n, formula in enumerate(self.kitchen.formulas):
            for kind in range(kinds_n):
                table[n, kind] = at
                at += sum(each.formula == formula.code and each.kind == kind for each in self.kitchen.groups)
            table[n, kinds_n] = at
        return table


def _ints(values: Iterable[int]) -> Ints:
    return np.array(list(values), dtype=np.int64)
