"""What the kitchen's plan asks of thermometers, deliveries and stores."""

from __future__ import annotations

from datetime import timedelta

from production.domain.records.storage_temps import StoreLimit
from production.models import CareSettings, Kitchen


def care_settings(*, kitchen: Kitchen) -> CareSettings:
    """The kitchen's own limits; the defaults where nobody has set any."""
    return CareSettings.objects.filter(kitchen=kitchen).first() or CareSettings(kitchen=kitchen)


def store_limit(*, care: CareSettings, kind: str) -> StoreLimit:
    """What a store of this kind must keep."""
    if kind == "frozen":
        return StoreLimit(kind, care.store_frozen_c, timedelta(minutes=care.frozen_air_minutes))
    return StoreLimit(kind, care.store_chilled_c, timedelta(minutes=care.chilled_air_minutes))
