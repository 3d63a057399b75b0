"""The completed log of a cooling as frozen content, from its row, its readings and the entries of the book."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from datetime import timedelta
from decimal import Decimal
from types import MappingProxyType
from zoneinfo import ZoneInfo

from django.db.models import Q
from django.http import Http404

from production.domain.errors import Conflict
from production.domain.limits import CoolingRule, Stage, TempUnit, rule, to_celsius
from production.domain.records.logs import judge_log, log_digest_from_json
from production.domain.records.verdicts import StageVerdict, Verdict
from production.domain.sheets import CompletedCoolingLog, CoolingLog, content_from_json
from production.domain.sheets.content import LoggedAct, LoggedReading, LoggedStage, LoggedVerdict
from production.models import CoolingDevice, CoolingRecord, Entry, Membership, Reading, Review
from production.selectors.access import Action, require
from production.selectors.review_entries import ABOUT, about_words

LATE = timedelta(minutes=15)  # a reading that is entered later than this is marked (own choice)
VERDICT_KINDS = ("cooling_closed", "cooling_judged_again")
ACT_KINDS = ("ice_added", "stirred", "moved", "corrective_action", "reheated", "withdrawn")
_METHODS = {"ice_sink": "in ice water", "blast_chiller": "in a blast chiller"}
_ASKED: Mapping[str, str] = MappingProxyType(
    {
        "unit-too-cold": "unit in doubt",
        "unit-too-hot": "unit in doubt",
        "below-coolant": "colder than its coolant",
        "falls-too-fast": "fell faster than likely",
        "hotter-than-boiling": "hotter than boiling",
        "rises": "warmer than before",
        "before-opening": "measured before the opening",
        "same-time": "two readings of one moment",
        "before-the-last": "entered after a later one",
        "thermometer-unnamed": "no thermometer named",
        "thermometer-unknown": "thermometer not on the list",
        "thermometer-overdue": "check of the thermometer overdue",
    }
)


def completed_log(*, by: Membership, subject: str) -> CompletedCoolingLog:
    """The log of a cooling that was closed; an open one is not completed yet."""
    require(by, Action.SEE_RECORDS)
    row = _row(by, subject)
    if row.closed_at is None:
        raise Conflict(
            "This log is still open.",
            code="cooling-still-open",
            numbers={"readings": row.reading_count},
            remedy="Close it first; until then the page of the cooling shows it.",
        )
    entries = list(Entry.objects.filter(kitchen_id=by.kitchen_id, subject=subject).order_by("happened_at", "number"))
    sheet = content_from_json(row.sheet)
    if not isinstance(sheet, CoolingLog):
        raise Http404("This cooling has no log.")
    law = rule(row.rule)
    verdict = judge_log(law, log_digest_from_json(row.digest), closed=True, zone=ZoneInfo(row.kitchen.time_zone))
    numbers = [each.number for each in entries]
    signature = _signature(row)
    return CompletedCoolingLog(
        kind="completed_cooling_log",
        key=subject.removeprefix("cooling/"),
        heading=sheet.heading,
        run=row.run.code,
        draw=sheet.draw,
        formula=sheet.formula,
        products=sheet.products,
        lots=tuple(row.lots.order_by("code").values_list("code", flat=True)),
        group=row.group,
        attempt=row.attempt,
        device=sheet.device,
        method=_METHODS.get("" if row.device is None else row.device.kind, ""),
        vessel=sheet.vessel,
        vessels=sheet.vessels,
        litres=sheet.litres,
        fill_l=sheet.fill_l,
        depth_mm=sheet.depth_mm,
        ice_kg=sheet.ice_kg,
        rule=f"{law.title} ({law.code})",
        jurisdiction=law.jurisdiction,
        rule_source=law.source,
        clock_starts=sheet.clock_starts,
        opened_at=row.opened_at,
        hot_fact_at=row.hot_fact_at,
        event=law.event,
        event_at=row.event_at,
        closed_at=row.closed_at,
        verdict=row.verdict,
        stages=tuple(_stages(law, verdict)),
        readings=tuple(_readings(row)),
        acts=tuple(_acts(entries, _device_names(by))),
        verdicts=tuple(_verdicts(entries)),
        notes=verdict.notes,
        cautions=tuple(_cautions(row)),
        book_first=min(numbers, default=0),
        book_last=max(numbers, default=0),
        said=tuple(_said_about(entries, signature)),
        signed_by="" if signature is None else str(signature.content["printed_name"]),
    )


def _row(by: Membership, subject: str) -> CoolingRecord:
    rows = CoolingRecord.objects.filter(kitchen_id=by.kitchen_id).select_related("run", "device", "kitchen")
    found = rows.defer("run__sheet").filter(subject=subject).first()
    if found is None:
        raise Http404("This kitchen has no such cooling.")
    return found


def _stages(law: CoolingRule, verdict: Verdict) -> Iterable[LoggedStage]:
    for stage, told in zip(law.stages, verdict.stages, strict=True):
        yield _stage(law, stage, told)


def _stage(law: CoolingRule, stage: Stage, told: StageVerdict) -> LoggedStage:
    return LoggedStage(
        stage=stage.number,
        from_temp=stage.from_temp,
        to_temp=stage.to_temp,
        temp_unit=stage.unit,
        limit_min=stage.max_minutes,
        inclusive=not stage.strict,
        counted_from=_counted_from(law, stage),
        verdict=told.state.value,
        reasons=told.reasons,
        start_at=told.start_at,
        reached_at=told.reached_at,
        deadline_at=told.deadline_at,
        to_c=stage.to_c,
    )


def _counted_from(law: CoolingRule, stage: Stage) -> str:
    first = law.stages[0]
    if stage.clock == "from_event":
        return law.event
    if stage.clock in ("from_stage", "no_limit") and stage.number > 1:
        return f"the end of stage {stage.number - 1}"
    return "the draw" if first.from_temp is None else f"passing {first.from_temp} °{first.unit}"


# --- readings ---------------------------------------------------------------------------------------------------------


def _readings(row: CoolingRecord) -> Iterable[LoggedReading]:
    own = Q(cooling=row)
    parted = str(row.sheet.get("parted_from", ""))
    whole = Q(cooling__kitchen_id=row.kitchen_id, cooling__subject=parted, measured_at__lte=row.opened_at)
    rows = Reading.objects.filter(own | whole if parted else own).select_related("entry", "thermometer")
    later = _later(row.kitchen_id, [row.subject, parted] if parted else [row.subject])
    zone = ZoneInfo(row.kitchen.time_zone)
    for each in rows.order_by("measured_at", "pk"):
        yield _reading(row, each, later.get(each.entry_id, ()), zone)


def _later(kitchen_id: int, subjects: Sequence[str]) -> dict[int, list[Entry]]:
    """What was said later about readings, by the reading's entry."""
    found: dict[int, list[Entry]] = defaultdict(list)
    kinds = ("reading", "reading_excluded")
    corrections = Entry.objects.filter(kitchen_id=kitchen_id, subject__in=subjects, kind__in=kinds)
    for each in corrections.filter(corrects__isnull=False).order_by("number"):
        if each.corrects_id is not None:
            found[each.corrects_id].append(each)
    return found


