"""Purchase lists, one page or more per supplier, and the same lines as a table for another program."""

from __future__ import annotations

import csv
import io
import unicodedata
from collections.abc import Sequence
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

from production.documents.words import Clock, Units, day_text, foot_words, issue_words, joined, money_text

if TYPE_CHECKING:
    from production.domain.sheets import Heading, PurchaseLine, PurchaseList

CSV_COLUMNS = (
    "supplier", "contact", "order_by", "delivery_at", "ingredient", "packs", "pack_kg", "mass_kg", "needed_kg",
    "price", "cost", "currency", "needed_by", "for_runs",
)  # fmt: skip


def purchase_list_view(bought: PurchaseList) -> dict[str, object]:
    """Everything the template needs, already said in the kitchen's units and time."""
    units = Units.of(bought.heading)
    clock = Clock.spanning(bought.heading.time_zone, bought.order_by, bought.order_by)
    return {
        "title": f"Purchase list: {bought.supplier}, delivery {clock.moment(bought.delivery_at)}",
        "heading": bought.heading,
        "week": day_text(bought.heading.week),
        "foot": foot_words(bought.heading),
        "issue": issue_words(bought.heading),
        "list": bought,
        "order_by": clock.moment(bought.order_by),
        "delivery": clock.moment(bought.delivery_at),
        "total": money_text(bought.total, bought.currency),
        "lines": [_line(line, bought.currency, units, clock) for line in bought.lines],
    }


def nothing_to_buy_view(heading: Heading) -> dict[str, object]:
    """What is said when stock covers everything."""
    return {
        "title": "Purchase list: nothing to buy",
        "heading": heading,
        "week": day_text(heading.week),
        "foot": foot_words(heading),
        "issue": issue_words(heading),
    }


def _line(line: PurchaseLine, currency: str, units: Units, clock: Clock) -> dict[str, object]:
    return {
        "ingredient": line.ingredient,
        "packs": str(line.packs),
        "pack": units.text(line.pack_kg, "kg"),
        "mass": units.text(line.mass_kg, "kg"),
        "needed": units.text(line.needed_kg, "kg"),
        "left_over": units.text(line.needed_kg - line.mass_kg, "kg") if line.needed_kg > line.mass_kg else "",
        "price": money_text(line.price, currency),
        "cost": money_text(line.cost, currency),
        "needed_by": clock.moment(line.needed_by),
        "runs": joined(line.for_runs),
    }


def purchase_csv(lists: Sequence[PurchaseList]) -> str:
    """One row per line: kilograms, decimal points, local times with their offset (RFC 4180, UTF-8)."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(CSV_COLUMNS)
    for bought in lists:
        zone = ZoneInfo(bought.heading.time_zone)
        for line in bought.lines:
            writer.writerow(
                [
                    _plain(bought.supplier),
                    _plain(bought.contact),
                    bought.order_by.astimezone(zone).isoformat(timespec="minutes"),
                    bought.delivery_at.astimezone(zone).isoformat(timespec="minutes"),
                    _plain(line.ingredient),
                    line.packs,
                    f"{line.pack_kg:.3f}",
                    f"{line.mass_kg:.3f}",
                    f"{line.needed_kg:.3f}",
                    f"{line.price:.2f}",
                    f"{line.cost:.2f}",
                    _plain(bought.currency),
                    line.needed_by.astimezone(zone).isoformat(timespec="minutes"),
                    _plain(" ".join(line.for_runs)),
                ]
            )
    return out.getvalue()


def _plain(text: str) -> str:
    """A name that a spreadsheet would run as a formula becomes text; signs that nobody sees do not hide one."""
    seen = "".join(sign for sign in text if unicodedata.category(sign) != "Cf")
    return f"'{text}" if seen[:1] in ("=", "+", "-", "@", "\t", "\r") else text
