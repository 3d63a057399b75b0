"""Formulas: another ingredient in a role makes a new version; what was cooked before keeps the old one."""

from __future__ import annotations

from django.db import transaction
from django.db.models import Max

from production.domain.formula import fill_role
from production.models import Formula, Kitchen, Membership, PlanningWeek
from production.selectors.access import Action, require
from production.selectors.snapshots import week_export
from production.services.week_import import week_import


@transaction.atomic
def formula_role_fill(*, by: Membership, week: PlanningWeek, formula_code: str, role: str, ingredient_code: str) -> int:
    """Let another ingredient fill a role; returns the version in use. The same choice again changes nothing."""
    require(by, Action.IMPORT_WEEK)
    Kitchen.objects.select_for_update().get(pk=by.kitchen_id)
    content = week_export(by=by, week=week)
    known = Formula.objects.filter(kitchen=by.kitchen, code=formula_code)
    latest = known.aggregate(latest=Max("version"))["latest"] or 0
    changed = fill_role(
        week=content, formula_code=formula_code, role=role, ingredient_code=ingredient_code, version=latest + 1
    )
    current = content.get("formulas", formula_code)
    if changed.get("formulas", formula_code).solids == current.solids:
        return int(current.version)
    week_import(week=changed, by=by)
    return latest + 1
