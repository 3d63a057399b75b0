"""The rows around the start of a trace, read level by level: as many queries for one lot as for three years."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass

from django.db.models import Q, QuerySet

from production.models import (
    BonesMove,
    CoolingRecord,
    Entry,
    IngredientLot,
    IngredientUse,
    Lot,
    LotMove,
    Membership,
    Outlet,
    Plan,
    RunRecord,
)
from production.selectors.trace_starts import Start

FIRST = "first"  # the draw that nothing is poured into
WEIGHED = ("charge_weighed", "addition_made")


@dataclass(frozen=True, slots=True)
class Told:
    """What decides whether an entry still stands."""

    pk: int
    subject: str
    kind: str
    corrects: int | None


def standing(rows: Sequence[Told]) -> Sequence[Told]:
    """What is neither corrected nor taken back by something that itself stands; rows in the order of the book."""
    dead: set[int] = set()
    for row in reversed(rows):
        if row.corrects is not None and row.pk not in dead:
            dead.add(row.corrects)
    return [row for row in rows if row.pk not in dead]


@dataclass(frozen=True, slots=True)
class Pour:
    """A second draw that was poured into the pan of another run."""

    guest: int
    host: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Rows:
    """Everything a trace is built of; it may hold more than leads to the start."""

    lots: Mapping[int, Lot]
    coolings: Mapping[int, CoolingRecord]
    of_lot: Mapping[int, tuple[int, ...]]  # lot -> its coolings
    runs: Mapping[int, RunRecord]
    pours: tuple[Pour, ...]
    came: Mapping[int, IngredientLot]
    uses: Sequence[IngredientUse]
    bones: Sequence[BonesMove]
    moves: Sequence[LotMove]
    outlets: Mapping[int, Outlet]


def rows_around(*, by: Membership, start: Start) -> Rows:
    """The rows before and after the start."""
    users = start.runs | _users(by, start)
    packed = dict(_lots(by).in_bulk(list(start.lots)))
    of_lot = _coolings_of(packed)
    before = {each.pk: each for each in _coolings(by).filter(pk__in={pk for pks in of_lot.values() for pk in pks})}
    runs = users | {each.run_id for each in before.values()} | {lot.run_id for lot in packed.values() if lot.run_id}
    pours = _pours(by, runs)
    hosts = {pour.host for pour in pours}
    near = Q(run_id__in=users) | Q(run_id__in=hosts) & ~Q(draw=FIRST)
    after = {each.pk: each for each in _coolings(by).filter(near)}
    of_more = _lots_after(by, users, after)
    runs |= {each.run_id for each in after.values()} | {pour.guest for pour in pours} | {pour.host for pour in pours}
    lots = packed | of_more
    uses, moves = _uses(by, runs, start), _moves(lots)
    return Rows(
        lots=lots,
        coolings=before | after,
        of_lot=of_lot | _coolings_of(of_more),
        runs=RunRecord.objects.defer("sheet").in_bulk(list(runs)),
        pours=pours,
        came=_came(by, start.ingredient_lots | {each.lot_id for each in uses}),
        uses=uses,
        bones=_bones(by, runs, start),
        moves=moves,
        outlets=Outlet.objects.in_bulk({move.outlet_id for move in moves if move.outlet_id is not None}),
    )


def _lots(by: Membership) -> QuerySet[Lot]:
    return Lot.objects.filter(kitchen_id=by.kitchen_id).select_related("product", "store").defer("label")


def _coolings(by: Membership) -> QuerySet[CoolingRecord]:
    rows = CoolingRecord.objects.filter(kitchen_id=by.kitchen_id).select_related("device")
    return rows.defer("sheet", "digest", "curve").order_by("opened_at", "pk")


def _users(by: Membership, start: Start) -> frozenset[int]:
    """Runs that have used what the trace begins with."""
    used = IngredientUse.objects.filter(lot_id__in=start.ingredient_lots, run__isnull=False)
    found = {pk for pk in used.values_list("run_id", flat=True) if pk is not None}
    taken = BonesMove.objects.filter(bones_id__in=start.bones).exclude(run_subject="")
    subjects = taken.values_list("run_subject", flat=True)
    return frozenset(found | set(_runs_named(by, set(subjects)).values()))


def _runs_named(by: Membership, subjects: Collection[str]) -> dict[str, int]:
    rows = RunRecord.objects.filter(kitchen_id=by.kitchen_id, subject__in=subjects)
    return dict(rows.values_list("subject", "pk"))


def _coolings_of(lots: Collection[int]) -> dict[int, tuple[int, ...]]:
    pairs = Lot.coolings.through.objects.filter(lot_id__in=lots).order_by("pk")
    found: dict[int, tuple[int, ...]] = dict.fromkeys(lots, ())
    for lot, cooling in pairs.values_list("lot_id", "coolingrecord_id"):
        found[lot] = (*found[lot], cooling)
    return found


def _lots_after(by: Membership, users: Collection[int], coolings: Collection[int]) -> dict[int, Lot]:
    """Lots of these coolings, and those of the runs that have none."""
    cooled = Lot.coolings.through.objects.filter(coolingrecord_id__in=coolings).values_list("lot_id", flat=True)
    rows = _lots(by).filter(Q(pk__in=set(cooled)) | Q(run_id__in=users, coolings__isnull=True))
    return {each.pk: each for each in rows}


def _pours(by: Membership, runs: Collection[int]) -> tuple[Pour, ...]:
    """Who was really poured into whose pan: recorded, and not taken back; the plans say where to."""
    weeks = set(RunRecord.objects.filter(pk__in=runs).values_list("week_id", flat=True))
    near = {
        subject: (pk, week, code, plan)
        for pk, subject, week, code, plan in RunRecord.objects.filter(
            week_id__in=weeks, kitchen_id=by.kitchen_id
        ).values_list("pk", "subject", "week_id", "code", "plan_id")
    }
    poured = _poured(by, near)
    plans = Plan.objects.filter(pk__in={near[each][3] for each in poured}).values_list("week_id", "result__runs")
    into = {
        (week, each["code"]): each.get("batch", {}).get("pours_into", "") for week, told in plans for each in told or ()
    }
    of_code = {(week, code): pk for pk, week, code, _ in near.values()}
    found = []
    for subject in sorted(poured):
        pk, week, code, _ = near[subject]
        host = of_code.get((week, into.get((week, code), "")))
        if host is not None and (pk in runs or host in runs):
            found.append(Pour(pk, host))
    return tuple(found)


def _poured(by: Membership, subjects: Collection[str]) -> set[str]:
    entries = Entry.objects.filter(kitchen_id=by.kitchen_id, subject__in=subjects, kind__in=["poured", "withdrawn"])
    rows = [Told(*row) for row in entries.order_by("number").values_list("pk", "subject", "kind", "corrects_id")]
    return {each.subject for each in standing(rows) if each.kind == "poured"}


def _uses(by: Membership, runs: Collection[int], start: Start) -> Sequence[IngredientUse]:
    rows = IngredientUse.objects.filter(
        Q(run_id__in=runs) | Q(lot_id__in=start.ingredient_lots), lot__kitchen_id=by.kitchen_id
    )
    return list(rows.order_by("pk"))


def _came(by: Membership, lots: Collection[int]) -> dict[int, IngredientLot]:
    rows = IngredientLot.objects.filter(pk__in=lots, kitchen_id=by.kitchen_id)
    return {each.pk: each for each in rows.select_related("receipt__supplier", "ingredient")}


def _bones(by: Membership, runs: Collection[int], start: Start) -> Sequence[BonesMove]:
    subjects = RunRecord.objects.filter(pk__in=runs).values("subject")
    rows = BonesMove.objects.filter(
        Q(run_subject__in=subjects) | Q(bones_id__in=start.bones), bones__kitchen_id=by.kitchen_id
    )
    return list(rows.select_related("bones__ingredient").order_by("pk"))


def _moves(lots: Collection[int]) -> Sequence[LotMove]:
    """Only what a trace reads: of a supplier's month there are thousands."""
    rows = LotMove.objects.filter(lot_id__in=lots).select_related("entry", "order_line")
    kept = rows.only("lot_id", "outlet_id", "kind", "containers", "entry__happened_at", "order_line__code")
    return list(kept.order_by("pk"))
