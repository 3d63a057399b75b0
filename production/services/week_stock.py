"""What a week that has not begun may count on: free lots and saved bones that no earlier order or plan waits for.

The rows of a week that stand for real lots and bones carry their codes and follow them; other rows are left alone.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping
from datetime import datetime, time, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from django.db import transaction
from django.db.models import Max, Q

from production.domain.demand import use_by_date
from production.domain.records.stock import pick_lots
from production.models import (
    Bones,
    BonesMove,
    Kitchen,
    Lot,
    OrderLine,
    Plan,
    PlanningWeek,
    Product,
    RunRecord,
    SavedBones,
    StockLot,
)
from production.selectors.plans import plan_in_force
from production.selectors.stock import LineState, lines_sent, standing_of, wanted_of

LEAST_KG = 0.05


@transaction.atomic
def week_stock_update(*, kitchen: Kitchen, week_id: int, now: datetime) -> None:
    """Bring the week's stock and bank up to what is really there; a week that has begun keeps what it had."""
    Kitchen.objects.select_for_update().get(pk=kitchen.pk)
    week = PlanningWeek.objects.filter(kitchen=kitchen, pk=week_id).first()
    if week is None or now >= _begins(week, kitchen):
        return
    others = [
        each
        for each in PlanningWeek.objects.filter(
            kitchen=kitchen, starts_on__lte=week.starts_on + timedelta(days=week.days)
        )
        if each.pk != week.pk and now < _begins(each, kitchen) + timedelta(days=each.days)
    ]
    plans = [plan for plan in (plan_in_force(week=each) for each in others) if plan is not None]
    _lots_update(kitchen, week, others, plans)
    _bones_update(kitchen, week, plans)
    _plan_from_when_it_is_there(week, now, ZoneInfo(kitchen.time_zone))


def _begins(week: PlanningWeek, kitchen: Kitchen) -> datetime:
    return datetime.combine(week.starts_on, time(), ZoneInfo(kitchen.time_zone))


def _plan_from_when_it_is_there(week: PlanningWeek, now: datetime, zone: ZoneInfo) -> None:
    """A week that was to be planned before its stock was made is planned from now."""
    latest = [
        StockLot.objects.filter(week=week).aggregate(day=Max("made_on"))["day"],
        SavedBones.objects.filter(week=week).aggregate(day=Max("saved_on"))["day"],
    ]
    planned_on, today = week.plan_from.astimezone(zone).date(), now.astimezone(zone).date()
    if any(day is not None and planned_on < day <= today for day in latest):
        PlanningWeek.objects.filter(pk=week.pk).update(plan_from=now)


def _lots_update(kitchen: Kitchen, week: PlanningWeek, others: list[PlanningWeek], plans: list[Plan]) -> None:
    """Free lots, less what earlier orders still take that no run of their own plan will serve."""
    known = set(Lot.objects.filter(kitchen=kitchen).values_list("code", flat=True))
    lots = list(
        Lot.objects.filter(kitchen=kitchen, status=Lot.Status.FREE, left__gt=0, use_by__gte=week.starts_on)
        .select_related("product", "store")
        .order_by("use_by", "code")
    )
    lives = dict(Product.objects.filter(kitchen=kitchen).values_list("code", "life_at_dispatch_days"))
    wanted = wanted_of(_still_from_stock(kitchen, others, plans), ZoneInfo(kitchen.time_zone))
    left = pick_lots(lots=standing_of(lots), wanted=wanted, life_at_dispatch=lives).left
    rows = {
        lot.code: {
            "product_id": lot.product_id,
            "containers": left[lot.code],
            "made_on": lot.made_on,
            "use_by": min(lot.use_by, use_by_date(made_on=lot.made_on, shelf_life_days=lot.product.shelf_life_days)),
            "store_id": lot.store_id,
        }
        for lot in lots
        if left[lot.code]
    }
    _rows_follow(StockLot, week, known, rows)


