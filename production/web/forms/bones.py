"""What goes into the bank of saved bones and out of it."""

from __future__ import annotations

from typing import Any

from django import forms

from production.web.forms.lots import KeyedForm, reason


def weight(label: str) -> forms.CharField:
    """A weight as somebody types it, with its unit or in the kitchen's own."""
    return forms.CharField(
        label=label,
        max_length=40,
        help_text="For instance 12.5 kg or 8 lb 4 oz.",
        widget=forms.TextInput(attrs={"autocomplete": "off", "class": "short"}),
    )


class SaveForm(KeyedForm):
    """Put bones or trim by."""

    name, button, style = "save", "Put by", "act"
    ingredient = forms.ChoiceField(label="What")
    mass = weight("Weight")
    saved_on = forms.DateField(label="Saved on", widget=forms.DateInput(attrs={"type": "date"}))
    store = forms.ChoiceField(label="Where")

    def __init__(
        self, *args: Any, ingredients: list[tuple[str, str]], stores: list[tuple[str, str]], **kwargs: Any
    ) -> None:
        super().__init__(*args, **kwargs)
        self.fields["ingredient"].choices = ingredients  # type: ignore[attr-defined]
        self.fields["store"].choices = stores  # type: ignore[attr-defined]


class UseForm(KeyedForm):
    """Take bones for a run."""

    name, button = "use", "Record as used"
    mass = weight("Weight taken")
    run = forms.ChoiceField(label="For run", required=False)

    def __init__(self, *args: Any, runs: list[tuple[str, str]], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["run"].choices = [("", "No run"), *runs]  # type: ignore[attr-defined]


class DiscardBonesForm(KeyedForm):
    """Throw away what is left."""

    name, button, style = "discard", "Discard what is left", "grave"
    reason = reason("Why they are thrown away")
