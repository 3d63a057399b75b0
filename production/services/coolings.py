"""Opening coolings: from the plan when a draw is drawn off, or by hand where it was poured otherwise."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.db import transaction
from django.http import Http404

from production.domain.errors import Conflict, PotwrightError
from production.domain.limits import CoolingRule, rule, to_celsius
from production.domain.quantities import parse_quantity
from production.domain.sheets import CoolingLog, content_from_json, content_to_json
from production.domain.sheets.cooling_parts import Poured, log_as_poured, planned_logs
from production.models import CoolingDevice, CoolingRecord, Entry, Membership, RunRecord
from production.selectors.access import Action, require
from production.selectors.plans import plan_content
from production.services.cooling_rows import cooling_refresh
from production.services.floor_answers import Answer, answer_of
from production.services.records import Draft, entries_append

LONGEST_KEY = 80
OPENED = "cooling_opened"
_HOT_KINDS = ("boil_reached", "temp_taken", "drawn", "reheated")
_DRAWS = ("first", "second", "reduction")


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
    locked = _run_locked(by, run.subject)
    there = {each.subject: each for each in locked.coolings.filter(draw=draw)}
    content = plan_content(plan=locked.plan)
    law = rule(content.week.kitchen.cooling_rule)
    hot_at = _hot_fact(locked, law, at)
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
                event_at=_event(law, at),
            ),
            _key(key, each.device),
            now,
        )
        for each, subject in planned
    ]


def cooling_open_by_hand(by: Membership, draft: Draft, now: datetime) -> Answer:
    """Somebody pours otherwise than planned: another device, more vessels, or a part of a group goes elsewhere."""
    run, draw, device, group = _named(by, draft.subject)
    if CoolingRecord.objects.filter(kitchen_id=by.kitchen_id, subject=draft.subject).exists():
        raise Conflict(
            "This group is cooling already.",
            code="cooling-open-already",
            numbers={"group": group},
            remedy="Record the reading in its log, or open the next group.",
        )
    content = plan_content(plan=run.plan)
    law = rule(content.week.kitchen.cooling_rule)
    whole = _whole(by, run, draft.content)
    opening = Opening(
        subject=draft.subject,
        draw=draw,
        device=device,
        group=group,
        attempt=1,
        rule=law.code if whole is None else whole.rule,
        sheet=_sheet_by_hand(run, draw, device, draft, whole),
        opened_at=draft.happened_at,
        hot_fact_at=_hot_fact(run, law, draft.happened_at) if whole is None else whole.hot_fact_at,
        event_at=_event(law, draft.happened_at) if whole is None else whole.event_at,
    )
    entry = entries_append(by=by, drafts=[draft], now=now).entries[0]
    cooling_refresh(_row(run, opening))
    return answer_of(entry)


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
        event_at=_event(law, at),
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
            "hot_fact_at": _iso(opening.hot_fact_at),
            "event_at": _iso(opening.event_at),
        },
        happened_at=opening.opened_at,
        key=key,
    )
    entries_append(by=by, drafts=[draft], now=now)
    cooling = _row(run, opening)
    cooling_refresh(cooling)
    return cooling


def _row(run: RunRecord, opening: Opening) -> CoolingRecord:
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


def _iso(at: datetime | None) -> str:
    return "" if at is None else at.isoformat()


def _key(key: str, of: str) -> str:
    """A key of its own for what one entry leads to; the same each time."""
    whole = f"{key}/{of}"
    return whole if len(whole) <= LONGEST_KEY else hashlib.sha256(whole.encode()).hexdigest()


def _subject(run: RunRecord, draw: str, device: str, group: int, attempt: int) -> str:
    return f"cooling/{run.subject.removeprefix('run/')}/{draw}/{device or 'elsewhere'}/{group}.{attempt}"


def _run_locked(by: Membership, subject: str) -> RunRecord:
    runs = RunRecord.objects.select_for_update(of=("self",)).select_related("plan", "kitchen")
    found = runs.filter(kitchen_id=by.kitchen_id, subject=subject).first()
    if found is None:
        raise Http404("This kitchen has no such run.")
    return found


# --- what the kitchen knows about heat before the first reading -------------------------------------------------------


def _hot_fact(run: RunRecord, law: CoolingRule, at: datetime) -> datetime | None:
    """The last record of the run, up to the draw, that it was at or above the start of the clock."""
    start = law.stages[0]
    if start.from_temp is None:
        return None
    start_c = float(to_celsius(start.from_temp, start.unit))
    entries = Entry.objects.filter(
        kitchen_id=run.kitchen_id, subject=run.subject, kind__in=_HOT_KINDS, happened_at__lte=at, corrections=None
    )
    told = entries.values_list("happened_at", "corrects__happened_at", "kind", "content")
    # What puts an earlier record right, or confirms it, was still measured when that was.
    hot = (min(when, first or when) for when, first, kind, content in told if _was_hot(kind, content, start_c))
    return max(hot, default=None)


def _was_hot(kind: str, content: Mapping[str, Any], start_c: float) -> bool:
    if content.get("question") and not content.get("confirmed"):
        return False
    temp_c = _temp_c(content)
    return kind == "boil_reached" if temp_c is None else temp_c >= start_c


def _temp_c(content: Mapping[str, Any]) -> float | None:
    """A temperature as it was typed into an entry of the run; without a unit it proves nothing."""
    typed, unit = str(content.get("temp", "")).strip(), str(content.get("unit", ""))
    try:
        return parse_quantity(f"{typed} {unit}" if typed[-1:].isdigit() else typed, "degC", unit_required=True)
    except PotwrightError:
        return None


def _event(law: CoolingRule, at: datetime) -> datetime | None:
    """The moment from which a rule with an event counts: the pot stands on the heat until it is drawn off."""
    return at if law.stages[0].clock == "from_event" else None


# --- by hand ----------------------------------------------------------------------------------------------------------


def _named(by: Membership, subject: str) -> tuple[RunRecord, str, CoolingDevice | None, int]:
    """Run, draw, device and group out of the name of a cooling."""
    parts = subject.split("/")
    if len(parts) != 6 or parts[0] != "cooling" or parts[3] not in _DRAWS or not _is_first_attempt(parts[5]):
        raise Http404("This is no name of a cooling.")
    run = _run_locked(by, f"run/{parts[1]}/{parts[2]}")
    device = CoolingDevice.objects.filter(kitchen_id=by.kitchen_id, code=parts[4]).first()
    if device is None and parts[4] != "elsewhere":
        raise Http404("This kitchen has no such cooling device.")
    return run, parts[3], device, int(parts[5].split(".")[0])


def _is_first_attempt(text: str) -> bool:
    group, _, attempt = text.partition(".")
    return group.isdecimal() and 1 <= int(group) <= 999 and attempt == "1"


def _whole(by: Membership, run: RunRecord, content: Mapping[str, Any]) -> CoolingRecord | None:
    """The group of which this is a part."""
    subject = str(content.get("parted_from", ""))
    if not subject:
        return None
    found = CoolingRecord.objects.filter(kitchen_id=by.kitchen_id, run=run, subject=subject).first()
    if found is None:
        raise Http404("This run has no such cooling.")
    return found


def _sheet_by_hand(
    run: RunRecord, draw: str, device: CoolingDevice | None, draft: Draft, whole: CoolingRecord | None
) -> dict[str, Any]:
    near = _nearest_log(run, draw) if whole is None else _log_of(whole)
    poured = Poured(
        key=draft.subject.removeprefix("cooling/").replace("/", "-"),
        draw=draw.capitalize() if draw == "reduction" else f"{draw.capitalize()} draw",
        device=str(draft.content.get("place", "elsewhere"))[:120] if device is None else device.name,
        vessel=near.vessel if device is None else device.vessel.name,
        vessels=max(1, round(_amount(draft.content, "vessels", "pieces", near.vessels))),
        litres=_amount(draft.content, "litres", "L", near.litres),
        depth_mm=_amount(draft.content, "depth", "mm", near.depth_mm),
    )
    parted = "" if whole is None else whole.subject
    return content_to_json(log_as_poured(near, poured)) | {"parted_from": parted}


def _amount(content: Mapping[str, Any], name: str, unit: str, otherwise: float) -> float:
    typed = str(content.get(name, "")).strip()
    if not typed:
        return otherwise
    return float(int(typed)) if unit == "pieces" and typed.isdecimal() else parse_quantity(typed, unit)


def _nearest_log(run: RunRecord, draw: str) -> CoolingLog:
    """The planned log of this draw, or of any draw of the plan: the head of the paper is the same."""
    content = plan_content(plan=run.plan)
    for name in (draw, *_DRAWS):
        found = planned_logs(content, run=run.code, draw=name)
        if found:
            return found[0].log
    raise Conflict(
        "The plan of this run cools nothing, so there is no log to begin with.",
        code="no-cooling-planned",
        numbers={"run": run.code},
        remedy="Write the cooling on paper, and have the plan of the run corrected.",
    )


def _log_of(cooling: CoolingRecord) -> CoolingLog:
    found = content_from_json(cooling.sheet)
    assert isinstance(found, CoolingLog)  # noqa: S101  rows hold nothing else
    return found
