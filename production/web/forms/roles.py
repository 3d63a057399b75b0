"""Choosing what fills a role of a formula."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from django import forms

if TYPE_CHECKING:
    from production.selectors.formulas import FormulaRoles


class RoleForm(forms.Form):
    """One ingredient for one role, chosen together: `role/ingredient`."""

    choice = forms.ChoiceField(
        widget=forms.RadioSelect,
        error_messages={
            "required": "Choose an ingredient first.",
            "invalid_choice": "That ingredient cannot be chosen here; look again at what is offered.",
        },
    )

    def __init__(self, offered: FormulaRoles, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["choice"].choices = [  # type: ignore[attr-defined]
            (f"{role.role}/{each.ingredient}", each.name) for role in offered.roles for each in role.stand_ins
        ]

    def clean_choice(self) -> tuple[str, str]:
        role, _, ingredient = self.cleaned_data["choice"].partition("/")
        return role, ingredient
