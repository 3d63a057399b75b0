"""Lots as they stand, what their cooling shows, and what has been written down about them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

from django.db.models import Prefetch, Q, QuerySet
from django.http import Http404

from production.domain.records.lots import MET, Grounds, worst_verdict
from production.models import (
    CoolingRecord,
    Deviation,
    Entry,
    Kitchen,
    Lot,
    LotMove,
    LotSettings,
    Membership,
    PlanningWeek,
    Product,
    StockLot,
    Store,
)
from production.selectors.access import Action, may, require

_COOLINGS = Prefetch("coolings", CoolingRecord.objects.defer("sheet", "digest", "curve"))
SPEAKS_FOR_RELEASE = "release"


def lot_subject(code: str) -> str:
    """What entries about a lot are filed under."""
    return f"lot/{code}"


def lots_of(*, by: Membership) -> QuerySet[Lot]:
    """The kitchen's lots, first expired first, with what a list of them needs."""
    require(by, Action.SEE_RECORDS)
    return (
        Lot.objects.filter(kitchen_id=by.kitchen_id)
        .select_related("product", "product__container", "store", "run")
        .defer("run__sheet")
        .prefetch_related(_COOLINGS)
    )


def lots_there(*, by: Membership) -> QuerySet[Lot]:
    """Lots of which something is left in a store."""
    return lots_of(by=by).filter(left__gt=0)


def lot_of(*, by: Membership, code: str) -> Lot:
    """One lot by its code."""
    found = lots_of(by=by).filter(code=code).first()
    if found is None:
        raise Http404("This kitchen has no such lot.")
    return found


def lot_verdict(lot: Lot) -> str:
    """What the cooling logs of a lot show together: met, breached or not_shown."""
    return worst_verdict(cooling.verdict for cooling in lot.coolings.all())


def lot_grounds(*, by: Membership, lot: Lot) -> Grounds:
    """What a release of the lot could rest on, for this person: what managers have written down about it."""
    subject = lot_subject(lot.code)
    coolings = list(lot.coolings.all())
    actions = list(
        Entry.objects.filter(
            kitchen_id=by.kitchen_id,
            subject__in=[subject, *(cooling.subject for cooling in coolings)],
            kind="corrective_action",
            role=Membership.Role.MANAGER,
            corrections__isnull=True,
        )
    )
    closed = Deviation.objects.filter(
        Q(cooling__in=coolings) | Q(lots=lot), kitchen_id=by.kitchen_id, disposition=SPEAKS_FOR_RELEASE
    ).exists()
    return Grounds(
        verdict=lot_verdict(lot),
        may_decide=may(by, Action.DECIDE_LOTS),
        corrected=closed or bool(actions),
        evaluated=closed or any(_speaks_for_release(each, subject) for each in actions),
        kept_back=_kept_back(by, lot),
    )


def _kept_back(by: Membership, lot: Lot) -> bool:
    """By a manager's word, or by a deviation about the lot that nobody has closed."""
    held = Entry.objects.filter(kitchen_id=by.kitchen_id, subject=lot_subject(lot.code), kind="lot_held")
    last = held.order_by("-number").values_list("role", flat=True).first()
    about_log = Q(cooling__lots=lot) & ~Q(kind=Deviation.Kind.LATE_LOG)
    waits = Deviation.objects.filter(Q(lots=lot) | about_log, kitchen_id=by.kitchen_id, state=Deviation.State.OPEN)
    return last == Membership.Role.MANAGER or waits.exists()


def _speaks_for_release(action: Entry, subject: str) -> bool:
    """Only what is about the lot itself, and says why."""
    said = action.content
    return (
        action.subject == subject
        and said.get("disposition") == SPEAKS_FOR_RELEASE
        and bool(str(said.get("evaluation", "")).strip())
    )


def lot_story(*, by: Membership, lot: Lot) -> QuerySet[Entry]:
    """All that stands in the book about a lot, in order."""
    require(by, Action.SEE_RECORDS)
    return Entry.objects.filter(kitchen_id=by.kitchen_id, subject=lot_subject(lot.code)).select_related("corrects")


def lot_moves(*, by: Membership, lot: Lot) -> QuerySet[LotMove]:
    """What came to a lot and left it."""
    require(by, Action.SEE_RECORDS)
    moves = LotMove.objects.filter(lot=lot, lot__kitchen_id=by.kitchen_id)
    return moves.select_related("entry", "outlet", "order_line")


