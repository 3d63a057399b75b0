"""What has to be bought: through trim yields, net of bank and shelf, rounded to packs, per delivery."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from zoneinfo import ZoneInfo

from production.domain.kitchen import Offer, Week
from production.domain.quantities import round_money, round_up_to_packs
from production.domain.sourcing import Delivery, Portioned, best_offer, latest_order_for


@dataclass(frozen=True, slots=True, kw_only=True)
class PurchaseItem:
    """Packs of one ingredient in one delivery."""

    offer: str
    ingredient: str
    packs: int
    pack_kg: float
    mass_kg: float  # packs x pack
    needed_kg: float  # as bought, trim included
    price: Decimal
    cost: Decimal
    needed_at: datetime
    runs: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class PurchaseOrder:
    """Everything from one supplier in one delivery."""

    supplier: str
    order_by: datetime
    delivery_at: datetime
    items: tuple[PurchaseItem, ...]
    total: Decimal


@dataclass(frozen=True, slots=True, kw_only=True)
class Purchases:
    """The week's purchases."""

    orders: tuple[PurchaseOrder, ...]
    total: Decimal


def trimmed_to_bought_kg(*, ready_kg: float, trim_yield_share: float) -> float:
    """Mass to buy so that a mass is ready for the pot after trimming.

    Equation: bought = ready / trim_yield.
    Units: ready_kg [kg], trim_yield_share [share]; returns [kg].
    Valid: 0 < trim_yield_share <= 1.
    Errors: none.
    Source: as-purchased and edible-portion quantities, common practice, no source.
    """
    return ready_kg / trim_yield_share


def build_purchases(*, week: Week, sourced: tuple[Portioned, ...], starts: Mapping[str, datetime]) -> Purchases:
    """Turn what the planned runs must buy into orders per supplier and delivery.

    Equation: needs of an ingredient are gathered per delivery (the last one that arrives before the run starts,
        cheapest offer that can make it); packs = ceil((sum - left from earlier packs) / pack); cost = packs x price.
    Units: week, sourced (records; masses [kg]); starts [instant] of each run; costs in the kitchen's currency.
    Valid: runs that the schedule placed; runs without a start are left out.
    Errors: PotwrightError `no-delivery-day` when a supplier has no delivery weekday.
    Source: own definition; rounding up to packs is common practice, no source.
    """
    zone = ZoneInfo(week.kitchen.time_zone)
    suppliers = {each.code: each for each in week.suppliers}
    trim = {each.code: each.trim_yield_share for each in week.ingredients}
    gathered: dict[tuple[str, datetime], list[tuple[Portioned, datetime]]] = defaultdict(list)
    offers: dict[str, Offer] = {}
    deliveries: dict[tuple[str, datetime], Delivery] = {}
    for part in sourced:
        start = starts.get(part.run)
        found = best_offer(week=week, ingredient=part.ingredient, needed_at=start) if start else None
        if start is None or found is None or part.to_buy_kg <= 0:
            continue
        offer = found[0]
        delivery = latest_order_for(
            supplier=suppliers[offer.supplier], needed_at=start, not_before=week.plan_from, zone=zone
        )
        key = (offer.code, delivery.at)
        offers[offer.code] = offer
        deliveries[(offer.supplier, delivery.at)] = delivery
        gathered[key].append((part, start))
    by_order: dict[tuple[str, datetime], list[PurchaseItem]] = defaultdict(list)
    over: dict[str, float] = defaultdict(float)
    for (code, at), parts in sorted(gathered.items(), key=lambda pair: (pair[0][1], pair[0][0])):
        offer = offers[code]
        needed = sum(
            trimmed_to_bought_kg(ready_kg=part.to_buy_kg, trim_yield_share=trim[part.ingredient]) for part, _ in parts
        )
        packs = round_up_to_packs(needed=max(0.0, needed - over[offer.ingredient]), pack=offer.pack_kg)
        over[offer.ingredient] += packs * offer.pack_kg - needed
        if not packs:
            continue
        by_order[(offer.supplier, at)].append(
            PurchaseItem(
                offer=code,
                ingredient=offer.ingredient,
                packs=packs,
                pack_kg=offer.pack_kg,
                mass_kg=packs * offer.pack_kg,
                needed_kg=needed,
                price=offer.price,
                cost=round_money(offer.price * packs),
                needed_at=min(start for _, start in parts),
                runs=tuple(dict.fromkeys(part.run for part, _ in parts)),
            )
        )
    orders = tuple(
        PurchaseOrder(
            supplier=supplier,
            order_by=deliveries[(supplier, at)].order_by,
            delivery_at=at,
            items=tuple(sorted(members, key=lambda item: item.ingredient)),
            total=sum((item.cost for item in members), Decimal(0)),
        )
        for (supplier, at), members in sorted(by_order.items(), key=lambda pair: (pair[0][1], pair[0][0]))
    )
    return Purchases(orders=orders, total=sum((order.total for order in orders), Decimal(0)))
