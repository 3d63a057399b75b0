"""The purchase list of a supplier's delivery."""

from __future__ import annotations

from zoneinfo import ZoneInfo

from production.domain.plan import Plan
from production.domain.sheets.content import PurchaseLine, PurchaseList
from production.domain.sheets.page import heading_of


def purchase_lists(plan: Plan) -> tuple[PurchaseList, ...]:
    """One list for each supplier and delivery of a plan.

    Equation: the plan's purchase orders with names in place of codes.
    Units: plan (record); masses in kg, money in the kitchen's currency.
    Valid: every plan.
    Errors: none.
    Source: own definition.
    """
    week = plan.week
    names = {each.code: each.name for each in week.ingredients}
    suppliers = {each.code: each for each in week.suppliers}
    return tuple(
        PurchaseList(
            kind="purchase_list",
            key=f"{order.supplier}-{order.delivery_at.astimezone(ZoneInfo(week.kitchen.time_zone)):%Y-%m-%d}",
            heading=heading_of(plan),
            supplier=suppliers[order.supplier].name,
            contact=suppliers[order.supplier].contact,
            order_by=order.order_by,
            delivery_at=order.delivery_at,
            currency=week.kitchen.currency,
            lines=tuple(
                PurchaseLine(
                    ingredient=names[item.ingredient],
                    packs=item.packs,
                    pack_kg=item.pack_kg,
                    mass_kg=item.mass_kg,
                    needed_kg=item.needed_kg,
                    price=item.price,
                    cost=item.cost,
                    needed_by=item.needed_at,
                    for_runs=item.runs,
                )
                for item in order.items
            ),
            total=order.total,
        )
        for order in plan.purchases.orders
    )
