"""Checks of thermometers: held against ice water, boiling water or a reference, and what a failed one puts in doubt."""

from __future__ import annotations

from datetime import datetime
from decimal import Decimal
from typing import Any
from zoneinfo import ZoneInfo

from django.http import Http404

from production.domain.errors import BadQuantity, Conflict
from production.domain.limits import TempUnit
from production.domain.records.thermometers import (
    CheckVerdict,
    Method,
    allowed_off,
    check_due,
    check_target,
    judge_check,
)
from production.domain.records.typed import Typed, corrected_temp, typed_temp
from production.models import CareSettings, Entry, Membership, Thermometer, ThermometerCheck
from production.models.receiving import CHECK_METHODS
from production.selectors.access import Action, require
from production.selectors.care import care_settings
from production.selectors.thermometer_checks import Doubtful, doubtful_since, standing_checks
from production.services.deviations import deviation_open
from production.services.floor_answers import Answer, Question, answer_known, answer_of, question_content
from production.services.records import Draft, entries_append

CHECKED, TAKEN_BACK = "thermometer_checked", "thermometer_check_withdrawn"
_PRESSURES_HPA = (500.0, 1100.0)


def thermometer_check(by: Membership, draft: Draft, now: datetime) -> Answer:
    """Keep a check: `shown`, `method` (ice, boiling, reference), `reference` or `pressure_hpa` where needed, `as_left`.

    What was found decides on the readings before it, what it was left at on those to come.
    """
    require(by, Action.RECORD)
    row = _locked(by, draft.subject.removeprefix("thermometer/"))
    known = Entry.objects.filter(kitchen_id=by.kitchen_id, key=draft.key).first()
    if known is not None:
        return answer_known(known)
    if draft.corrects is not None:
        raise Conflict(
            "A check is not corrected: it is taken back, and done again.",
            code="check-not-corrected",
            remedy="Take the wrong one back with its reason, then check anew.",
        )
    check = _checked(by, row, draft, care_settings(kitchen=by.kitchen))
    draft.content.update(_told(check))
    if not check.passed or not check.fit:
        draft.content.update(question_content(_question(row, check)))
    check.entry = entries_append(by=by, drafts=[draft], now=now).entries[0]
    check.full_clean()
    check.save(force_insert=True)
    _due_set(row)
    if not check.passed:
        _doubt(by, check, now)
    return answer_of(check.entry)


def thermometer_check_withdraw(by: Membership, draft: Draft, now: datetime) -> Answer:
    """Take a check back that was typed wrongly; it stays, struck through, and counts for nothing."""
    require(by, Action.RECORD)
    row = _locked(by, draft.subject.removeprefix("thermometer/"))
    known = Entry.objects.filter(kitchen_id=by.kitchen_id, key=draft.key).first()
    if known is not None:
        return answer_known(known)
    standing = standing_checks().filter(thermometer=row, entry=draft.corrects)
    if draft.corrects is None or not standing.exists():
        raise Conflict(
            "This thermometer has no such check any more.",
            code="no-such-check",
            remedy="Look at its checks; somebody may have taken it back already.",
        )
    entry = entries_append(by=by, drafts=[draft], now=now).entries[0]
    _due_set(row)
    return answer_of(entry)


def _checked(by: Membership, row: Thermometer, draft: Draft, care: CareSettings) -> ThermometerCheck:
    content = draft.content
    unit: TempUnit = "F" if row.unit == "F" else "C"
    shown = typed_temp(str(content.get("shown", "")), unit=str(content.get("unit", "")) or unit)
    method = _method(content)
    target = check_target(
        method=method,
        unit=shown.unit,
        altitude_m=by.kitchen.altitude_m,
        pressure_hpa=_pressure(content),
        reference=_beside(content, "reference", shown.unit),
    )
    allowed = allowed_off(
        shown_unit=shown.unit,
        unit=unit,
        both_scales=row.both_scales,
        most_off_c=care.most_off_c,
        most_off_f=care.most_off_f,
    )
    found = corrected_temp(shown, correction=row.correction, correction_unit=unit)
    left = _beside(content, "as_left", shown.unit)
    verdict = judge_check(as_found=found, target=target, allowed=allowed, as_left=left)
    checked_on = draft.happened_at.astimezone(ZoneInfo(by.kitchen.time_zone)).date()
    return ThermometerCheck(
        kitchen=by.kitchen,
        thermometer=row,
        checked_at=draft.happened_at,
        method=method,
        unit=shown.unit,
        reference=f"{target:f}",
        as_found=f"{found:f}",
        allowed=f"{allowed.normalize():f}",
        as_left="" if left is None else f"{left:f}",
        due_on=check_due(checked_on=checked_on, every_days=care.check_every_days, fit=verdict.fit),
        **_judged(verdict),
    )


