"""Which service keeps which entry of a cooling or a thermometer, for the door of the floor."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from production.services.cooling_acts import AMOUNTS, cooling_act
from production.services.cooling_by_hand import cooling_open_by_hand
from production.services.cooling_closing import cooling_close, cooling_reheat
from production.services.cooling_readings import EXCLUDED, READING, reading_add, reading_exclude
from production.services.coolings import OPENED
from production.services.floor_answers import Handler
from production.services.thermometer_checks import CHECKED, TAKEN_BACK, thermometer_check, thermometer_check_withdraw
from production.services.thermometers import PLACED, probe_place

COOLING_KINDS: Mapping[str, Handler] = MappingProxyType(
    {
        OPENED: cooling_open_by_hand,
        READING: reading_add,
        EXCLUDED: reading_exclude,
        **dict.fromkeys(AMOUNTS, cooling_act),
        "reheated": cooling_reheat,
        "cooling_closed": cooling_close,
        PLACED: probe_place,
        CHECKED: thermometer_check,
        TAKEN_BACK: thermometer_check_withdraw,
    }
)
