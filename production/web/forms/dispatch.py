"""What was picked, as the page of dispatches sends it: pick-<line>-<lot>, and other lots typed by hand."""

from __future__ import annotations

from collections.abc import Mapping

from production.domain.errors import BadQuantity
from production.domain.records.lots import lot_code_read
from production.services.dispatch import Picked

MOST_FIELDS = 500


def picks_read(posted: Mapping[str, str]) -> dict[int, list[Picked]]:
    """Containers by order line; what is empty is nothing."""
    found: dict[int, list[Picked]] = {}
    for name, value in list(posted.items())[:MOST_FIELDS]:
        kind, _, rest = name.partition("-")
        line, _, lot = rest.partition("-")
        if kind == "pick" and line.isdecimal() and lot:
            found.setdefault(int(line), []).append(Picked(lot=lot, containers=_count(value)))
        elif kind == "other" and rest.isdecimal() and value.strip():
            count = _count(posted.get(f"count-{rest}", ""))
            found.setdefault(int(rest), []).append(Picked(lot=lot_code_read(value), containers=count))
    return found


def _count(value: str) -> int:
    text = value.strip()
    if not text:
        return 0
    if not text.isdecimal() or len(text) > 5:
        raise BadQuantity(
            f"{text[:20]!r} is no number of containers.",
            code="bad-count",
            remedy="Type a whole number, for instance 6.",
        )
    return int(text)
