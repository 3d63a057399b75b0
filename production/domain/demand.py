"""Orders against stock: which lots serve which lines, and what is still to be made."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

from production.domain.kitchen import OrderLine, Product, StockLot, Week

PAR_PREFIX = "par:"
PAR_WEIGHT = 0.1  # a par level waits behind every order (own definition)


@dataclass(frozen=True, slots=True, kw_only=True)
class StockServes:
    """Containers of a lot that are set aside for an order line."""

    line: str
    lot: str
    containers: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Need:
    """Containers that stock cannot serve and that must be made."""

    line: str  # order line, or "par:<product>"
    product: str
    containers: int
    of_containers: int  # what the whole line asks for
    dispatch_at: datetime
    weight: float

    @property
    def is_wish(self) -> bool:
        """Whether it fills a par level and nobody has ordered it."""
        return self.line.startswith(PAR_PREFIX)


@dataclass(frozen=True, slots=True, kw_only=True)
class Demand:
    """The week's needs after stock, and what becomes of the stock."""

    needs: tuple[Need, ...]
    served: tuple[StockServes, ...]
    left_over: tuple[tuple[str, int], ...]  # (lot, containers not set aside)
    too_old: tuple[str, ...]  # lots that no remaining line can take any more


def last_dispatch_date(*, use_by: date, life_at_dispatch_days: int) -> date:
    """The last day on which a lot may still leave the kitchen.

    Equation: use_by - (life_at_dispatch_days - 1): with one day of life wanted it may leave on its use-by day.
    Units: use_by, result [calendar day]; life_at_dispatch_days [day].
    Valid: life_at_dispatch_days >= 1.
    Errors: none.
    Source: own definition; date marking counts the day of preparation as day 1 (FDA Food Code 3-501.17(A)).
    """
    return use_by - timedelta(days=life_at_dispatch_days - 1)


def use_by_date(*, made_on: date, shelf_life_days: int) -> date:
    """The last day of use of something made on a day.

    Equation: made_on + shelf_life_days - 1.
    Units: made_on, result [calendar day]; shelf_life_days [day].
    Valid: shelf_life_days >= 1.
    Errors: none.
    Source: day of preparation is day 1: FDA Food Code 3-501.17(A), read in adopted state texts.
    """
    return made_on + timedelta(days=shelf_life_days - 1)


def first_cook_date(*, dispatch_on: date, product: Product) -> date:
    """The earliest day of cooking from which a product may still leave on a day.

    Equation: dispatch_on + (life_at_dispatch_days - 1) - (shelf_life_days - 1).
    Units: dispatch_on, result [calendar day]; product (record; shelf life and life at dispatch [day]).
    Valid: every product.
    Errors: none.
    Source: own definition, the inverse of last_dispatch_date after use_by_date.
    """
    return dispatch_on + timedelta(days=product.life_at_dispatch_days - product.shelf_life_days)


def net_demand(*, week: Week) -> Demand:
    """Serve the order lines from stock, first expired first out, and return what must be made.

    Equation: lines by dispatch time (then weight, then code); each takes from the lots of its product that may still
        leave on its day, earliest use-by first; par levels come last and ask for what left-over stock does not cover.
    Units: week (record); containers are counts.
    Valid: a week that passed its reader; shelf life is judged on the kitchen's local calendar day of dispatch.
    Errors: none.
    Source: FEFO is common practice, no source; date marking FDA Food Code 3-501.17(A).
    """
    zone = ZoneInfo(week.kitchen.time_zone)
    products = {product.code: product for product in week.products}
    left = {lot.code: lot.containers for lot in week.lots}
    lots = sorted(week.lots, key=lambda lot: (lot.use_by, lot.made_on, lot.code))
    served: list[StockServes] = []
    needs: list[Need] = []
    for line in sorted(week.order_lines, key=lambda line: (line.dispatch_at, -line.weight, line.code)):
        product = products[line.product]
        missing = _serve(line, product, lots, left, served, day_of=lambda at: at.astimezone(zone).date())
        if missing:
            needs.append(
                Need(
                    line=line.code,
                    product=line.product,
                    containers=missing,
                    of_containers=line.containers,
                    dispatch_at=line.dispatch_at,
                    weight=line.weight,
                )
            )
    end = datetime.combine(week.starts_on + timedelta(days=week.days), datetime.min.time(), zone)
    needs.extend(_par_needs(week, products, lots, left, end))
    last_day = end.date() - timedelta(days=1)
    too_old = tuple(
        lot.code
        for lot in lots
        if left[lot.code]
        and last_dispatch_date(use_by=lot.use_by, life_at_dispatch_days=products[lot.product].life_at_dispatch_days)
        < last_day
    )
    return Demand(
        needs=tuple(needs),
        served=tuple(served),
        left_over=tuple((code, n) for code, n in left.items() if n),
        too_old=too_old,
    )


def _serve(
    line: OrderLine,
    product: Product,
    lots: list[StockLot],
    left: dict[str, int],
    served: list[StockServes],
    day_of: Callable[[datetime], date],
) -> int:
    missing = line.containers
    for lot in lots:
        if not missing:
            break
        may_leave = last_dispatch_date(use_by=lot.use_by, life_at_dispatch_days=product.life_at_dispatch_days)
        if lot.product != line.product or not left[lot.code] or day_of(line.dispatch_at) > may_leave:
            continue
        taken = min(missing, left[lot.code])
        left[lot.code] -= taken
        missing -= taken
        served.append(StockServes(line=line.code, lot=lot.code, containers=taken))
    return missing


def _par_needs(
    week: Week, products: dict[str, Product], lots: list[StockLot], left: dict[str, int], end: datetime
) -> list[Need]:
    needs = []
    for par in week.par_levels:
        life = products[par.product].life_at_dispatch_days
        usable = sum(
            left[lot.code]
            for lot in lots
            if lot.product == par.product
            and last_dispatch_date(use_by=lot.use_by, life_at_dispatch_days=life) >= end.date()
        )
        if usable < par.containers:
            needs.append(
                Need(
                    line=f"{PAR_PREFIX}{par.product}",
                    product=par.product,
                    containers=par.containers - usable,
                    of_containers=par.containers,
                    dispatch_at=end,
                    weight=PAR_WEIGHT,
                )
            )
    return needs
