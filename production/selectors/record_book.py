"""How far a kitchen's book has come."""

from __future__ import annotations

from production.models import Membership, RecordBook
from production.selectors.access import Action, require


def book_size(*, by: Membership) -> int:
    """How many entries the book holds; two answers that are equal say that nothing was recorded in between."""
    require(by, Action.SEE_RECORDS)
    return RecordBook.objects.filter(kitchen_id=by.kitchen_id).values_list("size", flat=True).first() or 0
