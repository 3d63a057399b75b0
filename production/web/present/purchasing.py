"""Purchase lists as a page shows them."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import timedelta
from urllib.parse import urlencode

from production.domain.sheets import PurchaseList
from production.drawing.palette import Meaning
from production.web.style import Amount, Style, duration_text, minutes_between

_SOON = timedelta(hours=24)


@dataclass(frozen=True, slots=True, kw_only=True)
class ListLine:
    """Packs of one ingredient."""

    ingredient: str
    packs: int
    pack: Amount
    bought: Amount
    needed: Amount
    price: str
    cost: str
    needed_by: str
    runs: str
    receive: str  # what the page of deliveries is opened with when it comes


@dataclass(frozen=True, slots=True, kw_only=True)
class SupplierList:
    """What one supplier brings in one delivery."""

    supplier: str
    contact: str
    order_by: str
    order_meaning: Meaning
    order_words: str
    delivery: str
    lines: tuple[ListLine, ...]
    total: str


def supplier_lists(*, lists: Iterable[PurchaseList], style: Style) -> tuple[SupplierList, ...]:
    """The lists, the one that has to be ordered first at the top."""
    return tuple(_supplier_list(each, style) for each in sorted(lists, key=lambda each: (each.order_by, each.key)))


def _supplier_list(content: PurchaseList, style: Style) -> SupplierList:
    left_min = minutes_between(style.now, content.order_by)
    meaning: Meaning = "past" if left_min < 0 else "near" if timedelta(minutes=left_min) < _SOON else "within"
    words = f"{duration_text(left_min)} left" if left_min >= 0 else "order time has passed"
    return SupplierList(
        supplier=content.supplier,
        contact=content.contact,
        order_by=style.when(content.order_by),
        order_meaning=meaning,
        order_words=words,
        delivery=style.when(content.delivery_at),
        lines=tuple(
            ListLine(
                ingredient=line.ingredient,
                packs=line.packs,
                pack=style.amount(line.pack_kg, "kg"),
                bought=style.amount(line.mass_kg, "kg"),
                needed=style.amount(line.needed_kg, "kg"),
                price=f"{line.price:,.2f}",
                cost=f"{line.cost:,.2f}",
                needed_by=style.when(line.needed_by),
                runs=", ".join(line.for_runs),
                receive=urlencode(
                    {
                        "supplier": content.supplier,
                        "ingredient": line.ingredient,
                        "packs": line.packs,
                        "mass": style.amount(line.mass_kg, "kg").text,
                        "purchase_list": content.key,
                    }
                ),
            )
            for line in content.lines
        ),
        total=style.money(content.total),
    )