def _reading(row: CoolingRecord, each: Reading, later: Sequence[Entry], zone: ZoneInfo) -> LoggedReading:
    entry, content = each.entry, each.entry.content
    unit: TempUnit = "F" if each.unit == "F" else "C"
    return LoggedReading(
        number=entry.number,
        measured_at=each.measured_at,
        entered_at=entry.made_at,
        shown=_shown(str(content.get("temp", each.temp)), each.unit),
        counted=f"{each.temp} °{each.unit}",
        temp_c=float(to_celsius(Decimal(each.temp), unit)),
        thermometer=str(content.get("thermometer", "")) if each.thermometer is None else each.thermometer.name,
        by=entry.by_name,
        from_probe=each.thermometer is not None and each.thermometer.kind == "probe",
        notes=tuple(_notes(row, each, later, zone)),
        struck=each.excluded,
        struck_why="; ".join(_said(say, zone) for say in later if "confirms" not in say.content),
    )


def _shown(typed: str, unit: str) -> str:
    """What was typed, with its unit, as it is set on paper."""
    text = typed.strip().replace("°", "").replace(",", ".")
    return f"{text.rstrip('CcFf ').strip()} °{unit}"


def _said(entry: Entry, zone: ZoneInfo) -> str:
    what = "entered again: " if entry.kind == "reading" else ""
    own = ", the same person" if entry.content.get("same_person") else ""
    return f"{what}{entry.reason} ({entry.by_name}{own}, {entry.made_at.astimezone(zone):%H:%M}, entry {entry.number})"


