"""Opening coolings: from the plan when a draw is drawn off, and again after a re-heat."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.db import transaction
from django.http import Http404

from production.domain.limits import rule
from production.domain.sheets import content_to_json
from production.domain.sheets.cooling_parts import planned_logs
from production.models import CoolingDevice, CoolingRecord, Membership, RunRecord
from production.selectors.access import Action, require
from production.selectors.plans import plan_content
from production.services.cooling_heat import event_of, hot_fact_of
from production.services.cooling_rows import cooling_refresh
from production.services.records import Draft, entries_append

LONGEST_KEY = 80
OPENED = "cooling_opened"


@dataclass(frozen=True, slots=True, kw_only=True)
class Opening:
    """One group of containers that begins to cool."""

    subject: str
    draw: str
    device: CoolingDevice | None
    group: int
    attempt: int
    rule: str
    sheet: dict[str, Any]
    opened_at: datetime
    hot_fact_at: datetime | None
    event_at: datetime | None


@transaction.atomic
def coolings_open(
    *, by: Membership, run: RunRecord, draw: str, at: datetime, key: str, now: datetime
) -> list[CoolingRecord]:
    """Open a log for every device that the plan gives a draw; drawn off twice, opened once.

    What was opened by hand before is no reason to leave one of the planned logs out.
    """
    require(by, Action.RECORD)
    locked = run_locked(by, run.subject)
    there = {each.subject: each for each in locked.coolings.filter(draw=draw)}
    content = plan_content(plan=locked.plan)
    law = rule(content.week.kitchen.cooling_rule)
    hot_at = hot_fact_of(locked, law, at)
    devices = {each.code: each for each in CoolingDevice.objects.filter(kitchen_id=by.kitchen_id)}
    planned = [
        (each, _subject(locked, draw, each.device, 1, 1)) for each in planned_logs(content, run=locked.code, draw=draw)
    ]
    return [
        there.get(subject)
        or _open(
            by,
            locked,
            Opening(
                subject=subject,
                draw=draw,
                device=devices.get(each.device),
                group=1,
                attempt=1,
                rule=law.code,
                sheet=content_to_json(each.log),
                opened_at=at,
                hot_fact_at=hot_at,
                event_at=event_of(law, at),
            ),
            _key(key, each.device),
            now,
        )
        for each, subject in planned
    ]


def cooling_open_again(
    *, by: Membership, cooling: CoolingRecord, at: datetime, start_temp_c: float, key: str, now: datetime
) -> CoolingRecord:
    """The next attempt after a re-heat: a new clock; the run, and with it the first day, stays."""
    law = rule(cooling.rule)
    device = "" if cooling.device is None else cooling.device.code
    opening = Opening(
        subject=_subject(cooling.run, cooling.draw, device, cooling.group, cooling.attempt + 1),
        draw=cooling.draw,
        device=cooling.device,
        group=cooling.group,
        attempt=cooling.attempt + 1,
        rule=cooling.rule,
        sheet={**cooling.sheet, "parted_from": "", "start_temp_c": start_temp_c},
        opened_at=at,
        hot_fact_at=at,
        event_at=event_of(law, at),
    )
    return _open(by, cooling.run, opening, _key(key, "again"), now)


def _open(by: Membership, run: RunRecord, opening: Opening, key: str, now: datetime) -> CoolingRecord:
    draft = Draft(
        kind=OPENED,
        subject=opening.subject,
        content={
            "run": run.subject,
            "draw": opening.draw,
            "rule": opening.rule,
            "device": opening.sheet["device"],
            "vessel": opening.sheet["vessel"],
            "vessels": opening.sheet["vessels"],
            "depth_mm": f"{opening.sheet['depth_mm']:.0f}",
            "hot_fact_at": iso(opening.hot_fact_at),
            "event_at": iso(opening.event_at),
        },
        happened_at=opening.opened_at,
        key=key,
    )
    entries_append(by=by, drafts=[draft], now=now)
    cooling = cooling_row(run, opening)
    cooling_refresh(cooling)
    return cooling


def cooling_row(run: RunRecord, opening: Opening) -> CoolingRecord:
    """The row of what begins to cool; its entry is written by whoever opens it."""
    return CoolingRecord.objects.create(
        kitchen=run.kitchen,
        week_id=run.week_id,
        run=run,
        draw=opening.draw,
        device=opening.device,
        group=opening.group,
        attempt=opening.attempt,
        subject=opening.subject,
        rule=opening.rule,
        sheet=opening.sheet,
        hot_fact_at=opening.hot_fact_at,
        event_at=opening.event_at,
        opened_at=opening.opened_at,
    )


def iso(at: datetime | None) -> str:
    """A moment as it goes into the book; nothing for none."""
    return "" if at is None else at.isoformat()


def _key(key: str, of: str) -> str:
    """A key of its own for what one entry leads to; the same each time."""
    whole = f"{key}/{of}"
    return whole if len(whole) <= LONGEST_KEY else hashlib.sha256(whole.encode()).hexdigest()


def _subject(run: RunRecord, draw: str, device: str, group: int, attempt: int) -> str:
    return f"cooling/{run.subject.removeprefix('run/')}/{draw}/{device or 'elsewhere'}/{group}.{attempt}"


def run_locked(by: Membership, subject: str) -> RunRecord:
    """The run of this name, for this transaction alone."""
    runs = RunRecord.objects.select_for_update(of=("self",)).select_related("plan", "kitchen")
    found = runs.filter(kitchen_id=by.kitchen_id, subject=subject).first()
    if found is None:
        raise Http404("This kitchen has no such run.")
    return found
