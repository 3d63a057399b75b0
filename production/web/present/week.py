"""The week at a glance: what is ordered, what stock serves, what is planned, and what has to be decided now."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Literal

from production.domain.demand import last_dispatch_date, net_demand
from production.domain.kitchen import Week
from production.domain.plan import Plan
from production.drawing.week_strip import WeekDay, WeekStrip
from production.web.present.plan import LateRow, late_rows, unserved_groups, unserved_rows
from production.web.style import Style

Urgency = Literal["refusal", "caution", "info"]

_SOON = timedelta(hours=24)
_TOLD_ONE_BY_ONE = 3


@dataclass(frozen=True, slots=True, kw_only=True)
class ProductRow:
    """One product over the week, in containers."""

    name: str
    ordered: int
    par: int
    from_stock: int
    to_make: int
    planned: int | None  # None: there is no plan yet
    unserved: int  # containers of order lines that nobody makes

    @property
    def balance(self) -> int | None:
        return None if self.planned is None else self.planned - self.to_make

    @property
    def short(self) -> int:
        return max(0, -(self.balance or 0))

    @property
    def surplus(self) -> int:
        return max(0, self.balance or 0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Decision:
    """Something that somebody has to decide or do: what happened, what to do, where."""

    kind: Urgency
    head: str
    text: str
    todo: str = ""
    page: str = ""  # name of the page where it is done
    action: str = ""


def planned_containers(plan: Plan) -> Counter[str]:
    """Containers by product that the placed runs fill."""
    portions = (portion for run in plan.runs for portion in (*run.batch.first, *run.batch.reduction))
    return _summed((portion.product, portion.containers) for portion in portions)


def product_rows(*, week: Week, plan: Plan | None) -> tuple[ProductRow, ...]:
    """A row for each product that is ordered, kept in stock by par level, or planned."""
    demand = net_demand(week=week)
    lines = {line.code: line for line in week.order_lines}
    ordered = _summed((line.product, line.containers) for line in week.order_lines)
    par = _summed((level.product, level.containers) for level in week.par_levels)
    served = _summed((lines[serves.line].product, serves.containers) for serves in demand.served)
    to_make = _summed((need.product, need.containers) for need in demand.needs)
    planned = planned_containers(plan) if plan else None
    unserved = _summed((each.product, each.containers) for each in plan.unserved) if plan else _summed(())
    return tuple(
        ProductRow(
            name=product.name,
            ordered=ordered[product.code],
            par=par[product.code],
            from_stock=served[product.code],
            to_make=to_make[product.code],
            planned=None if planned is None else planned[product.code],
            unserved=unserved[product.code],
        )
        for product in week.products
        if ordered[product.code] or par[product.code] or (planned and planned[product.code])
    )


def week_drawing(*, week: Week, plan: Plan | None, style: Style) -> WeekStrip:
    """Litres by day: what leaves, what gets ready, and what is in stock when the day ends."""
    net_l = {product.code: product.net_l for product in week.products}
    leaves: defaultdict[int, float] = defaultdict(float)
    ready: defaultdict[int, float] = defaultdict(float)
    factor, unit = (1.0, "L") if style.units == "metric" else (1 / 0.946352946, "qt")
    for line in week.order_lines:
        leaves[_day_number(week, style, line.dispatch_at)] += line.containers * net_l[line.product]
    for run in plan.runs if plan else ():
        for draw in run.draws:
            litres = run.batch.first_l if draw.name == "first" else run.batch.reduction_l
            ready[_day_number(week, style, draw.ready_at)] += litres
    stock = sum(lot.containers * net_l[lot.product] for lot in week.lots)
    stock += sum(ready[n] for n in ready if n < 0) - sum(leaves[n] for n in leaves if n < 0)
    leaves_too = _too_old_l(week, net_l)
    stock -= sum(litres for day, litres in leaves_too if day < 0)
    days = []
    for n in range(week.days):
        stock -= sum(litres for day, litres in leaves_too if day == n)
        stock += ready[n] - leaves[n]
        label = f"{week.starts_on + timedelta(days=n):%a}"
        days.append(WeekDay(label=label, ordered=leaves[n] * factor, made=ready[n] * factor, stock_end=stock * factor))
    return WeekStrip(name="Orders, runs and stock by day", unit=unit, days=tuple(days))


def decisions(*, plan: Plan | None, stale: bool, style: Style, sees_purchasing: bool) -> tuple[Decision, ...]:
    """What waits for somebody, the gravest first."""
    if plan is None:
        return ()
    found: list[Decision] = []
    if stale:
        found.append(
            Decision(
                kind="caution",
                head="The plan is older than the orders",
                text="Orders, stock or set-up have changed since this plan was made.",
                todo="Plan this week again before anything is bought or loaded.",
            )
        )
    found += [
        Decision(
            kind="refusal",
            head=f"Not served: {each.head}",
            text=each.sentence,
            todo=each.remedy,
            page="plan",
            action="Open the plan",
        )
        for each in unserved_groups(unserved_rows(plan))
    ]
    found += _late(late_rows(plan=plan, style=style, href=str))
    found += _to_discard(plan, style)
    found += [
        Decision(kind="caution", head="Before you rely on this plan", text=each) for each in _other_cautions(plan)
    ]
    return (*found, *(_order_by_times(plan, style) if sees_purchasing else ()))


def _late(rows: tuple[LateRow, ...]) -> list[Decision]:
    """Each line that leaves late, or how many there are; the plan has them all."""
    if len(rows) > _TOLD_ONE_BY_ONE:
        head = f"Late: {len(rows)} order lines"
        text = f"{rows[0].line} is due first: {rows[0].sentence}"
        return [Decision(kind="caution", head=head, text=text, page="plan", action="Open the plan")]
    return [
        Decision(
            kind="caution",
            head=f"Late: {late.line}",
            text=late.sentence,
            todo=f"All of it is there {late.ready}.",
            page="plan",
            action="Open the plan",
        )
        for late in rows
    ]


def _order_by_times(plan: Plan, style: Style) -> tuple[Decision, ...]:
    found = []
    for order in plan.purchases.orders:
        left = order.order_by - style.now
        if left > _SOON or order.delivery_at < style.now:
            continue
        supplier = plan.week.get("suppliers", order.supplier)
        passed = left < timedelta(0)
        found.append(
            Decision(
                kind="caution" if passed else "info",
                head=f"{'Order time has passed' if passed else 'Order today'}: {supplier.name}",
                text=f"{style.money(order.total)} for delivery {style.when(order.delivery_at)}; "
                f"the order has to be there by {style.when(order.order_by)}.",
                todo="Call the supplier, or plan the week again from now." if passed else "",
                page="purchasing",
                action="Open the purchase lists",
            )
        )
    return tuple(found)


def _to_discard(plan: Plan, style: Style) -> Iterable[Decision]:
    """Lots of which something is left that no order can take before its use-by."""
    left = dict(plan.demand.left_over)
    for code in plan.demand.too_old:
        lot = plan.week.get("lots", code)
        use_by = style.day(lot.use_by)
        over = lot.use_by < style.day_of(style.now)
        yield Decision(
            kind="caution",
            head=f"Discard: {left[code]} × {plan.week.get('products', lot.product).name}",
            text=f"Lot {code}, use-by {use_by}: no order of this week takes it in time.",
            todo=f"Discard it {'now' if over else f'after {use_by}'}, and write down who did it and when.",
        )


def _other_cautions(plan: Plan) -> Iterable[str]:
    """The plan's cautions without those about lots that stand here by themselves."""
    return (each for each in plan.cautions if not any(f"Lot {code} " in each for code in plan.demand.too_old))


def _too_old_l(week: Week, net_l: Mapping[str, float]) -> tuple[tuple[int, float], ...]:
    """Litres of lots that nobody takes in time, on the last day of the week on which they might have left."""
    demand = net_demand(week=week)
    left = dict(demand.left_over)
    found = []
    for code in demand.too_old:
        lot = week.get("lots", code)
        life = week.get("products", lot.product).life_at_dispatch_days
        last = last_dispatch_date(use_by=lot.use_by, life_at_dispatch_days=life)
        found.append(((last - week.starts_on).days, left[code] * net_l[lot.product]))
    return tuple(found)


def _summed(pairs: Iterable[tuple[str, int]]) -> Counter[str]:
    total: Counter[str] = Counter()
    for code, amount in pairs:
        total[code] += amount
    return total


def _day_number(week: Week, style: Style, at: datetime) -> int:
    return (style.day_of(at) - week.starts_on).days
