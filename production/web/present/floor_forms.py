"""The small forms of the floor: each makes one entry."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, fields, is_dataclass, replace
from typing import Any

# Fields of a form that are not what is recorded but about what; the rest stands under `content.`.
CONTENT = "content."
UNIT = "unit."  # the unit beside a box, for what is typed without one
_LETTER = re.compile(r"[A-Za-z°º]")
UNDO_REASONS = ("pressed by mistake", "wrong number", "wrong step", "not done after all")
TYPED = "floor-typed"  # name under which what was refused waits to be shown again
YES, COUNT = ":yes", ":count"  # what is kept as yes or as a whole number, not as text


@dataclass(frozen=True, slots=True, kw_only=True)
class FieldView:
    """One thing to type or to choose; the unit stands beside it."""

    name: str
    label: str
    kind: str = "amount"  # amount, count, text, choice
    unit: str = ""
    value: str = ""
    hint: str = ""
    options: tuple[tuple[str, str], ...] = ()
    remember: str = ""  # under which name the tablet keeps what was chosen last
    required: bool = True

    @property
    def content_name(self) -> str:
        return f"{CONTENT}{self.name}{COUNT if self.kind == 'count' else ''}"


@dataclass(frozen=True, slots=True, kw_only=True)
class FormView:
    """One entry to be made: what it is about, what is typed, and the verb on its button."""

    key: str  # of this form on its page, for labels and the keyboard
    kind: str
    subject: str
    button: str
    subjects: tuple[tuple[str, str], ...] = ()  # to choose from, where the form itself says what it is about
    says: str = ""  # what is shown as recorded, before the values
    step: str = ""
    style: str = "act"  # act, grave or plain
    fields: tuple[FieldView, ...] = ()
    hidden: tuple[tuple[str, str], ...] = ()  # further content, as names with their marks
    corrects: str = ""
    reason: str = ""  # of a correction, where it is known
    asks_reason: str = ""  # label of the reason, where one is needed
    reasons: tuple[str, ...] = ()  # usual reasons, to be chosen
    may_be_earlier: bool = False
    hint: str = ""
    refused: str = ""

    @property
    def hidden_content(self) -> tuple[tuple[str, str], ...]:
        return tuple((f"{CONTENT}{name}", value) for name, value in self.hidden)


def entry_of(posted: Mapping[str, str]) -> dict[str, Any]:
    """What a form says, as the door for entries reads it; floor.js does the same."""
    content = {}
    for name, value in posted.items():
        if name.startswith(CONTENT) and value.strip():
            plain = name.removeprefix(CONTENT)
            content[plain.removesuffix(YES).removesuffix(COUNT)] = _value(
                plain, value.strip(), posted.get(UNIT + plain, "")
            )
    return {
        "key": posted.get("key", ""),
        "kind": posted.get("kind", ""),
        "subject": posted.get("subject", ""),
        "content": content,
        "corrects": posted.get("corrects") or None,
        "reason": posted.get("reason", ""),
    }


def _value(name: str, text: str, unit: str) -> str | int | bool:
    if name.endswith(YES):
        return True
    if name.endswith(COUNT) and text.isdecimal():
        return int(text)
    return f"{text} {unit}" if unit and not _LETTER.search(text) else text


def with_typed(view: Any, typed: Mapping[str, Any] | None) -> Any:
    """What a page shows, its form that was refused with what was typed and why it was not accepted."""
    if typed is None:
        return view
    if isinstance(view, FormView):
        is_it = all(getattr(view, name) == typed.get(name) for name in ("kind", "subject", "step"))
        return _filled(view, typed) if is_it else view
    if isinstance(view, tuple):
        return tuple(with_typed(each, typed) for each in view)
    if is_dataclass(view) and not isinstance(view, type):
        return replace(view, **{each.name: with_typed(getattr(view, each.name), typed) for each in fields(view)})
    return view


def _filled(form: FormView, typed: Mapping[str, Any]) -> FormView:
    said = typed.get("content", {})
    filled = tuple(replace(each, value=str(said.get(each.name, each.value))) for each in form.fields)
    return replace(form, fields=filled, refused=str(typed.get("sentence", "")))
