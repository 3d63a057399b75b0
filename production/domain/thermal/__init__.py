"""Heat and mass in a stock kitchen; importing this package registers every working of it."""

from production.domain.thermal import (
    balance,
    cooling,
    evaporation,
    extraction,
    food,
    heating,
    pots,
    properties,
    reduction,
    storage,
)

__all__ = [
    "balance",
    "cooling",
    "evaporation",
    "extraction",
    "food",
    "heating",
    "pots",
    "properties",
    "reduction",
    "storage",
]
