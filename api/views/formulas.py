"""What fills the roles of a formula."""

from __future__ import annotations

from datetime import date

from rest_framework.request import Request
from rest_framework.response import Response

from api.door import BODY, ROLE, KitchenView, documented
from api.serializers import FormulaRolesOut, RoleBody
from production.selectors.formulas import formula_roles
from production.selectors.weeks import week_of
from production.services.formulas import formula_role_fill


class Roles(KitchenView):
    @documented("formula_roles", tag="formulas", answer=FormulaRolesOut, refusals=ROLE)
    def get(self, request: Request, kitchen: str, starts_on: date, formula: str) -> Response:
        """Tell what fills each role of a formula now, and what else could, with what it would change."""
        week = week_of(by=self.by, starts_on=starts_on)
        return Response(FormulaRolesOut(formula_roles(by=self.by, week=week, formula_code=formula)).data)

    @documented(
        "formula_role_fill",
        tag="formulas",
        request=RoleBody,
        answer=FormulaRolesOut,
        refusals=(*ROLE, *BODY, 409, 422),
    )
    def post(self, request: Request, kitchen: str, starts_on: date, formula: str) -> Response:
        """Let another ingredient fill a role: a new version of the formula, which plans know once they are made anew.

        An ingredient that does not list the role is refused with `role-not-filled`.
        """
        body = RoleBody(data=request.data)
        body.is_valid(raise_exception=True)
        week = week_of(by=self.by, starts_on=starts_on)
        formula_roles(by=self.by, week=week, formula_code=formula)
        formula_role_fill(
            by=self.by,
            week=week,
            formula_code=formula,
            role=body.validated_data["role"],
            ingredient_code=body.validated_data["ingredient"],
        )
        return Response(FormulaRolesOut(formula_roles(by=self.by, week=week, formula_code=formula)).data)
