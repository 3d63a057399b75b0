"""Which devices take a draw at once through the critical limits, for how long, and with how much ice."""

from production.domain.cooling_capacity.choices import Hot, choice_in_full, cooling_choices, largest_coolable_l
from production.domain.cooling_capacity.content import STEP_MIN, CoolingChoice, CoolingPart, LimitMargin
from production.domain.cooling_capacity.freezing import freeze_minutes
from production.domain.cooling_capacity.vessels import vessel_area_m2, vessel_depth_mm

__all__ = [
    "STEP_MIN",
    "CoolingChoice",
    "CoolingPart",
    "Hot",
    "LimitMargin",
    "choice_in_full",
    "cooling_choices",
    "freeze_minutes",
    "largest_coolable_l",
    "vessel_area_m2",
    "vessel_depth_mm",
]
