"""Trying a computation with other arguments."""

from __future__ import annotations

from django import forms

from production.domain.errors import BadQuantity
from production.domain.quantities import parse_quantity
from production.domain.workings import Working
from production.web.present.words import name_in_words, range_text
from production.web.style import unit_text


class WorkingForm(forms.Form):
    """One text field per argument; a unit may be typed with the number."""

    def __init__(self, working: Working, data: object = None) -> None:
        super().__init__(data)  # type: ignore[arg-type]
        self.working = working
        self.arguments: dict[str, str | float] = {}
        for argument in working.arguments:
            allowed = range_text(argument)
            default = "" if argument.default is None else f"left empty: {argument.default:g}"
            self.fields[argument.name] = forms.CharField(
                label=f"{name_in_words(argument.name)} [{unit_text(argument.unit)}]",
                required=argument.default is None,
                help_text="; ".join(part for part in (allowed, default) if part),
                widget=forms.TextInput(attrs={"autocomplete": "off"}),
            )

    def clean(self) -> dict[str, object]:
        """Read the amounts; what cannot be read is told at its field."""
        cleaned = super().clean() or {}
        for argument in self.working.arguments:
            typed = cleaned.get(argument.name)
            if not typed:
                continue
            try:
                self.arguments[argument.name] = parse_quantity(typed, argument.unit)
            except BadQuantity as error:
                self.add_error(argument.name, f"{error.sentence} {error.remedy}")
        return cleaned
