"""What a manager tells the planner: what to keep to, and what has happened."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from typing import Any, Literal
from zoneinfo import ZoneInfo

from django import forms

from production.domain.kitchen import Pot
from production.domain.plan import BoilAt, LockRun, Plan, PotOut, RunLost, StartedAt

Kind = Literal["hold", "pot-out", "boil", "lost", "begun"]
_MOMENT = {"type": "datetime-local", "step": "60"}
_FURTHEST_MIN = 60 * 24 * 60  # from the begin of a plan
_NO_MOMENT = "Give day and time, for instance 2027-02-03 09:30."


def _moment(label: str, *, required: bool = True, hint: str = "") -> forms.DateTimeField:
    return forms.DateTimeField(
        label=label,
        required=required,
        help_text=hint,
        widget=forms.DateTimeInput(attrs=_MOMENT, format="%Y-%m-%dT%H:%M"),
        error_messages={"invalid": _NO_MOMENT, "required": _NO_MOMENT},
    )


class ChangeForm(forms.Form):
    """One thing to tell; `plan_number` is the plan that the person was looking at."""

    kind: Kind

    def __init__(self, plan: Plan, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **{"prefix": self.kind} | kwargs)
        formulas = {each.code: each.name for each in plan.week.formulas}
        if "run" in self.fields:
            self.fields["run"].choices = [("", "Choose a run")] + [  # type: ignore[attr-defined]
                (run.code, f"{run.code} {formulas[run.formula]}") for run in plan.runs
            ]
        if "pot" in self.fields:
            self.fields["pot"].choices = [("", self.no_pot)] + [  # type: ignore[attr-defined]
                (pot.code, pot.name) for pot in plan.week.pots if self.offers(pot)
            ]

    no_pot = "Choose a pot"

    def offers(self, pot: Pot) -> bool:
        """May the pot be chosen here?"""
        return True


class HoldForm(ChangeForm):
    """Keep a run in a pot, at a time, or as large as it is; another pot or time moves it there."""

    kind: Kind = "hold"
    no_pot = "Any pot"
    run = forms.ChoiceField(label="Run")
    pot = forms.ChoiceField(label="Pot", required=False)
    start_at = _moment("Start", required=False, hint="Empty: the planner may choose the time.")
    keep_size = forms.BooleanField(label="Keep it as large as it is, whatever happens to its orders", required=False)

    def offers(self, pot: Pot) -> bool:
        return not pot.reduction_pan

    @classmethod
    def put_down(cls, told: Mapping[str, str], plan: Plan, zone: ZoneInfo) -> dict[str, str]:
        """What stands in the form for a run that was put down on the timeline, at a minute of the plan."""
        minute = told.get("minute", "")
        on_it = minute.lstrip("-").isdecimal() and abs(int(minute)) <= _FURTHEST_MIN
        start = f"{plan.at(int(minute)).astimezone(zone):%Y-%m-%dT%H:%M}" if on_it else ""
        return {"hold-run": told.get("run", ""), "hold-pot": told.get("pot", ""), "hold-start_at": start}

    def ask(self) -> LockRun:
        told = self.cleaned_data
        start_at: datetime | None = told["start_at"]
        return LockRun(run=told["run"], pot=told["pot"] or None, start_at=start_at, keep_size=told["keep_size"])


class PotOutForm(ChangeForm):
    """A pot cannot be used for a while."""

    kind: Kind = "pot-out"
    pot = forms.ChoiceField(label="Pot")
    start = _moment("From")
    end = _moment("Until")
    reason = forms.CharField(label="Why", max_length=120, help_text="For instance: thermostat broken.")
    batch_lost = forms.BooleanField(label="What is in it at the start is lost", required=False)

    def ask(self) -> PotOut:
        told = self.cleaned_data
        return PotOut(
            pot=told["pot"],
            start=told["start"],
            end=told["end"],
            reason=told["reason"],
            batch_lost=told["batch_lost"],
        )


class BoilForm(ChangeForm):
    """A run boils at another time than planned."""

    kind: Kind = "boil"
    run = forms.ChoiceField(label="Run")
    boil_at = _moment("Boils at")

    def ask(self) -> BoilAt:
        return BoilAt(run=self.cleaned_data["run"], boil_at=self.cleaned_data["boil_at"])


class LostForm(ChangeForm):
    """A run gives nothing."""

    kind: Kind = "lost"
    run = forms.ChoiceField(label="Run")
    reason = forms.CharField(label="Why", max_length=120, required=False)

    def ask(self) -> RunLost:
        return RunLost(run=self.cleaned_data["run"], reason=self.cleaned_data["reason"])


class BegunForm(ChangeForm):
    """A run was begun at another time than planned."""

    kind: Kind = "begun"
    run = forms.ChoiceField(label="Run")
    start_at = _moment("Loading began")

    def ask(self) -> StartedAt:
        return StartedAt(run=self.cleaned_data["run"], start_at=self.cleaned_data["start_at"])


AnyChangeForm = HoldForm | PotOutForm | BoilForm | LostForm | BegunForm
FORMS: dict[str, type[AnyChangeForm]] = {
    form.kind: form for form in (HoldForm, PotOutForm, BoilForm, LostForm, BegunForm)
}


class PublishForm(forms.Form):
    """`seen` is the newest plan that the person saw."""

    seen = forms.IntegerField(min_value=1, widget=forms.HiddenInput)
    confirm_stale = forms.BooleanField(
        label="Publish it although the week has changed since it was made", required=False
    )
