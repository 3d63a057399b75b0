"""The days of an export package."""

from __future__ import annotations

from datetime import date

from django import forms

from production.web.forms.lots import KeyedForm


def _day(label: str) -> forms.DateField:
    return forms.DateField(
        label=label,
        error_messages={"invalid": "Type a day, for instance 2027-02-01."},
        widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
    )


class ExportForm(KeyedForm):
    first_day = _day("First day")
    last_day = _day("Last day")

    def days(self) -> tuple[date, date]:
        """What was chosen."""
        return self.cleaned_data["first_day"], self.cleaned_data["last_day"]
