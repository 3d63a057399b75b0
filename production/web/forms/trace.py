"""What is typed about drills and hazard plans, and the days that a trace looks at."""

from __future__ import annotations

from datetime import date

from django import forms

from production.web.forms.inspection import day
from production.web.forms.lots import KeyedForm, number, reason


class PeriodForm(forms.Form):
    """From when to when; what cannot be read does not choose."""

    since = day("From")
    until = day("To")

    def chosen(self) -> tuple[date | None, date | None]:
        self.is_valid()
        since, until = self.cleaned_data.get("since"), self.cleaned_data.get("until")
        return (since, until) if since is None or until is None or since <= until else (until, since)


class FinishForm(KeyedForm):
    name, button, style = "finish", "End the drill", "act"
    outlets_reached = number("Outlets reached", low=0)
    containers_located = number("Containers located", low=0, high=100000, hint="there, sold, served or thrown away")
    note = forms.CharField(label="What to do better", max_length=1000, required=False, widget=forms.TextInput())


class GiveUpForm(KeyedForm):
    name, button = "give_up", "Give the drill up"
    reason = reason("Why it was not ended")


class IssueForm(KeyedForm):
    name, button, style = "issue", "Issue this plan", "act"
    seen = forms.IntegerField(widget=forms.HiddenInput)


class SignForm(KeyedForm):
    name, button, style = "sign", "Sign and put in force", "grave"
    version = forms.IntegerField(widget=forms.HiddenInput)
    password = forms.CharField(
        label="Your password, again", widget=forms.PasswordInput(attrs={"autocomplete": "current-password"})
    )
