"""A signature stands under what a log said when it was set; an addition takes it away."""

from __future__ import annotations

from production.models import CoolingRecord, Review


def review_lost(*, cooling: CoolingRecord) -> None:
    """Something was added to a log: it waits for its review again, with the old signature still shown."""
    Review.objects.filter(cooling=cooling, state=Review.State.SIGNED).update(state=Review.State.LOST)
