"""What cools and what has cooled, from digest and thinned curve: thousands of readings are never read for a page."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

from django.db.models import OuterRef, QuerySet, Subquery
from django.http import Http404

from production.domain.limits import rule
from production.domain.parameters import DEFAULT_PARAMETERS
from production.domain.records.actions import Reheats
from production.domain.records.fitting import Surroundings, surroundings_of
from production.domain.records.logs import log_digest_from_json
from production.domain.records.questions import SIDES
from production.domain.records.standing import Act, CoolingNow, OpenQuestion, advice_on, points_since, standing
from production.domain.records.typed import typed_temp
from production.domain.records.verdicts import State, worst
from production.models import CoolingDevice, CoolingRecord, Entry, Membership, Reading, SafetyPlan
from production.selectors.access import Action, require
from production.selectors.cooling_places import Stands, stand_of, stands_in

ACTS = ("ice_added", "stirred", "moved", "corrective_action", "reheated", "withdrawn")
ASKED = tuple(code for code, side in SIDES.items() if side != "none")
CHILLER_AIR_C = 0.0  # of a chiller whose air temperature nobody has entered (own choice, on the warm side)


@dataclass(frozen=True, slots=True)
class _Beside:
    """What belongs to the coolings of a page, by the cooling's name."""

    devices: Mapping[str, CoolingDevice]
    acts: Mapping[str, list[Act]]
    questions: Mapping[int, list[OpenQuestion]]
    reheats: Reheats
    stands: Stands


def coolings_now(*, by: Membership, now: datetime) -> tuple[CoolingNow, ...]:
    """Everything that cools in a kitchen, the least time left first; a constant number of queries."""
    require(by, Action.SEE_RECORDS)
    rows = list(_rows(by).filter(closed_at=None))
    beside = _beside(by, rows)
    found = [_now(row, beside, now) for row in rows]
    return tuple(sorted(found, key=lambda each: (_urgency(each, now), each.subject)))


def cooling_now(*, by: Membership, subject: str, now: datetime) -> CoolingNow:
    """One cooling, open or closed."""
    require(by, Action.SEE_RECORDS)
    row = _rows(by).filter(subject=subject).first()
    if row is None:
        raise Http404("This kitchen has no such cooling.")
    return _now(row, _beside(by, [row]), now)


def coolings_list(*, by: Membership, closed: bool | None = None, verdict: str = "") -> QuerySet[CoolingRecord]:
    """Coolings for a list, newest first, without what is drawn."""
    require(by, Action.SEE_RECORDS)
    rows = CoolingRecord.objects.filter(kitchen_id=by.kitchen_id).select_related("run", "device", "week")
    if closed is not None:
        rows = rows.filter(closed_at__isnull=not closed)
    if verdict:
        rows = rows.filter(verdict=verdict)
    return rows.defer("digest", "curve").order_by("-opened_at", "-pk")


def verdict_of_draw(*, coolings: Iterable[CoolingRecord]) -> State:
    """The worst of the last attempts of all groups; what still cools is running.

    An attempt that ended with a re-heat in time is followed by the next one, and does not count any more.
    """
    last: dict[tuple[int, str, int | None, int], CoolingRecord] = {}
    for each in sorted(coolings, key=lambda row: row.attempt):
        last[each.run_id, each.draw, each.device_id, each.group] = each
    return worst(State(each.verdict) if each.verdict else State.RUNNING for each in last.values())


def _rows(by: Membership) -> QuerySet[CoolingRecord]:
    newest = Reading.objects.filter(cooling=OuterRef("pk")).order_by("-measured_at", "-pk")
    return (
        CoolingRecord.objects.filter(kitchen_id=by.kitchen_id)
        .select_related("run", "device", "kitchen")
        .defer("run__sheet")
        .annotate(thermometer_last=Subquery(newest.values("thermometer__code")[:1]))
    )


def _beside(by: Membership, rows: Sequence[CoolingRecord]) -> _Beside:
    subjects = [row.subject for row in rows]
    plan = SafetyPlan.objects.filter(kitchen_id=by.kitchen_id).values_list("reheats_allowed", flat=True).first()
    most = 1 if plan is None else plan
    acts = _acts(by, subjects)
    devices = {each.code: each for each in _devices(by)}
    return _Beside(
        devices=devices,
        acts=acts,
        questions=_questions(rows),
        reheats=Reheats(allowed=most > 0, most=most),
        stands=stands_in(devices.values(), [(row, acts.get(row.subject, ())) for row in rows]),
    )


def _devices(by: Membership) -> QuerySet[CoolingDevice]:
    return CoolingDevice.objects.filter(kitchen_id=by.kitchen_id, retired=False).select_related("vessel")


def _acts(by: Membership, subjects: Sequence[str]) -> dict[str, list[Act]]:
    """What was done, in the order of time; what was taken back is left out."""
    entries = Entry.objects.filter(
        kitchen_id=by.kitchen_id, subject__in=subjects, kind__in=ACTS, corrections=None
    ).exclude(kind="withdrawn")
    found: dict[str, list[Act]] = defaultdict(list)
    for each in entries.order_by("happened_at", "number"):
        found[each.subject].append(
            Act(
                kind=each.kind,
                number=each.number,
                key=each.key,
                at=each.happened_at,
                by=each.by_name,
                content=each.content,
            )
        )
    return found


