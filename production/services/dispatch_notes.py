"""Dispatch notes: what has left for one outlet at one time, on paper for the driver and the outlet."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime
from decimal import Decimal
from zoneinfo import ZoneInfo

from django.db import transaction
from django.http import Http404

from production.domain.sheets import DispatchNote
from production.domain.sheets.content import NoteLine, NoteLot
from production.models import LotMove, Membership, OrderLine, Outlet, Plan, RunRecord
from production.queue import enqueue
from production.selectors.access import Action, require
from production.services.jobs import JobContext, Result
from production.services.label_sheets import asked_by, cooked_run, heading_of_run, paper_issue

NOTE_RENDER = "dispatch_note_render"


@transaction.atomic
def note_request(*, by: Membership, outlet: str, dispatch_at: datetime, idempotency_key: str = "") -> int:
    """Ask for the note of what has left for an outlet at a time; returns the job's id."""
    require(by, Action.RECORD)
    if not _moves(by, outlet, dispatch_at):
        raise Http404("Nothing has left for this outlet at this time.")
    return enqueue(
        kind=NOTE_RENDER,
        kitchen_id=by.kitchen_id,
        payload={"outlet": outlet, "dispatch_at": dispatch_at.isoformat()},
        requested_by=by.user_id,
        idempotency_key=idempotency_key,
    )


def note_render(context: JobContext) -> Result:
    """The job's body. It may run twice."""
    by = asked_by(context)
    at = datetime.fromisoformat(context.payload["dispatch_at"])
    moves = _moves(by, context.payload["outlet"], at)
    context.progress(0, 1, "Dispatch note")
    plan = Plan.objects.select_related("kitchen").get(pk=_a_run(moves).plan_id)
    return paper_issue(context, plan, _note(by, moves, at))


def _moves(by: Membership, outlet: str, at: datetime) -> list[LotMove]:
    moves = LotMove.objects.filter(
        lot__kitchen_id=by.kitchen_id,
        kind=LotMove.Kind.DISPATCHED,
        outlet__code=outlet,
        order_line__dispatch_at=at,
    )
    return list(
        moves.select_related(
            "lot", "lot__run", "lot__product", "outlet", "order_line__product", "order_line__product__container"
        )
        .defer("lot__run__sheet")
        .order_by("pk")
    )


def _note(by: Membership, moves: list[LotMove], at: datetime) -> DispatchNote:
    outlet = Outlet.objects.get(pk=moves[0].outlet_id or 0)
    local = at.astimezone(ZoneInfo(by.kitchen.time_zone))
    return DispatchNote(
        kind="dispatch_note",
        key=f"{outlet.code}-{local:%y%m%d-%H%M}",
        heading=heading_of_run(_a_run(moves)),
        outlet=outlet.name,
        contact=outlet.contact,
        dispatch_at=at,
        lines=tuple(_lines(by, moves, at)),
    )


def _a_run(moves: list[LotMove]) -> RunRecord:
    """A run whose plan the note is kept with: that of a lot, or the last one begun where all are opening stock."""
    run = next((move.lot.run for move in moves if move.lot.run is not None), None)
    run = run or RunRecord.objects.filter(kitchen_id=moves[0].lot.kitchen_id).order_by("begun_at").last()
    return run or cooked_run(moves[0].lot)


def _lines(by: Membership, moves: list[LotMove], at: datetime) -> Iterator[NoteLine]:
    """Every line of the outlet at that time, also one of which nothing has left."""
    lines = OrderLine.objects.filter(
        week__kitchen_id=by.kitchen_id, outlet_id=moves[0].outlet_id or 0, dispatch_at=at
    ).select_related("product", "product__container")
    for line in lines.order_by("position", "pk"):
        lots = [move for move in moves if move.order_line_id == line.pk]
        label = lots[0].lot.label if lots else {}
        yield NoteLine(
            product=line.product.name,
            container=line.product.container.name,
            ordered=line.containers,
            allergens=tuple(lots[0].lot.allergens) if lots else (),
            keep_temp=Decimal(label["keep_temp"]) if label else None,
            keep_unit=label.get("keep_unit", ""),
            lots=tuple(
                NoteLot(
                    lot=move.lot.code,
                    containers=-move.containers,
                    use_by=move.lot.use_by,
                    frozen=move.lot.product.storage == "frozen",
                )
                for move in lots
            ),
        )
