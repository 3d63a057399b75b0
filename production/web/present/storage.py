"""What the stores could still take."""

from __future__ import annotations

from dataclasses import dataclass

from production.domain.plan import Plan
from production.web.style import Amount, Style


@dataclass(frozen=True, slots=True, kw_only=True)
class ChoiceRow:
    """One product that would fit, alone."""

    product: str
    containers: int
    litres: Amount
    value: str
    value_per_l: str
    runs: str


@dataclass(frozen=True, slots=True, kw_only=True)
class StoreChoices:
    """A store and the products that would fit into its free room."""

    name: str
    kind: str
    volume: Amount
    usable: Amount
    air: Amount
    rows: tuple[ChoiceRow, ...]


def store_choices(*, plan: Plan, style: Style) -> tuple[StoreChoices, ...]:
    """Every store, dearest litre first; the rows of a store are alternatives, not a sum."""
    products = {each.code: each.name for each in plan.week.products}
    pots = {each.code: each.name for each in plan.week.pots}
    return tuple(
        StoreChoices(
            name=store.name,
            kind=store.kind,
            volume=style.amount(store.volume_l, "L"),
            usable=style.amount(store.volume_l * store.usable_share, "L"),
            air=style.amount(store.air_temp_c, "degC"),
            rows=tuple(
                ChoiceRow(
                    product=products[choice.product],
                    containers=choice.containers,
                    litres=style.amount(choice.litres, "L"),
                    value=style.money(choice.value),
                    value_per_l=style.money(choice.value_per_storage_l),
                    runs="; ".join(
                        f"{each.runs} × {pots[each.pot]}, {style.amount(each.litres, 'L').text}"
                        for each in choice.fillings
                    ),
                )
                for choice in plan.storage_choices
                if choice.store == store.code
            ),
        )
        for store in plan.week.stores
    )
