"""Need and pots into runs: how many of what and how big; and the other way round, room into runs."""

from production.domain.batches.content import Batch, Filling, Peg, Portion, Sized, Sizing, StorageChoice, Unmakeable
from production.domain.batches.fills import choose_fills
from production.domain.batches.sizing import size_batches
from production.domain.batches.storage_first import container_storage_l, storage_first

__all__ = [
    "Batch",
    "Filling",
    "Peg",
    "Portion",
    "Sized",
    "Sizing",
    "StorageChoice",
    "Unmakeable",
    "choose_fills",
    "container_storage_l",
    "size_batches",
    "storage_first",
]
