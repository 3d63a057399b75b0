"""Opening a cooling by hand, where it was poured otherwise than planned."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from typing import Any

from django.http import Http404

from production.domain.errors import Conflict
from production.domain.limits import rule
from production.domain.quantities import parse_quantity
from production.domain.sheets import CoolingLog, content_from_json, content_to_json
from production.domain.sheets.cooling_parts import Poured, log_as_poured, planned_logs
from production.models import CoolingDevice, CoolingRecord, Membership, RunRecord
from production.selectors.plans import plan_content
from production.services.cooling_heat import event_of, hot_fact_of
from production.services.cooling_rows import cooling_refresh
from production.services.coolings import Opening, cooling_row, iso, run_locked
from production.services.floor_answers import Answer, answer_of
from production.services.records import Draft, entries_append

_DRAWS = ("first", "second", "reduction")


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
    whole = _whole(by, run, draw, draft.content)
    opening = Opening(
        subject=draft.subject,
        draw=draw,
        device=device,
        group=group,
        attempt=1,
        rule=law.code if whole is None else whole.rule,
        sheet=_sheet_by_hand(run, draw, device, draft, whole),
        opened_at=draft.happened_at,
        hot_fact_at=hot_fact_of(run, law, draft.happened_at) if whole is None else whole.hot_fact_at,
        event_at=event_of(law, draft.happened_at) if whole is None else whole.event_at,
    )
    draft.content.update(
        {"rule": opening.rule, "hot_fact_at": iso(opening.hot_fact_at), "event_at": iso(opening.event_at)}
    )
    entry = entries_append(by=by, drafts=[draft], now=now).entries[0]
    cooling_refresh(cooling_row(run, opening))
    return answer_of(entry)


def _named(by: Membership, subject: str) -> tuple[RunRecord, str, CoolingDevice | None, int]:
    """Run, draw, device and group out of the name of a cooling."""
    parts = subject.split("/")
    if len(parts) != 6 or parts[0] != "cooling" or parts[3] not in _DRAWS or not _is_first_attempt(parts[5]):
        raise Http404("This is no name of a cooling.")
    run = run_locked(by, f"run/{parts[1]}/{parts[2]}")
    device = CoolingDevice.objects.filter(kitchen_id=by.kitchen_id, code=parts[4]).first()
    if device is None and parts[4] != "elsewhere":
        raise Http404("This kitchen has no such cooling device.")
    return run, parts[3], device, int(parts[5].split(".")[0])


def _is_first_attempt(text: str) -> bool:
    group, _, attempt = text.partition(".")
    return group.isdecimal() and 1 <= int(group) <= 999 and attempt == "1"


def _whole(by: Membership, run: RunRecord, draw: str, content: Mapping[str, Any]) -> CoolingRecord | None:
    """The group of which this is a part."""
    subject = str(content.get("parted_from", ""))
    if not subject:
        return None
    found = CoolingRecord.objects.filter(kitchen_id=by.kitchen_id, run=run, draw=draw, subject=subject).first()
    if found is None:
        raise Http404("This draw has no such cooling.")
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
