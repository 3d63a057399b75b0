"""The kitchen's thermometers, and where its probes stand."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from production.models import Entry, Membership, Thermometer
from production.selectors.access import Action, require


@dataclass(frozen=True, slots=True, kw_only=True)
class ThermometerNow:
    """A thermometer of the list, and how its check stands."""

    code: str
    name: str
    kind: str
    unit: str
    both_scales: bool
    correction: Decimal
    check_due_on: date | None
    is_overdue: bool
    stands_in: str  # name of the cooling, for probes


def thermometers_now(*, by: Membership, today: date) -> tuple[ThermometerNow, ...]:
    """All thermometers in use, in the order of the list."""
    require(by, Action.SEE_RECORDS)
    rows = Thermometer.objects.filter(kitchen_id=by.kitchen_id, retired=False)
    stands = _stands(by, [each.code for each in rows if each.kind == Thermometer.Kind.PROBE])
    return tuple(
        ThermometerNow(
            code=each.code,
            name=each.name,
            kind=each.kind,
            unit=each.unit,
            both_scales=each.both_scales,
            correction=each.correction,
            check_due_on=each.check_due_on,
            is_overdue=each.check_due_on is None or each.check_due_on < today,
            stands_in=stands.get(each.code, ""),
        )
        for each in rows
    )


def _stands(by: Membership, codes: list[str]) -> dict[str, str]:
    entries = Entry.objects.filter(
        kitchen_id=by.kitchen_id,
        kind="probe_placed",
        subject__in=[f"thermometer/{code}" for code in codes],
        corrections=None,
    )
    told = entries.order_by("happened_at", "number").values_list("subject", "content")
    return {subject.removeprefix("thermometer/"): str(content.get("cooling", "")) for subject, content in told}
