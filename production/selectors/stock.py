"""What order lines still ask for, which lots they get, and how full the stores are in the days ahead."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from django.db.models import Q, Sum

from production.domain import kitchen as domain
from production.domain.batches.storage_first import container_storage_l
from production.domain.demand import use_by_date
from production.domain.errors import OutOfRange
from production.domain.records.stock import (
    Pick,
    Picks,
    RoomDay,
    Standing,
    Wanted,
    freezing_hours,
    pick_lots,
    room_ahead,
)
from production.models import Lot, LotMove, Membership, OrderLine, Plan, Product, RunRecord, Store
from production.selectors.access import Action, require
from production.selectors.lots import lots_there
from production.selectors.week_rows import entry_of

DAYS_AHEAD = 7
FIRST_YEAR, LAST_YEAR = 2000, 2200
STILL_ASKED_FOR = timedelta(days=1)  # a line that has not been served by then is no longer looked for
LEAST_POWER_KW = 0.01
GLAZE_SOLIDS_PERCENT, STOCK_SOLIDS_PERCENT = 20.0, 3.0  # common practice, no source; class C


@dataclass(frozen=True, slots=True, kw_only=True)
class LineState:
    """An order line with what has left for it."""

    line: OrderLine
    sent: int

    @property
    def missing(self) -> int:
        """Containers that have not left yet."""
        return max(0, self.line.containers - self.sent)


@dataclass(frozen=True, slots=True, kw_only=True)
class StoreAhead:
    """A store, what it can take, and how full it is on each day."""

    store: Store
    usable_l: float
    days: tuple[RoomDay, ...]
    freezing_h: Mapping[date, float]  # freezers: hours of all spare power for what goes in on a day


def lines_between(*, by: Membership, start: datetime, end: datetime) -> list[LineState]:
    """Order lines that leave in a stretch of time, with what has left for them, in the order of leaving."""
    require(by, Action.SEE_RECORDS)
    lines = list(
        OrderLine.objects.filter(week__kitchen_id=by.kitchen_id, dispatch_at__gte=start, dispatch_at__lt=end)
        .select_related("outlet", "product", "product__container", "week")
        .order_by("dispatch_at", "outlet__position", "position", "pk")
    )
    sent = lines_sent([line.pk for line in lines])
    return [LineState(line=line, sent=sent.get(line.pk, 0)) for line in lines]


def lines_sent(line_ids: list[int]) -> Mapping[int, int]:
    """Containers that have left for each order line."""
    moves = LotMove.objects.filter(order_line_id__in=line_ids, kind=LotMove.Kind.DISPATCHED)
    return {row["order_line_id"]: -row["n"] for row in moves.values("order_line_id").annotate(n=Sum("containers"))}


def standing_of(lots: Iterable[Lot]) -> tuple[Standing, ...]:
    """Lots as the computations of stock take them."""
    return tuple(
        Standing(
            lot=lot.code,
            product=lot.product.code,
            store=lot.store.code,
            containers=lot.left,
            made_on=lot.made_on,
            use_by=lot.use_by,
        )
        for lot in lots
    )


def wanted_of(states: Iterable[LineState], zone: ZoneInfo) -> tuple[Wanted, ...]:
    """What order lines still ask for."""
    return tuple(
        Wanted(
            line=line_key(state.line),
            product=state.line.product.code,
            containers=state.missing,
            dispatch_at=state.line.dispatch_at,
            day=state.line.dispatch_at.astimezone(zone).date(),
            weight=state.line.weight,
        )
        for state in states
        if state.missing
    )


def line_key(line: OrderLine) -> str:
    """An order line by week and code: codes are told apart only within a week."""
    return f"{line.week.starts_on}/{line.code}"


def picks_until(*, by: Membership, now: datetime, end: datetime) -> tuple[list[LineState], Picks]:
    """Who gets which free lot of all that leaves until a moment."""
    zone = ZoneInfo(by.kitchen.time_zone)
    states = lines_between(by=by, start=now - STILL_ASKED_FOR, end=end)
    free = [lot for lot in lots_there(by=by) if lot.status == Lot.Status.FREE]
    picks = pick_lots(lots=standing_of(free), wanted=wanted_of(states, zone), life_at_dispatch=_lives(by))
    return states, picks


def stores_ahead(*, by: Membership, now: datetime, days: int = DAYS_AHEAD) -> tuple[StoreAhead, ...]:
    """How full each store is in the days ahead: what stands there, what the plans bring, what the orders take."""
    zone = ZoneInfo(by.kitchen.time_zone)
    today = now.astimezone(zone).date()
    products = {
        each.code: each for each in Product.objects.filter(kitchen_id=by.kitchen_id).select_related("container")
    }
    stores = list(Store.objects.filter(kitchen_id=by.kitchen_id, retired=False))
    lots = list(lots_there(by=by))
    standing = (*standing_of(lots), *_planned(by, now, zone, products, stores))
    states = lines_between(by=by, start=now, end=now + timedelta(days=days))
    leaves = pick_lots(lots=standing, wanted=wanted_of(states, zone), life_at_dispatch=_lives(by)).picks
    one_l = {code: _room_of_one(each) for code, each in products.items()}
    room = room_ahead(
        first_day=today, days=days, standing=[(each, one_l[each.product]) for each in standing], picks=leaves
    )
    empty = tuple(RoomDay(day=today + timedelta(days=n), litres=0.0) for n in range(days))
    frozen = [*_frozen_today(lots, today, zone), *(each for each in standing if each.there_on is not None)]
    return tuple(
        StoreAhead(
            store=store,
            usable_l=store.volume_l * store.usable_share,
            days=room.get(store.code, empty),
            freezing_h=_freezing(store, frozen, products, today, days) if store.kind == "frozen" else {},
        )
        for store in stores
    )


def _lives(by: Membership) -> Mapping[str, int]:
    return dict(Product.objects.filter(kitchen_id=by.kitchen_id).values_list("code", "life_at_dispatch_days"))


def _room_of_one(product: Product) -> float:
    return container_storage_l(container=entry_of(domain.Container, product.container), air_gap_mm=0.0)


def _planned(
    by: Membership, now: datetime, zone: ZoneInfo, products: Mapping[str, Product], stores: list[Store]
) -> Iterator[Standing]:
    """What published plans still bring: portions of runs of which no lot has been made."""
    plans = list(Plan.objects.filter(kitchen_id=by.kitchen_id, status=Plan.Status.PUBLISHED).filter(_lately(now)))
    done = {
        (run.week_id, run.code)
        for run in RunRecord.objects.filter(week__in=[plan.week_id for plan in plans])
        .filter(Q(lots__isnull=False) | Q(state=RunRecord.State.BROKEN_OFF))
        .only("week_id", "code")
    }
    place = {kind: next((each.code for each in stores if each.kind == kind), "") for kind in ("chilled", "frozen")}
    for plan in plans:
        for run in plan.result["runs"]:
            if (plan.week_id, run["code"]) not in done:
                yield from _of_run(run, now, zone, products, place)


def _lately(now: datetime) -> Q:
    return Q(
        week__starts_on__gte=(now - timedelta(days=15)).date(), week__starts_on__lte=(now + timedelta(days=15)).date()
    )


def _of_run(
    run: Mapping[str, Any],
    now: datetime,
    zone: ZoneInfo,
    products: Mapping[str, Product],
    place: Mapping[str, str],
) -> Iterator[Standing]:
    ready = {draw["name"]: datetime.fromisoformat(draw["ready_at"]) for draw in run["draws"]}
    for name, portions in (("first", run["batch"]["first"]), ("reduction", run["batch"]["reduction"])):
        for portion in portions:
            product = products.get(portion["product"])
            if product is None or name not in ready or ready[name] < now - timedelta(days=1):
                continue
            day = ready[name].astimezone(zone).date()
            yield Standing(
                lot=f"{run['code']} {portion['product']}",
                product=product.code,
                store=place[product.storage],
                containers=portion["containers"],
                made_on=day,
                use_by=use_by_date(made_on=day, shelf_life_days=product.shelf_life_days),
                there_on=day,
            )


def _frozen_today(lots: Iterable[Lot], today: date, zone: ZoneInfo) -> Iterator[Standing]:
    for lot in lots:
        if lot.packed_at.astimezone(zone).date() == today:
            yield Standing(
                lot=lot.code,
                product=lot.product.code,
                store=lot.store.code,
                containers=lot.left,
                made_on=lot.made_on,
                use_by=lot.use_by,
                there_on=today,
            )


def _freezing(
    store: Store, coming: Iterable[Standing], products: Mapping[str, Product], today: date, days: int
) -> Mapping[date, float]:
    hours = {today + timedelta(days=n): 0.0 for n in range(days)}
    for each in coming:
        if each.store != store.code or each.there_on not in hours or store.spare_kw < LEAST_POWER_KW:
            continue
        product = products[each.product]
        solids = STOCK_SOLIDS_PERCENT if product.kind == "broth" else GLAZE_SOLIDS_PERCENT
        hours[each.there_on] += freezing_hours(
            mass_kg=each.containers * product.net_l, solids_percent=solids, spare_kw=store.spare_kw
        )
    return hours


def picks_of_line(picks: Picks, line: OrderLine) -> tuple[Pick, ...]:
    """The lots that one order line gets."""
    return tuple(each for each in picks.picks if each.line == line_key(line))


@dataclass(frozen=True, slots=True, kw_only=True)
class LeavingLine:
    """An order line of a day with the lots it gets."""

    id: int
    line: str
    week: date
    outlet: str
    product: str
    dispatch_at: datetime
    ordered: int
    sent: int
    short: int
    picks: tuple[Pick, ...]


def leaving_on(*, by: Membership, day: date, now: datetime) -> tuple[LeavingLine, ...]:
    """What leaves on a day, in the order of leaving; what leaves before it takes its lots first."""
    zone = ZoneInfo(by.kitchen.time_zone)
    states, picks = picks_of_day(by=by, day=day, now=now)
    return tuple(
        LeavingLine(
            id=state.line.pk,
            line=state.line.code,
            week=state.line.week.starts_on,
            outlet=state.line.outlet.code,
            product=state.line.product.code,
            dispatch_at=state.line.dispatch_at,
            ordered=state.line.containers,
            sent=state.sent,
            short=picks.short.get(line_key(state.line), 0),
            picks=picks_of_line(picks, state.line),
        )
        for state in states
        if state.line.dispatch_at.astimezone(zone).date() == day
    )


def picks_of_day(*, by: Membership, day: date, now: datetime) -> tuple[list[LineState], Picks]:
    """Lines up to the end of a day with their lots; of a day that is over, what was left to send."""
    if not FIRST_YEAR <= day.year <= LAST_YEAR:
        raise OutOfRange(
            "The day must lie between the years 2000 and 2200.", code="day-out-of-range", remedy="Choose another day."
        )
    over = datetime.combine(day, time(), ZoneInfo(by.kitchen.time_zone)) + timedelta(days=1)
    return picks_until(by=by, now=min(now, over), end=max(over, now))
