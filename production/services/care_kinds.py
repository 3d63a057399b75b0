"""Which service keeps what is measured in the stores, for the door of the floor."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from production.services.floor_answers import Handler
from production.services.storage_temps import READ, SET_ASIDE, storage_temp_exclude, storage_temp_take

CARE_KINDS: Mapping[str, Handler] = MappingProxyType({READ: storage_temp_take, SET_ASIDE: storage_temp_exclude})
