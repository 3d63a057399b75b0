"""Deviations and signatures as pages show them, held against the entries again."""

from __future__ import annotations

from collections.abc import Iterator

from production.domain.ledger import Finding
from production.models import Deviation, Entry, Review
from production.selectors.review_entries import ABOUT

AT_ONCE = 2000


def deviations_check(kitchen_id: int) -> Iterator[Finding]:
    """Each deviation that was opened is shown, open or closed, as it was written down last."""
    said = _deviations_said(kitchen_id)
    rows = Deviation.objects.filter(kitchen_id=kitchen_id).order_by("number")
    for number, kind, about, sentence, disposition in rows.values_list(
        "number", "kind", "about", "sentence", "disposition"
    ).iterator(chunk_size=AT_ONCE):
        entry, *told = said.pop(f"deviation/{number}", (1, "", "", "", ""))
        if told != [kind, about, sentence, disposition]:
            yield _otherwise(entry, f"Deviation {number} is shown as {kind}, {disposition or 'open'}.")
    for subject, (entry, *_) in said.items():
        yield _otherwise(entry, f"The {subject.replace('/', ' ')} is missing.")


def _deviations_said(kitchen_id: int) -> dict[str, tuple[int, str, str, str, str]]:
    kinds = ["deviation_opened", "deviation_closed"]
    entries = Entry.objects.filter(kitchen_id=kitchen_id, kind__in=kinds).order_by("number")
    said: dict[str, tuple[int, str, str, str, str]] = {}
    for number, kind, subject, content in entries.values_list("number", "kind", "subject", "content").iterator(
        chunk_size=AT_ONCE
    ):
        if kind == "deviation_opened":
            told = (str(content.get(name, "")) for name in ("kind", "about", "sentence"))
            said[subject] = (number, *told, "")  # type: ignore[assignment]
        elif subject in said:
            said[subject] = (number, *said[subject][1:4], str(content.get("disposition", "")))
    return said


def reviews_check(kitchen_id: int) -> Iterator[Finding]:
    """Each log is shown as signed, refused or waiting as its entries say; what came after a signature takes it away."""
    said = _reviews_said(kitchen_id)
    rows = Review.objects.filter(kitchen_id=kitchen_id).order_by("pk")
    for subject, state, asked in rows.values_list("cooling__subject", "state", "asked").iterator(chunk_size=AT_ONCE):
        number, *told = said.pop(subject, (1, "waiting", False))
        if told != [state, asked]:
            yield _otherwise(number, f"The log {subject} is shown as {state}.")
    for subject, (number, *_) in said.items():
        yield _otherwise(number, f"What was said about the log {subject} is missing.")


def _reviews_said(kitchen_id: int) -> dict[str, tuple[int, str, bool]]:
    """Number of the entry that spoke last, state, and whether a question is open; by log."""
    about = Entry.objects.filter(kitchen_id=kitchen_id, kind__in=ABOUT)
    entries = Entry.objects.filter(kitchen_id=kitchen_id, subject__in=about.values("subject")).order_by("number")
    said: dict[str, tuple[int, str, bool]] = {}
    for number, kind, subject in entries.values_list("number", "kind", "subject").iterator(chunk_size=AT_ONCE):
        _, state, asked = said.get(subject, (number, "waiting", False))
        said[subject] = (number, _state(kind, state), _asked(kind, asked))
    return said


def _state(kind: str, before: str) -> str:
    after = {"verified": "signed", "review_refused": "refused"}.get(kind, before)
    return "lost" if kind not in ABOUT and before == "signed" else after


def _asked(kind: str, before: bool) -> bool:
    return {"question_asked": True, "question_answered": False, "verified": False}.get(kind, before)


def _otherwise(number: int, told: str) -> Finding:
    return Finding(number, number, f"Entry {number} is shown otherwise than it was written down. {told}")