def coolings_to_pack(*, by: Membership) -> Sequence[CoolingRecord]:
    """Closed logs of which no lot has been made yet; of a group that was heated again only the last attempt."""
    require(by, Action.SEE_RECORDS)
    rows = (
        CoolingRecord.objects.filter(kitchen_id=by.kitchen_id, lots__isnull=True)
        .exclude(deviations__disposition="discard")
        .select_related("run", "device", "week")
        .defer("run__sheet", "digest", "curve")
        .order_by("opened_at", "pk")
    )
    last: dict[tuple[int, str, int | None, int], CoolingRecord] = {}
    for row in rows:
        group = (row.run_id, row.draw, row.device_id, row.group)
        if group not in last or last[group].attempt < row.attempt:
            last[group] = row
    return [row for row in last.values() if row.closed_at is not None]


def lot_settings(*, kitchen: Kitchen) -> LotSettings:
    """How the kitchen labels and dates; the default where nobody has set anything."""
    found = LotSettings.objects.filter(kitchen=kitchen).first()
    return found or LotSettings(kitchen=kitchen, label_law="us" if kitchen.units == "us" else "eu")


def is_shown_safe(lot: Lot) -> bool:
    """Whether every log of the lot has met its limits."""
    return lot_verdict(lot) == MET


@dataclass(frozen=True, slots=True, kw_only=True)
class PackingChoices:
    """What can be chosen when a draw is packed: (code, name) each."""

    run: str
    draw: str
    coolings: list[tuple[str, str]]
    products: list[tuple[str, str]]
    stores: list[tuple[str, str]]


def packing_choices(*, by: Membership, cooling: str) -> PackingChoices | None:
    """Logs, products and stores for the draw that a cooling log belongs to."""
    require(by, Action.SEE_RECORDS)
    named = (
        CoolingRecord.objects.filter(kitchen_id=by.kitchen_id, subject=cooling)
        .select_related("run")
        .defer("sheet", "digest", "curve")
        .first()
    )
    if named is None:
        return None
    same = [each for each in coolings_to_pack(by=by) if (each.run_id, each.draw) == (named.run_id, named.draw)]
    kinds = ("broth",) if named.draw == "first" else ("reduction", "cubes")
    products = Product.objects.filter(
        kitchen_id=by.kitchen_id, retired=False, kind__in=kinds, formula__name=named.run.sheet.get("formula", "")
    )
    stores = Store.objects.filter(
        kitchen_id=by.kitchen_id, retired=False, kind__in={product.storage for product in products}
    )
    return PackingChoices(
        run=named.run.code,
        draw=named.draw,
        coolings=[(each.subject, _cooling_name(each)) for each in same or [named]],
        products=[(each.code, each.name) for each in products],
        stores=[(each.code, f"{each.name} ({each.kind})") for each in stores],
    )


def _cooling_name(cooling: CoolingRecord) -> str:
    where = cooling.device.name if cooling.device else "no device"
    attempt = f", attempt {cooling.attempt}" if cooling.attempt > 1 else ""
    return f"{where}, group {cooling.group}{attempt}: {cooling.verdict.replace('_', ' ') or 'open'}"


def stock_not_taken_in(*, by: Membership, now: datetime) -> list[StockLot]:
    """Opening stock of the week that runs, as its file told it, that no lot stands for yet and that is not past."""
    require(by, Action.SEE_RECORDS)
    today = now.astimezone(ZoneInfo(by.kitchen.time_zone)).date()
    week = PlanningWeek.objects.filter(kitchen_id=by.kitchen_id, starts_on__lte=today).order_by("-starts_on").first()
    if week is None or today >= week.starts_on + timedelta(days=week.days):
        return []
    rows = (
        StockLot.objects.filter(week=week, use_by__gte=today, made_on__lte=today)
        .select_related("week", "product__container", "product__formula", "store")
        .order_by("use_by", "code")
    )
    lots = set(Lot.objects.filter(kitchen_id=by.kitchen_id).values_list("code", flat=True))
    made = Entry.objects.filter(kitchen_id=by.kitchen_id, kind="lot_made", content__has_key="from_stock")
    done = {(entry.content["week"], entry.content["from_stock"]) for entry in made}
    return [row for row in rows if row.code not in lots and (week.starts_on.isoformat(), row.code) not in done]
