"""Checks of thermometers, deliveries and temperatures of stores, as they are typed."""

from __future__ import annotations

from typing import Any

from django import forms

from production.web.forms.bones import weight
from production.web.forms.lots import KeyedForm, number, reason

Choices = list[tuple[str, str]]
_MOMENT = {"type": "datetime-local", "step": "60"}


def temperature(label: str, *, required: bool = True, hint: str = "") -> forms.CharField:
    """A temperature as the thermometer shows it."""
    widget = forms.TextInput(attrs={"inputmode": "text", "autocomplete": "off", "class": "short"})
    return forms.CharField(label=label, max_length=20, required=required, help_text=hint, widget=widget)


def moment(label: str) -> forms.DateTimeField:
    """Day and time by the kitchen's clock; empty: now."""
    return forms.DateTimeField(
        label=label,
        required=False,
        help_text="Empty: now.",
        widget=forms.DateTimeInput(attrs=_MOMENT, format="%Y-%m-%dT%H:%M"),
        error_messages={"invalid": "Give day and time, for instance 2027-02-03 09:30."},
    )


def _day(label: str, hint: str) -> forms.DateField:
    return forms.DateField(
        label=label, required=False, help_text=hint, widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")
    )


class CareForm(KeyedForm):
    """A form with choices that the kitchen's rows fill."""

    def __init__(self, *args: Any, choices: dict[str, Choices] | None = None, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for name, given in (choices or {}).items():
            self.fields[name].choices = given  # type: ignore[attr-defined]


class AddThermometerForm(CareForm):
    name, button, style = "add", "Add thermometer", "act"
    code = forms.SlugField(label="Code", max_length=20, help_text="Written on it, for instance t4. Never used twice.")
    called = forms.CharField(label="Name", max_length=120, help_text="For instance: red handle, cold line.")
    kind = forms.ChoiceField(
        label="Kind", choices=[("hand", "in the hand"), ("probe", "probe that sends its readings itself")]
    )
    scale = forms.ChoiceField(
        label="Shows", choices=[("C", "Celsius"), ("both", "Celsius and Fahrenheit"), ("F", "Fahrenheit only")]
    )


class CheckForm(CareForm):
    name, button, style = "check", "Record the check", "act"
    method = forms.ChoiceField(
        label="Held in",
        choices=[("ice", "ice water"), ("boiling", "boiling water"), ("reference", "beside a reference thermometer")],
        widget=forms.RadioSelect,
    )
    shown = temperature("It shows", hint="As found, before anything is set.")
    reference = temperature("The reference shows", required=False, hint="Only beside a reference thermometer.")
    pressure_hpa = temperature(
        "Air pressure here, in hPa", required=False, hint="Only for boiling water: measured at the place itself."
    )
    as_left = temperature("It shows after setting it right", required=False, hint="As left, if it was adjusted.")


class TakeBackForm(CareForm):
    name, button = "back", "Take the newest check back"
    reason = reason("What was wrong with it", hint="It stays in the book, struck through; check it anew.")


class CorrectForm(CareForm):
    name, button = "correct", "Set the correction"
    correction = forms.DecimalField(
        label="Added to what it shows",
        max_digits=5,
        decimal_places=2,
        help_text="In its own unit; later readings carry it, earlier ones stay as they are.",
        widget=forms.TextInput(attrs={"inputmode": "text", "class": "short"}),
    )
    reason = reason("Why")


class RetireForm(CareForm):
    name, button, style = "retire", "Take it out of use", "grave"
    reason = reason("Why", hint="Its readings and checks stay.")


class StoreTempForm(CareForm):
    name, button, style = "store", "Record temperature", "act"
    store = forms.ChoiceField(label="Store")
    measured = forms.ChoiceField(
        label="Measured", choices=[("air", "its air"), ("food", "food in it, the warmest")], widget=forms.RadioSelect
    )
    temp = temperature("Temperature")
    thermometer = forms.ChoiceField(label="Thermometer", required=False)
    at = moment("When")


class StoreCorrectForm(CareForm):
    """Another value for a reading, or none at all."""

    name, button = "fix", "Correct"
    temp = temperature("It was", required=False, hint="Empty: the reading is set aside.")
    reason = reason("Why")


class ReceiptForm(CareForm):
    """One ingredient of a delivery."""

    name, button, style = "receipt", "Take it in", "act"
    supplier = forms.ChoiceField(label="Supplier")
    ingredient = forms.ChoiceField(label="Ingredient")
    packs = number("Packs", high=9999)
    mass = weight("Weight together")
    supplier_lot = forms.CharField(label="Supplier's lot", max_length=60, required=False, help_text="From the pack.")
    use_by = _day("Use by", "From the pack.")
    came_as = forms.ChoiceField(
        label="It came",
        choices=[("chilled", "chilled"), ("frozen", "frozen"), ("ambient", "needs no cold")],
        widget=forms.RadioSelect,
    )
    temp = temperature("Temperature", required=False, hint="Of the food: between two packs, or in it.")
    thermometer = forms.ChoiceField(label="Thermometer", required=False)
    frozen_hard = forms.BooleanField(label="Frozen hard, no sign of thawing", required=False)
    packs_sound = forms.BooleanField(label="Packs are closed, dry and clean", required=False)
    store = forms.ChoiceField(label="Put into", required=False)
    delivery_note = forms.CharField(label="Delivery note", max_length=60, required=False)
    at = moment("When it came")
    reason = forms.CharField(
        label="Reason",
        max_length=300,
        required=False,
        help_text="Needed when it is sent back, and when a manager takes it past a limit.",
    )
    purchase_list = forms.CharField(max_length=120, required=False, widget=forms.HiddenInput)


class ReceiptCorrectForm(ReceiptForm):
    """The whole receipt again, with what was wrong put right."""

    name, button, style = "correct", "Correct the receipt", ""
    reason = reason("What was wrong")


class ThrowAwayForm(CareForm):
    name, button, style = "discard", "Discard what is left", "grave"
    reason = reason("Why it is thrown away")
