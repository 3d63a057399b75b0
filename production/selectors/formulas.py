"""What fills the roles of a formula, and what else could."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from django.http import Http404

from production.domain.kitchen import Formula, Ingredient, Week
from production.domain.parameters import Parameter, ParameterSet
from production.domain.plan import parameters_of
from production.models import Membership, PlanningWeek
from production.selectors.access import Action, require
from production.selectors.snapshots import week_export


@dataclass(frozen=True, slots=True, kw_only=True)
class StandIn:
    """An ingredient that may fill a role, with what decides yields and times."""

    ingredient: str
    name: str
    in_use: bool
    soluble: Parameter
    t90: Parameter
    cling: Parameter
    allergens: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Role:
    """A role of a formula; several ingredients may share it now."""

    role: str
    share: float
    filled_by: tuple[str, ...]  # names
    stand_ins: tuple[StandIn, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class FormulaRoles:
    """A formula as the week has it now."""

    formula: Formula
    roles: tuple[Role, ...]


def formula_roles(*, by: Membership, week: PlanningWeek, formula_code: str) -> FormulaRoles:
    """The roles of a formula, each with every ingredient of the kitchen that lists it."""
    require(by, Action.SEE_WEEK)
    content = week_export(by=by, week=week)
    formula = next((each for each in content.formulas if each.code == formula_code), None)
    if formula is None:
        raise Http404("This week has no such formula.")
    parameters = parameters_of(week=content)
    roles = dict.fromkeys(solid.role for solid in formula.solids)
    return FormulaRoles(formula=formula, roles=tuple(_role(content, formula, role, parameters) for role in roles))


def _role(week: Week, formula: Formula, role: str, parameters: ParameterSet) -> Role:
    solids = [solid for solid in formula.solids if solid.role == role]
    filling = {solid.ingredient for solid in solids}
    return Role(
        role=role,
        share=sum(solid.share for solid in solids),
        filled_by=tuple(each.name for each in week.ingredients if each.code in filling),
        stand_ins=tuple(_stand_ins(week.ingredients, role, filling, parameters)),
    )


def _stand_ins(
    ingredients: Iterable[Ingredient], role: str, filling: set[str], parameters: ParameterSet
) -> Iterable[StandIn]:
    for each in ingredients:
        if role in each.roles or each.code in filling:
            yield StandIn(
                ingredient=each.code,
                name=each.name,
                in_use=each.code in filling,
                soluble=parameters.get(f"material.{each.material}.soluble_share"),
                t90=parameters.get(f"material.{each.material}.t90_h"),
                cling=parameters.get(f"material.{each.material}.cling_share"),
                allergens=each.allergens,
            )
