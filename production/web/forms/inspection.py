"""What an inspector chooses, signs, asks and refuses, and what the kitchen answers."""

from __future__ import annotations

from typing import Any

from django import forms

from production.domain.records.reviews import MEANINGS
from production.selectors.deviations import DeviationFilter
from production.selectors.reviews import ReviewChoices, ReviewFilter
from production.web.forms.lots import KeyedForm

ANY = ("", "any")
REVIEWS = (
    ("waiting", "to be reviewed"),
    ("overdue", "overdue"),
    ("asked", "a question is open"),
    ("lost", "signature lost"),
    ("signed", "signed"),
    ("refused", "refused"),
    ("all", "all"),
)
VERDICTS = (ANY, ("breached", "limit missed"), ("not_shown", "not shown"), ("met", "limits met"))
DEVIATIONS = (ANY, ("open", "open"), ("closed", "closed"), ("none", "none"))
KINDS = (
    ANY,
    ("cooling", "cooling"),
    ("late_log", "log not closed"),
    ("thermometer", "thermometer"),
    ("storage", "storage"),
    ("receipt", "receipt"),
    ("review", "review refused"),
)


def day(label: str) -> forms.DateField:
    return forms.DateField(
        label=label, required=False, widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")
    )


def choice(label: str, choices: Any) -> forms.ChoiceField:
    return forms.ChoiceField(label=label, choices=choices, required=False)


class LogsForm(forms.Form):
    """Which logs; sent in the address, so that a choice can be kept as a bookmark."""

    review = choice("Review", REVIEWS)
    since = day("Closed from")
    until = day("Closed to")
    verdict = choice("Verdict", VERDICTS)
    deviation = choice("Deviation", DEVIATIONS)

    def chosen(self) -> ReviewFilter:
        """What was asked for; a field that cannot be read does not choose."""
        self.is_valid()
        told = {name: value for name, value in self.cleaned_data.items() if value}
        return ReviewFilter(**told | ({"person": int(told["person"])} if "person" in told else {}))

    @property
    def is_used(self) -> bool:
        """Whether anything but the usual is chosen."""
        return self.chosen() != ReviewFilter()


class KitchenLogsForm(LogsForm):
    """The same within one kitchen, by its own names too."""

    formula = choice("Formula", ())
    product = choice("Product", ())
    pot = choice("Pot", ())
    device = choice("Cooling device", ())
    person = choice("Recorded by", ())

    def __init__(self, *args: Any, choices: ReviewChoices, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        named = {
            "formula": choices.formulas,
            "product": choices.products,
            "pot": choices.pots,
            "device": choices.devices,
            "person": choices.people,
        }
        for field, found in named.items():
            self.fields[field].choices = [ANY, *found]  # type: ignore[attr-defined]


class DeviationsForm(forms.Form):
    """Which deviations."""

    state = choice("State", (ANY, ("open", "open"), ("overdue", "overdue"), ("closed", "closed")))
    kind = choice("Kind", KINDS)
    verdict = choice("Verdict of the log", VERDICTS[:3])
    since = day("Found from")
    until = day("Found to")

    def chosen(self) -> DeviationFilter:
        self.is_valid()
        return DeviationFilter(**{name: value for name, value in self.cleaned_data.items() if value})


def words(label: str, hint: str = "", *, required: bool = True) -> forms.CharField:
    """A sentence or two."""
    return forms.CharField(
        label=label, max_length=1000, required=required, help_text=hint, widget=forms.Textarea(attrs={"rows": 3})
    )


class SignForm(KeyedForm):
    name, button, style = "sign", "Sign", "act"
    seen = forms.IntegerField(widget=forms.HiddenInput)
    meaning = forms.ChoiceField(
        label="What the signature says", choices=tuple(MEANINGS.items()), widget=forms.RadioSelect
    )
    findings = words("Findings", required=False)
    password = forms.CharField(
        label="Your password",
        max_length=4096,
        strip=False,
        widget=forms.PasswordInput(attrs={"autocomplete": "current-password"}),
    )


class AskForm(KeyedForm):
    name, button = "ask", "Ask the kitchen"
    question = words("Question", "The kitchen sees it with its deviations and answers here.")


class RefuseForm(KeyedForm):
    name, button, style = "refuse", "Refuse to verify", "grave"
    reason = words("Why", "It opens a deviation that a manager has to close.")


class AnswerForm(KeyedForm):
    name, button, style = "answer", "Answer", "act"
    answer = words("Answer")


class ActForm(KeyedForm):
    """What was done about a deviation."""

    name, button, style = "act", "Record the action", "act"
    measure = forms.ChoiceField(label="What was done", widget=forms.RadioSelect)
    what = words("In words, with the evidence", "What was seen and done, when, and how that is known.")
    numbers = forms.CharField(
        label="Numbers", max_length=300, required=False, help_text="Temperatures, amounts, times."
    )
    witness = forms.CharField(label="Witness", max_length=120, required=False)

    def __init__(self, *args: Any, measures: list[tuple[str, str]], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["measure"].choices = measures  # type: ignore[attr-defined]


class CloseForm(KeyedForm):
    """All that a manager tells when a deviation is closed."""

    name, button, style = "close", "Close the deviation", "grave"
    cause = words("Cause")
    prevention = words("How it is kept from happening again")
    disposition = forms.ChoiceField(label="What becomes of the food", widget=forms.RadioSelect)
    quantity = forms.CharField(
        label="Quantity", max_length=120, required=False, help_text="For instance 24 containers of 2 L."
    )
    witness = forms.CharField(
        label="Witness", max_length=120, required=False, help_text="Needed where food is thrown away."
    )
    evaluation = words(
        "Why it is safe all the same", "Needed for a release: who has judged it, and on what grounds.", required=False
    )

    def __init__(self, *args: Any, dispositions: list[tuple[str, str]], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["disposition"].choices = dispositions  # type: ignore[attr-defined]