def _still_from_stock(kitchen: Kitchen, others: list[PlanningWeek], plans: list[Plan]) -> list[LineState]:
    """What orders of other weeks still take from lots that are there; what their runs have yet to make is not taken."""
    lines = list(
        OrderLine.objects.filter(week__in=others).select_related("product", "week").order_by("dispatch_at", "pk")
    )
    sent = lines_sent([line.pk for line in lines])
    coming = _coming(plans)
    return [
        LineState(line=line, sent=sent.get(line.pk, 0) + coming.get((line.week_id, line.code), 0)) for line in lines
    ]


def _coming(plans: list[Plan]) -> Mapping[tuple[int, str], int]:
    """Containers that runs without a lot yet will make for an order line."""
    packed = {
        (run.week_id, run.code)
        for run in RunRecord.objects.filter(week__in=[plan.week_id for plan in plans]).filter(
            Q(lots__isnull=False) | Q(state=RunRecord.State.BROKEN_OFF)
        )
    }
    found: dict[tuple[int, str], int] = defaultdict(int)
    for plan in plans:
        for run in plan.result["runs"]:
            if (plan.week_id, run["code"]) in packed:
                continue
            for portion in (*run["batch"]["first"], *run["batch"]["reduction"]):
                for peg in portion["pegs"]:
                    found[plan.week_id, peg["line"]] += peg["containers"]
    return found


def _bones_update(kitchen: Kitchen, week: PlanningWeek, plans: list[Plan]) -> None:
    """What is left in the bank, less what other plans have yet to take from it."""
    bank = list(Bones.objects.filter(kitchen=kitchen).order_by("use_by", "code"))
    promised: dict[str, float] = defaultdict(float)
    for plan in plans:
        for code, mass_kg in _promised(plan).items():
            promised[code] += mass_kg
    rows = {
        entry.code: {
            "ingredient_id": entry.ingredient_id,
            "mass_kg": float(entry.left_kg) - promised[entry.code],
            "saved_on": entry.saved_on,
            "use_by": entry.use_by,
        }
        for entry in bank
        if entry.use_by >= week.starts_on and float(entry.left_kg) - promised[entry.code] >= LEAST_KG
    }
    _rows_follow(SavedBones, week, {entry.code for entry in bank}, rows)


def _promised(plan: Plan) -> dict[str, float]:
    """Kilograms that the runs of a plan have yet to take, by entry of its week's bank, first expired first."""
    subjects = {f"run/{plan.week.starts_on}/{run['code']}": run for run in plan.result["runs"]}
    moves = list(
        BonesMove.objects.filter(run_subject__in=subjects, kind=BonesMove.Kind.USED).values_list(
            "run_subject", "bones__code", "bones__ingredient__code", "mass_kg"
        )
    )
    taken: dict[tuple[str, str], float] = defaultdict(float)
    for subject, _, ingredient, mass_kg in moves:
        taken[subject, ingredient] += float(mass_kg)
    wanted: dict[str, float] = defaultdict(float)
    for subject, run in subjects.items():
        for part in run["sourced"]:
            wanted[part["ingredient"]] += max(0.0, part["from_bank_kg"] - taken[subject, part["ingredient"]])
    found = {}
    for row in sorted(plan.result["week"]["saved_bones"], key=lambda row: (row["use_by"], row["code"])):
        there = row["mass_kg"] - sum(float(mass) for _, code, _, mass in moves if code == row["code"])
        found[row["code"]] = min(max(0.0, there), wanted[row["ingredient"]])
        wanted[row["ingredient"]] -= found[row["code"]]
    return found


def _rows_follow(
    table: type[StockLot] | type[SavedBones], week: PlanningWeek, known: set[str], rows: Mapping[str, dict[str, Any]]
) -> None:
    """Write the rows that stand for real things; take away those that stand for what is no longer there."""
    mine = table.objects.filter(week=week, code__in=known)
    mine.exclude(code__in=rows).delete()
    there = {row.code: row for row in mine}
    position = 1 + (table.objects.filter(week=week).aggregate(last=Max("position"))["last"] or 0)
    for place, (code, values) in enumerate(rows.items()):
        row = there.get(code)
        if row is None:
            table.objects.create(week=week, code=code, position=position + place, **values)
        elif any(getattr(row, name) != value for name, value in values.items()):
            table.objects.filter(pk=row.pk).update(**values)
