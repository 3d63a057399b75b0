"""A run that was cooked and cooled, ready to be packed, for tests of what becomes of it."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Any

from production.domain.plan import plan_from_json
from production.domain.sheets import batch_sheets, content_to_json, cooling_logs
from production.models import CoolingDevice, CoolingRecord, Lot, Plan, PlanningWeek, Pot, RunRecord
from production.services import plans
from production.services.lot_decisions import lot_release
from production.services.lots import lot_make
from production.services.plans import plan_make, plan_store
from tests.builders import at
from tests.conftest import Cast
from tests.kept import kept

COOKED = at("2027-02-02 15:00")
PACKED = at("2027-02-02 21:00")


def a_plan(cast: Cast, week: PlanningWeek) -> Plan:
    """The week's plan, as a worker would have stored it."""

    def stored() -> Plan:
        made = plan_make(kitchen=cast.kitchen, week_id=week.pk)
        return plan_store(made=made, kitchen=cast.kitchen, week_id=week.pk, user_id=cast.manager.user_id)

    return kept(f"plan of {week.pk} at {plans.moment_of_planning()}", stored)


def a_run(plan: Plan, *, formula: str = "Poultry broth") -> RunRecord:
    """The first run of the plan with this formula, cooked to its end."""
    content = plan_from_json(plan.result)
    sheet = next(each for each in batch_sheets(content) if each.formula == formula)
    row, _ = RunRecord.objects.get_or_create(
        kitchen=plan.kitchen,
        week=plan.week,
        code=sheet.run,
        defaults={
            "plan": plan,
            "subject": f"run/{plan.week.starts_on}/{sheet.run}",
            "pot": Pot.objects.filter(kitchen=plan.kitchen).first(),
            "sheet": content_to_json(sheet),
            "state": RunRecord.State.FINISHED,
            "begun_at": COOKED - timedelta(hours=6),
            "ended_at": COOKED,
        },
    )
    return row


def a_cooling(run: RunRecord, *, verdict: str = "met", **changes: Any) -> CoolingRecord:
    """A cooling log of the run's first draw, closed unless the verdict is empty."""
    values: dict[str, Any] = {"draw": "first", "group": 1, "attempt": 1, "opened_at": COOKED} | changes
    device = CoolingDevice.objects.get(kitchen=run.kitchen, code="sink")
    subject = (
        f"cooling/{run.week.starts_on}/{run.code}/{values['draw']}/{device.code}/{values['group']}.{values['attempt']}"
    )
    logs = cooling_logs(plan_from_json(Plan.objects.get(pk=run.plan_id).result))
    return CoolingRecord.objects.create(
        kitchen=run.kitchen,
        week=run.week,
        run=run,
        device=device,
        subject=subject,
        rule="FDA_A_C",
        sheet=content_to_json(next(each for each in logs if each.run == run.code)),
        closed_at=COOKED + timedelta(hours=5) if verdict else None,
        verdict=verdict,
        **values,
    )


def a_lot(
    cast: Cast,
    plan: Plan,
    *,
    containers: int = 10,
    product: str = "poultry-5",
    verdict: str = "met",
    free: bool = False,
    packed_at: datetime = PACKED,
    group: int | None = None,
    key: str = "",
    **more: Any,
) -> Lot:
    """A lot of the plan's poultry broth, let go where asked for."""
    run = a_run(plan)
    number = group or CoolingRecord.objects.filter(run=run).count() + 1
    cooling = a_cooling(run, verdict=verdict, group=number)
    lot = lot_make(
        by=cast.cook,
        coolings=[cooling.subject],
        product=product,
        containers=containers,
        store="walk-in",
        packed_at=packed_at,
        key=key or f"pack-{number}",
        now=packed_at,
        **more,
    )
    if free:
        return lot_release(
            by=cast.cook, code=lot.code, seen="held", reason="Cooled in time", key=f"free-{number}", now=packed_at
        )
    return lot