def _notes(row: CoolingRecord, each: Reading, later: Sequence[Entry], zone: ZoneInfo) -> Iterable[str]:
    content, measured_at = each.entry.content, each.measured_at
    if each.cooling_id != row.pk:
        yield "of the whole group, before it was parted"
    if content.get("added_after_closing"):
        yield "added after closing"
    if each.entry.made_at - measured_at > LATE:
        yield f"entered {round((each.entry.made_at - measured_at) / timedelta(minutes=1))} min after measuring"
    asked = [code for code in (each.question, *content.get("confirmed_against", ())) if code]
    yield from dict.fromkeys(_ASKED.get(code, code) for code in asked)
    if content.get("thermometer_is") in ("unknown", "overdue"):
        yield _ASKED[f"thermometer-{content['thermometer_is']}"]
    if content.get("confirmed") is True:
        yield "confirmed when it was entered"
    for say in later:
        if "confirms" in say.content:
            yield f"confirmed by {say.by_name}, {say.made_at.astimezone(zone):%H:%M} (entry {say.number})"
    if content.get("device_offset_s"):
        yield "clock of the tablet put right"


# --- what was done and decided ----------------------------------------------------------------------------------------


def _device_names(by: Membership) -> dict[str, str]:
    return dict(CoolingDevice.objects.filter(kitchen_id=by.kitchen_id).values_list("code", "name"))


def _acts(entries: Sequence[Entry], devices: Mapping[str, str]) -> Iterable[LoggedAct]:
    for each in entries:
        if each.kind in ACT_KINDS:
            words = _act_words(each, devices)
            yield LoggedAct(number=each.number, at=each.happened_at, by=each.by_name, words=words)


def _act_words(entry: Entry, devices: Mapping[str, str]) -> str:
    said = {name: str(value) for name, value in entry.content.items()}
    match entry.kind:
        case "ice_added":
            words = f"Ice added: {said.get('mass', 'amount not told')}, into the {said.get('into') or 'bath'}"
        case "stirred":
            words = "Stirred"
        case "moved":
            told = [f"{said[name]} {what}" for name, what in _MOVED.items() if said.get(name)]
            place = devices.get(said.get("device", ""), said.get("place", ""))
            words = ", ".join([f"Moved to {place}", *told])
        case "reheated":
            words = f"Re-heated to {said.get('temp')} {said.get('unit', '')}, held {said.get('seconds', '?')} s"
        case "withdrawn":
            words = "Taken back: what was entered before does not count"
        case _:
            words = f"Corrective action: {said.get('what', '')}"
    question = f" {said['question_says']}" if said.get("question_says") else ""
    return f"{words}. {entry.reason}{question}".strip().replace("..", ".")


_MOVED = {"vessels": "vessels", "litres": "in all", "depth": "deep"}


def _verdicts(entries: Sequence[Entry]) -> Iterable[LoggedVerdict]:
    """The verdicts in the order in which they were written down; a re-heat closes its attempt too."""
    for each in sorted(entries, key=lambda entry: entry.number):
        if each.kind in VERDICT_KINDS or "next_attempt" in each.content:
            reason = (each.reason,) if each.reason else ()
            yield LoggedVerdict(
                number=each.number,
                at=each.happened_at,
                by=each.by_name,
                verdict=str(each.content.get("stands", each.content["verdict"])),
                reasons=(*(str(line) for line in each.content["reasons"]), *reason),
                added_later=each.kind == "cooling_judged_again",
            )


def _cautions(row: CoolingRecord) -> Iterable[str]:
    yield "Local code and the kitchen's approved food-safety plan decide; this log only shows what was recorded."
    if row.verdict != "met":
        yield "Nothing of this group leaves before somebody responsible has decided in writing."


def _said_about(entries: Sequence[Entry], signature: Entry | None) -> Iterable[LoggedAct]:
    """What inspectors and the kitchen have said about the log, in the order in which it was written down."""
    for each in sorted(entries, key=lambda entry: entry.number):
        if each.kind in ABOUT:
            lost = each.kind == "verified" and each != signature
            words = about_words(each) + (" This signature does not stand any more." if lost else "")
            yield LoggedAct(number=each.number, at=each.made_at, by=each.by_name, words=words)


def _signature(row: CoolingRecord) -> Entry | None:
    """The signature that stands under the log."""
    review = Review.objects.filter(cooling=row, state=Review.State.SIGNED).select_related("signature").first()
    return None if review is None else review.signature
