"""A kitchen in which bones came in, were cooked, cooled, packed and sent: for tests of what can be traced."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta
from decimal import Decimal

from production.models import (
    Entry,
    IngredientLot,
    Lot,
    OrderLine,
    Outlet,
    Plan,
    PlanningWeek,
    Receipt,
    RunRecord,
    Supplier,
)
from production.services.dispatch import Picked, dispatch_confirm
from production.services.ingredient_uses import ingredient_uses_set
from production.services.receipts import Came, receipt_take
from production.services.records import Draft, entries_append
from tests.builders import at
from tests.conftest import Cast
from tests.lots import PACKED, a_lot, a_plan, a_run

CAME = at("2027-02-01 06:00")
LEAVES = at("2027-02-03 08:30")


@dataclass(frozen=True, slots=True)
class Traced:
    """One thread: frames -> run -> lot -> bistro."""

    plan: Plan
    run: RunRecord
    came: IngredientLot
    lot: Lot
    line: OrderLine


def a_plan_once(cast: Cast, week: PlanningWeek) -> Plan:
    """The week's plan; it is the same in every test, so it is made once."""
    return a_plan(cast, week)


def received(cast: Cast, *, key: str = "came", ingredient: str = "frames", mass_kg: int = 40) -> IngredientLot:
    """A lot of an ingredient, taken in on Monday morning."""
    came = Came(
        supplier=Supplier.objects.filter(kitchen=cast.kitchen).order_by("position")[0].code,
        ingredient=ingredient,
        packs=4,
        mass_kg=Decimal(mass_kg),
        came_as="chilled",
        temp="3.4",
        supplier_lot="CB-118",
        store="walk-in",
        received_at=CAME,
    )
    row: Receipt = receipt_take(by=cast.cook, came=came, accept=True, reason="", key=key, now=CAME)
    return IngredientLot.objects.get(receipt=row)


def weighed(cast: Cast, run: RunRecord, *, order: int, mass: str, lot: str = "", key: str = "") -> Entry:
    """A weighing of a run, with the lots that it names."""
    content = {"step": f"charge.{order}", "mass": mass} | ({"lot": lot} if lot else {})
    draft = Draft(
        kind="charge_weighed",
        subject=run.subject,
        content=content,
        happened_at=run.begun_at + timedelta(minutes=5),
        key=key or f"{run.code}-{order}",
    )
    entry = entries_append(by=cast.cook, drafts=[draft], now=run.begun_at + timedelta(minutes=6)).entries[0]
    ingredient_uses_set(run)
    return entry


def sent(cast: Cast, line: OrderLine, lot: Lot, containers: int, *, key: str = "send", when: datetime = LEAVES) -> None:
    """Containers leave for an order line."""
    picked = [Picked(lot=lot.code, containers=containers)]
    dispatch_confirm(by=cast.cook, line=line.pk, picked=picked, happened_at=when, key=key, now=when)


def order_of(run: RunRecord, name: str) -> int:
    """The place of an ingredient on the sheet."""
    return next(int(line["order"]) for line in run.sheet["charge"] if line["name"] == name)


def a_thread(cast: Cast, week: PlanningWeek, *, containers: int = 10, leave: int = 6) -> Traced:
    """Frames that came on Monday, cooked on Tuesday, six of ten tubs sent on Wednesday."""
    plan = a_plan_once(cast, week)
    came = received(cast)
    run = a_run(plan)
    weighed(cast, run, order=order_of(run, came.ingredient.name), mass="18 kg", lot=came.code)
    lot = a_lot(cast, plan, containers=containers, free=True, packed_at=PACKED)
    line = OrderLine.objects.get(week=week, code="L1")
    Outlet.objects.filter(pk=line.outlet_id).update(contact="555 0101, Ms Ames")
    if leave:
        sent(cast, line, lot, leave)
    return Traced(plan, run, IngredientLot.objects.get(pk=came.pk), Lot.objects.get(pk=lot.pk), line)
