"""The charge of one run in one pot: backwards from the litres wanted to solids, water, fill mark, times, yields."""

from production.domain.formula.charge import Again, Pouring, charge_run, least_reduction_l
from production.domain.formula.content import HAIR_L, Charge, ChargeItem, Draw, PotRange, Reduction
from production.domain.formula.heat import rounded_up_min
from production.domain.formula.pouring import pan_ranges
from production.domain.formula.ranges import pot_allowed, pot_ranges
from production.domain.formula.roles import fill_role
from production.domain.formula.weighed import WeighedCharge, charge_weighed

__all__ = [
    "HAIR_L",
    "Again",
    "Charge",
    "ChargeItem",
    "Draw",
    "PotRange",
    "Pouring",
    "Reduction",
    "WeighedCharge",
    "charge_run",
    "charge_weighed",
    "fill_role",
    "least_reduction_l",
    "pan_ranges",
    "pot_allowed",
    "pot_ranges",
    "rounded_up_min",
]
