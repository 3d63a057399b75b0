"""The orders of a week as one grid for each day of dispatch."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime

from production.web.style import Style


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderCell:
    """One order line."""

    line: str
    outlet: str
    product: str
    rank: int  # the product's place in the catalogue
    containers: int
    dispatch_at: datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderRow:
    """An outlet's orders of a day, in the order of the day's products."""

    outlet: str
    times: str
    cells: tuple[tuple[OrderCell, ...], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderDay:
    """A day of dispatch."""

    label: str
    products: tuple[str, ...]
    rows: tuple[OrderRow, ...]
    totals: tuple[int, ...]


def order_days(*, cells: Sequence[OrderCell], style: Style) -> tuple[OrderDay, ...]:
    """The grids, day by day."""
    by_day: dict[date, list[OrderCell]] = defaultdict(list)
    for cell in cells:
        by_day[style.day_of(cell.dispatch_at)].append(cell)
    return tuple(_order_day(style.day(day), by_day[day], style) for day in sorted(by_day))


def _order_day(label: str, cells: list[OrderCell], style: Style) -> OrderDay:
    products = tuple(dict.fromkeys(cell.product for cell in sorted(cells, key=lambda cell: cell.rank)))
    outlets = sorted({cell.outlet for cell in cells})
    at = {
        (outlet, product): tuple(cell for cell in cells if (cell.outlet, cell.product) == (outlet, product))
        for outlet in outlets
        for product in products
    }
    rows = tuple(
        OrderRow(
            outlet=outlet,
            times=", ".join(sorted({style.clock(cell.dispatch_at) for cell in cells if cell.outlet == outlet})),
            cells=tuple(at[outlet, product] for product in products),
        )
        for outlet in outlets
    )
    totals = tuple(sum(cell.containers for row in rows for cell in row.cells[n]) for n in range(len(products)))
    return OrderDay(label=label, products=products, rows=rows, totals=totals)
