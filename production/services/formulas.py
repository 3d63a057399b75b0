"""Formulas: another ingredient in a role makes a new version; what was cooked before keeps the old one."""

from __future__ import annotations

from dataclasses import replace

from django.db import transaction
from django.db.models import Max

from production.domain import kitchen as domain
from production.domain.formula import fill_role
from production.models import Formula, Ingredient, Kitchen, Membership, PlanningWeek, PotFormula, Product
from production.selectors.access import Action, require
from production.selectors.snapshots import week_export
from production.selectors.week_rows import columns_of
from production.services.week_import import formula_parts_save


@transaction.atomic
def formula_role_fill(*, by: Membership, week: PlanningWeek, formula_code: str, role: str, ingredient_code: str) -> int:
    """Let another ingredient fill a role; returns the version in use. The same choice again changes nothing."""
    require(by, Action.IMPORT_WEEK)
    Kitchen.objects.select_for_update().get(pk=by.kitchen_id)
    content = _in_use(week_export(by=by, week=week), by.kitchen)
    known = Formula.objects.filter(kitchen=by.kitchen, code=formula_code)
    latest = known.aggregate(latest=Max("version"))["latest"] or 0
    changed = fill_role(
        week=content, formula_code=formula_code, role=role, ingredient_code=ingredient_code, version=latest + 1
    )
    formula = changed.get("formulas", formula_code)
    current = content.get("formulas", formula_code)
    if formula.solids == current.solids:
        return int(current.version)
    _succeed(known.get(retired=False), formula)
    return latest + 1


def _in_use(week: domain.Week, kitchen: Kitchen) -> domain.Week:
    """The week without the formulas and ingredients that only old weeks still refer to."""
    formulas = set(Formula.objects.filter(kitchen=kitchen, retired=False).values_list("code", flat=True))
    ingredients = set(Ingredient.objects.filter(kitchen=kitchen, retired=False).values_list("code", flat=True))
    return replace(
        week,
        formulas=tuple(each for each in week.formulas if each.code in formulas),
        ingredients=tuple(each for each in week.ingredients if each.code in ingredients),
    )


def _succeed(current: Formula, changed: domain.Formula) -> None:
    """Write the new version in the place of the current one; pots and products follow, nothing else is touched."""
    Formula.objects.filter(pk=current.pk).update(retired=True)
    new = Formula(kitchen_id=current.kitchen_id, position=current.position, **columns_of(changed))
    new.full_clean()
    new.save(force_insert=True)
    formula_parts_save(kitchen_id=current.kitchen_id, formulas={new.pk: changed})
    Product.objects.filter(formula=current).update(formula=new)
    PotFormula.objects.filter(formula=current).update(formula=new)
