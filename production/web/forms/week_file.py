"""Bringing in a week file."""

from __future__ import annotations

from django import forms


class WeekFileForm(forms.Form):
    file = forms.FileField(
        label="Week file",
        help_text="One JSON file: kitchen, catalogue, stock and orders. Nothing is saved unless all of it is right.",
        allow_empty_file=True,
        error_messages={"required": "Choose a file first."},
        widget=forms.FileInput(attrs={"accept": ".json,application/json"}),
    )
