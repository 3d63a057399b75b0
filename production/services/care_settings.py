"""The kitchen's own limits for thermometers, deliveries and stores; they decide over safety, so changes are written."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from django.db import transaction

from production.models import CareSettings, Membership
from production.selectors.access import Action, require
from production.services.records import Draft, entries_append

CHANGED, SUBJECT = "care_settings_changed", "settings/care"
FIELDS = tuple(each.name for each in CareSettings._meta.concrete_fields if each.name not in ("id", "kitchen"))  # noqa: SLF001


@transaction.atomic
def care_settings_set(*, by: Membership, care: CareSettings, key: str, now: datetime) -> CareSettings:
    """Keep the limits as they are given; what they were before stands beside them in the book."""
    require(by, Action.SET_UP)
    before = CareSettings.objects.select_for_update().filter(kitchen_id=by.kitchen_id).first()
    care.kitchen_id = by.kitchen_id
    care.pk = None if before is None else before.pk
    care.full_clean()
    care.save()
    content = {"now": _told(care), "before": _told(before or CareSettings())}
    draft = Draft(kind=CHANGED, subject=SUBJECT, content=content, happened_at=now, key=key)
    entries_append(by=by, drafts=[draft], now=now)
    return care


def _told(care: CareSettings) -> dict[str, Any]:
    return {name: str(getattr(care, name)) for name in FIELDS}
