"""The only door to the solver of mixed-integer programs."""

from __future__ import annotations

import math
import os
import sys
import time
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

import highspy
import numpy as np

INFINITE = highspy.kHighsInf


def _silence() -> None:
    """Make the first solver of the process with the standard output turned away: it prints a banner, once."""
    sys.stdout.flush()
    kept = os.dup(1)
    nowhere = os.open(os.devnull, os.O_WRONLY)
    try:
        os.dup2(nowhere, 1)
        highspy.Highs()  # type: ignore[no-untyped-call]  # its own stub is half typed
    finally:
        os.dup2(kept, 1)
        os.close(nowhere)
        os.close(kept)


_silence()


@dataclass(frozen=True, slots=True, kw_only=True)
class Answer:
    """What the solver has found when it stopped."""

    values: tuple[float, ...]
    objective: float
    bound: float  # no solution is better, within the tolerance of floating point
    proven: bool
    seconds: float


@dataclass(slots=True)
class Mip:
    """A program to be minimised, built variable by variable and row by row."""

    low: list[float] = field(default_factory=list)
    high: list[float] = field(default_factory=list)
    cost: list[float] = field(default_factory=list)
    whole: list[bool] = field(default_factory=list)
    rows: list[tuple[dict[int, float], float, float]] = field(default_factory=list)

    def variable(self, *, low: float = 0.0, high: float = INFINITE, cost: float = 0.0, whole: bool = False) -> int:
        """Add a variable and return its index."""
        self.low.append(low)
        self.high.append(high)
        self.cost.append(cost)
        self.whole.append(whole)
        return len(self.low) - 1

    def row(self, terms: Iterable[tuple[int, float]], *, low: float = -INFINITE, high: float = INFINITE) -> None:
        """Keep a sum between two limits; a variable may be named more than once."""
        gathered: dict[int, float] = {}
        for index, factor in terms:
            gathered[index] = gathered.get(index, 0.0) + factor
        self.rows.append((gathered, low, high))

    def value(self, values: Sequence[float]) -> float:
        """The objective at a point."""
        return math.fsum(cost * value for cost, value in zip(self.cost, values, strict=True))

    def solve(
        self,
        *,
        seconds: float,
        workers: int = 1,
        seed: int = 0,
        gap_share: float = 1e-4,
        nodes: int = 1_000_000,
        start: Mapping[int, float] | None = None,
        cancelled: Callable[[], bool] | None = None,
    ) -> Answer | None:
        """Minimise within a time, from a start that may be known in part; nothing comes back without a solution."""
        began = time.monotonic()
        solver = self._solver(seconds=seconds, workers=workers, seed=seed, gap_share=gap_share, nodes=nodes)
        if start:
            solver.setSolution(len(start), np.array(list(start), dtype=np.int32), np.array(list(start.values())))
        if cancelled is not None:
            _interrupted(solver, cancelled)
        solver.run()
        info = solver.getInfo()
        if info.primal_solution_status != highspy.kSolutionStatusFeasible:
            return None
        proven = solver.getModelStatus() == highspy.HighsModelStatus.kOptimal
        objective = float(info.objective_function_value)
        return Answer(
            values=tuple(float(value) for value in solver.getSolution().col_value),
            objective=objective,
            bound=float(info.mip_dual_bound) if any(self.whole) else (objective if proven else -math.inf),
            proven=proven,
            seconds=time.monotonic() - began,
        )

    def least(
        self,
        *,
        seconds: float,
        seed: int = 0,
        gap_share: float = 1e-4,
        cancelled: Callable[[], bool] | None = None,
    ) -> float:
        """What no solution is less than, even if none is found; minus infinity as long as nothing is known."""
        solver = self._solver(seconds=seconds, workers=1, seed=seed, gap_share=gap_share, nodes=1_000_000)
        if cancelled is not None:
            _interrupted(solver, cancelled)
        solver.run()
        if any(self.whole):
            return float(solver.getInfo().mip_dual_bound)
        proven = solver.getModelStatus() == highspy.HighsModelStatus.kOptimal
        return float(solver.getInfo().objective_function_value) if proven else -math.inf

    def _solver(self, *, seconds: float, workers: int, seed: int, gap_share: float, nodes: int) -> highspy.Highs:
        solver: highspy.Highs = highspy.Highs()  # type: ignore[no-untyped-call]  # its own stub is half typed
        for option, value in (
            ("output_flag", False),
            ("threads", workers),
            ("parallel", "off" if workers == 1 else "on"),
            ("random_seed", seed),
            ("time_limit", max(0.01, seconds)),
            ("mip_rel_gap", gap_share),
            ("mip_max_nodes", nodes),
            ("mip_heuristic_run_feasibility_jump", False),  # it seldom finds anything here, and takes long
        ):
            solver.setOptionValue(option, value)
        solver.passModel(self._program())
        return solver

    def _program(self) -> highspy.HighsLp:
        program = highspy.HighsLp()
        program.num_col_, program.num_row_ = len(self.low), len(self.rows)
        program.col_cost_ = np.array(self.cost)
        program.col_lower_, program.col_upper_ = np.array(self.low), np.array(self.high)
        program.row_lower_ = np.array([low for _, low, _ in self.rows])
        program.row_upper_ = np.array([high for _, _, high in self.rows])
        starts = np.cumsum([0, *(len(terms) for terms, _, _ in self.rows)])
        program.a_matrix_.format_ = highspy.MatrixFormat.kRowwise
        program.a_matrix_.start_ = starts
        program.a_matrix_.index_ = np.array([index for terms, _, _ in self.rows for index in terms])
        program.a_matrix_.value_ = np.array([factor for terms, _, _ in self.rows for factor in terms.values()])
        kinds = (highspy.HighsVarType.kContinuous, highspy.HighsVarType.kInteger)
        program.integrality_ = [kinds[whole] for whole in self.whole]
        return program


def _interrupted(solver: highspy.Highs, cancelled: Callable[[], bool]) -> None:
    """Let a solver stop when somebody has asked for it."""

    def stop(event: Any) -> None:
        if cancelled():
            event.interrupt()

    solver.cbMipInterrupt += stop
