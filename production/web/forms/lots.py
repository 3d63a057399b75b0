"""What somebody does to a lot: each form carries the key of its request and what the person saw."""

from __future__ import annotations

from typing import Any

from django import forms

from production.domain.sheets.label_sizes import LABEL_SIZES

_WHOLE = {"invalid": "Type a whole number, for instance 12."}


def number(label: str, *, low: int = 1, high: int = 10000, hint: str = "") -> forms.IntegerField:
    """A whole number that is typed."""
    return forms.IntegerField(
        label=label,
        min_value=low,
        max_value=high,
        help_text=hint,
        error_messages=_WHOLE,
        widget=forms.TextInput(attrs={"inputmode": "numeric", "autocomplete": "off", "class": "short"}),
    )


def reason(label: str = "Reason", hint: str = "") -> forms.CharField:
    """Why; a few words."""
    return forms.CharField(label=label, max_length=300, help_text=hint, widget=forms.TextInput())


class KeyedForm(forms.Form):
    """Sent twice, done once."""

    key = forms.CharField(max_length=70, widget=forms.HiddenInput)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **{"prefix": self.name} | kwargs)

    name = ""
    button = ""
    style = ""


class ReleaseForm(KeyedForm):
    name, button, style = "release", "Release lot", "act"
    seen = forms.CharField(widget=forms.HiddenInput)
    reason = reason("What you have looked at")


class HoldForm(KeyedForm):
    name, button = "hold", "Hold lot"
    seen = forms.CharField(widget=forms.HiddenInput)
    reason = reason("Why it is kept back")


class DiscardForm(KeyedForm):
    name, button, style = "discard", "Discard", "grave"
    seen_left = forms.IntegerField(widget=forms.HiddenInput)
    containers = number("Containers")
    reason = reason("Why they are thrown away")


class CountForm(KeyedForm):
    name, button = "count", "Record the count"
    seen_left = forms.IntegerField(widget=forms.HiddenInput)
    found = number("Containers found", low=0)
    reason = reason("Why it is not what stands here")


class EvaluateForm(KeyedForm):
    name, button = "evaluate", "Record the evaluation"
    disposition = forms.ChoiceField(
        label="What is to become of it",
        choices=[("discard", "It is discarded"), ("release", "It may be released")],
        widget=forms.RadioSelect,
    )
    cause = reason("What went wrong")
    action = reason("What was done about it")
    evaluation = forms.CharField(
        label="Why it is safe all the same",
        max_length=300,
        required=False,
        help_text="Needed for a release: who has judged it, and on what grounds.",
        widget=forms.Textarea(attrs={"rows": 3}),
    )


class ReturnForm(KeyedForm):
    name, button = "return", "Record what came back"
    outlet = forms.ChoiceField(label="From")
    containers = number("Containers")
    reason = reason("Why", hint="It is thrown away: nobody can show how warm it was outside.")

    def __init__(self, *args: Any, outlets: list[tuple[str, str]], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["outlet"].choices = outlets  # type: ignore[attr-defined]


class LabelsForm(KeyedForm):
    name, button = "labels", "Print the labels"
    size = forms.ChoiceField(label="Labels", choices=[(each.code, each.name) for each in LABEL_SIZES.values()])
    copies = number("How many", high=600)
    first_place = number("First free place", high=100, hint="On a sheet used in part: counted from the top left.")


class TakeInForm(KeyedForm):
    """Opening stock becomes lots; who takes it over says on what grounds it may leave."""

    name, button = "take-in", "Take over as free lots"
    statement = reason("Where its records are, and why it may leave")


class PackForm(KeyedForm):
    """Containers of one draw."""

    name, button, style = "pack", "Make the lot", "act"
    coolings = forms.MultipleChoiceField(
        label="Cooling logs",
        widget=forms.CheckboxSelectMultiple,
        help_text="A lot is as good as the worst of its logs: pack what cooled differently apart.",
    )
    product = forms.ChoiceField(label="Product")
    containers = number("Containers filled")
    store = forms.ChoiceField(label="Store")
    sealed_hot = forms.BooleanField(
        label="Sealed hot, without air",
        required=False,
        help_text="Only under the kitchen's approved plan for such packs.",
    )

    def __init__(
        self,
        *args: Any,
        coolings: list[tuple[str, str]],
        products: list[tuple[str, str]],
        stores: list[tuple[str, str]],
        **kwargs: Any,
    ) -> None:
        super().__init__(*args, **kwargs)
        for field, choices in (("coolings", coolings), ("product", products), ("store", stores)):
            self.fields[field].choices = choices  # type: ignore[attr-defined]
