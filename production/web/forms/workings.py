"""Trying a computation with other arguments."""

from __future__ import annotations

from django import forms

from production.domain.workings import Working
from production.web.present.words import name_in_words, range_text
from production.web.style import unit_text


class WorkingForm(forms.Form):
    """One text field per argument; a unit may be typed with the number."""

    def __init__(self, working: Working, data: object = None) -> None:
        super().__init__(data)  # type: ignore[arg-type]
        self.working = working
        for argument in working.arguments:
            allowed = range_text(argument)
            default = "" if argument.default is None else f"left empty: {argument.default:g}"
            self.fields[argument.name] = forms.CharField(
                label=f"{name_in_words(argument.name)} [{unit_text(argument.unit)}]",
                required=argument.default is None,
                help_text="; ".join(part for part in (allowed, default) if part),
                widget=forms.TextInput(attrs={"autocomplete": "off"}),
            )

    def arguments(self) -> dict[str, str | float]:
        """What was typed, by argument."""
        return {name: text for name, text in self.cleaned_data.items() if text}