def _questions(rows: Sequence[CoolingRecord]) -> dict[int, list[OpenQuestion]]:
    """Readings that are asked about and that nobody has answered for."""
    asked = Reading.objects.filter(
        cooling__in=[row.pk for row in rows], excluded=False, confirmed=False, question__in=ASKED
    ).select_related("entry", "thermometer")
    found: dict[int, list[OpenQuestion]] = defaultdict(list)
    for each in asked:
        said = each.entry.content
        shown = typed_temp(str(said.get("temp", each.temp)), unit=each.unit)  # corrected again when it is answered
        found[each.cooling_id].append(
            OpenQuestion(
                key=each.entry.key,
                number=each.entry.number,
                temp=f"{shown.temp:f}",
                unit=shown.unit,
                thermometer="" if each.thermometer is None else each.thermometer.code,
                measured_at=each.measured_at,
                code=each.question,
                sentence=str(said.get("question_says", "")) or _ASKED_LATER,
                remedy=str(said.get("question_remedy", "")) or "Confirm it, or set it aside with a reason.",
            )
        )
    return found


_ASKED_LATER = "Beside the readings that came in since, this one is unlikely."


def _now(row: CoolingRecord, beside: _Beside, now: datetime) -> CoolingNow:
    law, sheet = rule(row.rule), row.sheet
    acts = tuple(beside.acts.get(row.subject, ()))
    moved = next((each for each in reversed(acts) if each.kind == "moved"), None)
    device = row.device if moved is None else beside.devices.get(str(moved.content.get("device", "")))
    moved_min = None if moved is None else (moved.at - row.opened_at).total_seconds() / 60.0
    stands = standing(
        law,
        log_digest_from_json(row.digest),
        now=now,
        closed=row.closed_at is not None,
        zone=ZoneInfo(row.kitchen.time_zone),
        opened_at=row.opened_at,
        points=points_since(row.curve, moved_min),
        surroundings=_surroundings(row, device),
        attempt=row.attempt,
        reheats=beside.reheats,
    )
    place = {} if moved is None else moved.content
    litres = _number(place.get("litres_l"), float(sheet["litres"]))
    vessels = _whole(place.get("vessels"), int(sheet["vessels"]))
    fill_l = float(sheet["fill_l"]) if moved is None else litres / max(vessels, 1)
    stand = (
        None
        if device is None
        else stand_of(beside.stands, row, device, litres=litres, fill_l=fill_l, acts=acts, now=now)
    )
    return CoolingNow(
        subject=row.subject,
        run=row.run.code,
        draw=str(sheet["draw"]),
        formula=str(sheet["formula"]),
        products=tuple(str(each["product"]) for each in sheet["products"]),
        device_code="" if device is None else device.code,
        device=_device_name(row, device, place),
        device_kind="" if device is None else device.kind,
        vessel=str(sheet["vessel"]),
        vessels=vessels,
        litres=litres,
        fill_l=fill_l,
        depth_mm=_number(place.get("depth_mm"), float(sheet["depth_mm"])),
        ice_kg=float(sheet["ice_kg"]) + sum(_number(each.content.get("mass_kg"), 0.0) for each in acts),
        group=row.group,
        attempt=row.attempt,
        opened_at=row.opened_at,
        closed_at=row.closed_at,
        kept_verdict=row.verdict,
        rule=law,
        verdict=stands.verdict,
        points=tuple((float(minute), float(temp_c)) for minute, temp_c in row.curve),
        expected=tuple((float(each["minute"]), float(each["temp_c"])) for each in sheet["expected"]),
        moved_min=moved_min,
        reading_count=row.reading_count,
        thermometer=getattr(row, "thermometer_last", None) or "",
        forecast=stands.forecast,
        chances=stands.chances,
        advice=()
        if stand is None
        else advice_on(law, stands, stand, opened_at=row.opened_at, now=now, parameters=DEFAULT_PARAMETERS),
        actions=stands.actions,
        questions=tuple(beside.questions.get(row.pk, ())),
        acts=acts,
    )


def _urgency(cooling: CoolingNow, now: datetime) -> float:
    """Minutes left; those that nobody has measured and lost ones first, those whose clock has not started last."""
    if cooling.is_unread:
        return -2e9
    if cooling.verdict.state in (State.BREACHED, State.NOT_SHOWN):
        return -1e9
    left = cooling.minutes_left(now)
    return 1e9 if left is None else left


def _device_name(row: CoolingRecord, device: CoolingDevice | None, place: Mapping[str, Any]) -> str:
    if device is not None:
        return device.name
    return str(place.get("place", "")) or str(row.sheet["device"])


def _surroundings(row: CoolingRecord, device: CoolingDevice | None) -> Surroundings:
    if device is None:
        return surroundings_of(place="room", parameters=DEFAULT_PARAMETERS, air_c=row.kitchen.room_temp_c)
    if device.kind == "ice_sink":
        return surroundings_of(place="ice_sink", parameters=DEFAULT_PARAMETERS)
    air_c = CHILLER_AIR_C if device.air_temp_c is None else device.air_temp_c
    return surroundings_of(place="blast_chiller", parameters=DEFAULT_PARAMETERS, air_c=air_c)


def _number(said: object, otherwise: float) -> float:
    return float(str(said)) if said not in (None, "") else otherwise


def _whole(said: object, otherwise: int) -> int:
    text = str(said or "")
    return int(text) if text.isdecimal() else otherwise
