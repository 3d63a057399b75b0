"""Another ingredient in a role of a formula."""

from __future__ import annotations

from dataclasses import replace

from production.domain.errors import DoesNotFit
from production.domain.kitchen import Week


def fill_role(*, week: Week, formula_code: str, role: str, ingredient_code: str, version: int) -> Week:
    """The week with another ingredient in a role of a formula; yields and times follow from its material.

    Equation: the formula's solids with that role's ingredient replaced, under a new version number.
    Units: week (record); codes, version (count); returns a record.
    Valid: an ingredient that lists the role.
    Errors: DoesNotFit `role-not-filled` when the formula has no such role or the ingredient cannot fill it.
    Source: own definition; interchangeable solids are common practice, no source.
    """
    formula = next((each for each in week.formulas if each.code == formula_code), None)
    ingredient = next((each for each in week.ingredients if each.code == ingredient_code), None)
    if formula is None or ingredient is None or role not in {solid.role for solid in formula.solids}:
        raise DoesNotFit(
            "This formula has no such role, or there is no such ingredient.",
            code="role-not-filled",
            numbers={"formula": formula_code, "role": role, "ingredient": ingredient_code},
            remedy="Choose one of the formula's roles and an ingredient of this kitchen.",
        )
    if role not in ingredient.roles:
        raise DoesNotFit(
            f"{ingredient.name} cannot stand in for {role.replace('_', ' ')}.",
            code="role-not-filled",
            numbers={"role": role, "roles": list(ingredient.roles)},
            remedy="Choose an ingredient that lists this role, or add the role to the ingredient.",
        )
    solids = tuple(
        replace(solid, ingredient=ingredient_code) if solid.role == role else solid for solid in formula.solids
    )
    changed = replace(formula, version=version, solids=solids)
    return replace(week, formulas=tuple(changed if each is formula else each for each in week.formulas))
