"""What a manager should know about the week besides what is late or missing."""

from __future__ import annotations

from collections.abc import Iterable

from production.domain.demand import Demand
from production.domain.kitchen import Product, Week
from production.domain.limits import rule

DATE_MARK_DAYS = 7  # cold-held food, day of preparation counted: FDA Food Code 3-501.17(A), read in adopted texts
FREEZER_C = -15.0  # practice is -18; a store warmer than this does not keep frozen food safely (common practice)


def cautions_of(week: Week, demand: Demand) -> tuple[str, ...]:
    """Sentences about stores, shelf lives and old lots that the local code or the kitchen's plan has to decide.

    Equation: a chilled store warmer than the rule's coldest limit; a freezer warmer than -15 degC; a chilled product
        kept longer than seven days; a lot that no remaining dispatch may take.
    Units: week, demand (records); returns sentences.
    Valid: a week that passed its reader.
    Errors: UnknownParameter for a rule that is not known.
    Source: date marking FDA Food Code 3-501.17(A), read in adopted texts; the rest common practice, no source.
    """
    return (*_warm_stores(week), *_long_lives(week), *_old_lots(week, demand))


def _warm_stores(week: Week) -> Iterable[str]:
    coldest = min(stage.to_c for stage in rule(week.kitchen.cooling_rule).stages if stage.to_c is not None)
    for store in week.stores:
        if store.kind == "chilled" and store.air_temp_c > coldest:
            yield (
                f"{store.name} stands at {store.air_temp_c:g} °C, warmer than the {coldest:g} °C that food is cooled "
                "to: it cannot keep it there."
            )
        if store.kind == "frozen" and store.air_temp_c > FREEZER_C:
            yield f"{store.name} stands at {store.air_temp_c:g} °C: too warm to freeze and keep frozen food."


def _long_lives(week: Week) -> Iterable[str]:
    for product in week.products:
        if _keeps_long(product):
            yield (
                f"{product.name} is given {product.shelf_life_days} days chilled; a date mark of more than "
                f"{DATE_MARK_DAYS} days needs a reason in the kitchen's food-safety plan."
            )


def _keeps_long(product: Product) -> bool:
    return product.storage == "chilled" and product.shelf_life_days > DATE_MARK_DAYS


def _old_lots(week: Week, demand: Demand) -> Iterable[str]:
    names = {product.code: product.name for product in week.products}
    for lot in week.lots:
        if lot.code in demand.too_old:
            yield (
                f"Lot {lot.code} ({lot.containers} × {names[lot.product]}, use-by {lot.use_by.isoformat()}): what no "
                "order takes before its use-by has to be discarded then."
            )
