"""Need and pots into runs: how many of what and how big; and the other way round, room into runs."""

from production.domain.batches.content import (
    Batch,
    Filling,
    Peg,
    Portion,
    Sized,
    Sizing,
    StorageChoice,
    StorageMix,
    StorageShare,
    Unmakeable,
)
from production.domain.batches.fills import choose_fills
from production.domain.batches.floor import NOTHING_KNOWN, Floor, floor_of, least_lateness_h, least_runs
from production.domain.batches.parts import Quickest
from production.domain.batches.sizing import size_batches
from production.domain.batches.storage_first import container_storage_l, storage_first
from production.domain.batches.storage_mix import fill_stores

__all__ = [
    "NOTHING_KNOWN",
    "Batch",
    "Filling",
    "Floor",
    "Peg",
    "Portion",
    "Quickest",
    "Sized",
    "Sizing",
    "StorageChoice",
    "StorageMix",
    "StorageShare",
    "Unmakeable",
    "choose_fills",
    "container_storage_l",
    "fill_stores",
    "floor_of",
    "least_lateness_h",
    "least_runs",
    "size_batches",
    "storage_first",
]
