"""One week from orders to runs: the whole pipeline, and the plan it returns."""

from production.domain.plan.assemble import plan_batches
from production.domain.plan.changes import Fix, apply_fix
from production.domain.plan.coefficients import parameters_of
from production.domain.plan.compare import Change, Difference, Totals, compare_plans
from production.domain.plan.content import (
    LateLine,
    Plan,
    PlannedDraw,
    PlannedRun,
    Preview,
    PreviewRun,
    StageLoad,
    Unserved,
)
from production.domain.plan.file import plan_dumps, plan_from_json, plan_schema, plan_to_json, preview_to_json
from production.domain.plan.fixes import TriedFixes, find_fixes, planned_with
from production.domain.plan.holds import (
    Ask,
    BoilAt,
    LockRun,
    PotOut,
    RunLost,
    StartedAt,
    ask_from_json,
    ask_text,
    ask_to_json,
    check_asks,
)
from production.domain.plan.make import make_plan
from production.domain.plan.move import MoveVerdict, judge_move
from production.domain.plan.par import ParLeft, par_left
from production.domain.plan.replan import replan
from production.domain.plan.waits import Wait, Waits, waits_of_line, waits_of_run

__all__ = [
    "Ask",
    "BoilAt",
    "Change",
    "Difference",
    "Fix",
    "LateLine",
    "LockRun",
    "MoveVerdict",
    "ParLeft",
    "Plan",
    "PlannedDraw",
    "PlannedRun",
    "PotOut",
    "Preview",
    "PreviewRun",
    "RunLost",
    "StageLoad",
    "StartedAt",
    "Totals",
    "TriedFixes",
    "Unserved",
    "Wait",
    "Waits",
    "apply_fix",
    "ask_from_json",
    "ask_text",
    "ask_to_json",
    "check_asks",
    "compare_plans",
    "find_fixes",
    "judge_move",
    "make_plan",
    "par_left",
    "parameters_of",
    "plan_batches",
    "plan_dumps",
    "plan_from_json",
    "plan_schema",
    "plan_to_json",
    "planned_with",
    "preview_to_json",
    "replan",
    "waits_of_line",
    "waits_of_run",
]