def _judged(verdict: CheckVerdict) -> dict[str, Any]:
    return {"off": f"{verdict.off:f}", "passed": verdict.passed, "fit": verdict.fit}


def _told(check: ThermometerCheck) -> dict[str, Any]:
    """What is kept with the entry beside what was typed: how it was judged."""
    return {
        "method": check.method,
        "target": f"{check.reference} {check.unit}",
        "counted": f"{check.as_found} {check.unit}",
        "off": check.off,
        "allowed": check.allowed,
        "passed": check.passed,
        "fit": check.fit,
        "due_on": check.due_on.isoformat() if check.due_on else "",
    }


def _method(content: dict[str, Any]) -> Method:
    said = str(content.get("method", ""))
    if not said and content.get("reference"):
        return "reference"
    if said not in CHECK_METHODS:
        raise BadQuantity(
            "Say what the thermometer was held in: ice water, boiling water, or beside a reference.",
            code="check-method",
            numbers={"method": said[:20]},
            remedy="Choose one of ice, boiling and reference.",
        )
    return "ice" if said == "ice" else "boiling" if said == "boiling" else "reference"


def _pressure(content: dict[str, Any]) -> float | None:
    text = str(content.get("pressure_hpa", "")).strip()
    if not text:
        return None
    low, high = _PRESSURES_HPA
    try:
        hpa = float(text)
    except ValueError:
        hpa = 0.0
    if not low <= hpa <= high:
        raise BadQuantity(
            f"{text[:20]!r} is no air pressure in hPa.",
            code="bad-pressure",
            numbers={"low_hpa": low, "high_hpa": high},
            remedy="Type the pressure at the place itself (not reduced to sea level), or leave it empty.",
        )
    return hpa


def _beside(content: dict[str, Any], name: str, unit: TempUnit) -> Decimal | None:
    """What was read beside what the thermometer showed, in the same unit."""
    text = str(content.get(name, "")).strip()
    if not text:
        return None
    found: Typed = typed_temp(text, unit=unit)
    if found.unit != unit:
        raise BadQuantity(
            f"{text[:20]!r} is in another unit than what the thermometer showed.",
            code="reading-unit",
            numbers={"unit": unit},
            remedy=f"Type it in °{unit}.",
        )
    return found.temp


def _question(row: Thermometer, check: ThermometerCheck) -> Question:
    off = f"{row.name} is {Decimal(check.off):+f} °{check.unit} off; allowed are {check.allowed}."
    if check.fit:
        return Question(
            code="thermometer-off",
            sentence=f"{off} It was set right, but what was read with it since the last good check is in doubt.",
            remedy="Look at the logs it was used in.",
        )
    return Question(
        code="thermometer-off",
        sentence=f"{off} What was read with it since the last good check is in doubt.",
        remedy="Take it out of use, or set it right and check it again; look at the logs it was used in.",
    )


def _due_set(row: Thermometer) -> None:
    """The newest check says until when the thermometer counts, in whatever order checks arrive."""
    newest = standing_checks().filter(thermometer=row).order_by("-checked_at", "-pk").first()
    Thermometer.objects.filter(pk=row.pk).update(check_due_on=newest.due_on if newest else None)


def _doubt(by: Membership, check: ThermometerCheck, now: datetime) -> None:
    """A failed check opens a deviation that names what is in doubt."""
    doubtful = doubtful_since(check=check, now=now)
    row = check.thermometer
    deviation_open(
        by=by,
        kind="thermometer",
        subject=f"thermometer/{row.code}",
        facts={
            "sentence": f"{row.name} was {Decimal(check.off):+f} °{check.unit} off. {_counted(doubtful)}",
            "entry": check.entry.number,
            "logs": [each.subject for each in doubtful.logs],
            "logs_in_doubt": [each.subject for each in doubtful.logs if each.is_in_doubt],
            "stores": sorted({each.subject for each in doubtful.stores}),
            "receipts": [each.subject for each in doubtful.deliveries],
            "lots": list(doubtful.lots_in_doubt),
        },
        key=f"deviation/{check.entry.number}",
        now=now,
    )


def _counted(doubtful: Doubtful) -> str:
    in_doubt = sum(each.is_in_doubt for each in doubtful.logs)
    return (
        f"Measured with it since the last good check: {len(doubtful.logs)} cooling logs, of which {in_doubt} would not "
        f"be shown good; {len(doubtful.stores)} store and {len(doubtful.deliveries)} delivery temperatures."
    )


def _locked(by: Membership, code: str) -> Thermometer:
    rows = Thermometer.objects.select_for_update().filter(kitchen_id=by.kitchen_id, code=code, retired=False)
    found = rows.first()
    if found is None:
        raise Http404("This kitchen has no such thermometer.")
    return found
