"""Which entries belong to a log itself, and which only speak about it: a signature is set under the former."""

from __future__ import annotations

from collections.abc import Iterable

from production.models import Entry

ABOUT = ("verified", "question_asked", "question_answered", "review_refused")


def log_entries(*, kitchen_id: int, subject: str) -> list[Entry]:
    """What was recorded in the log, in order."""
    rows = Entry.objects.filter(kitchen_id=kitchen_id, subject=subject).exclude(kind__in=ABOUT)
    return list(rows.order_by("number"))


def newest_number(*, kitchen_id: int, subject: str) -> int:
    """The newest entry of the log or about it."""
    rows = Entry.objects.filter(kitchen_id=kitchen_id, subject=subject).order_by("-number")
    return rows.values_list("number", flat=True).first() or 0


def own_entries(entries: Iterable[Entry], *, user_id: int) -> bool:
    """Has this person recorded any of them?"""
    return any(each.by_id == user_id for each in entries)


def about_words(entry: Entry) -> str:
    """What was said about a log, with what kind of word it is."""
    said = {name: str(value) for name, value in entry.content.items()}
    match entry.kind:
        case "verified":
            findings = f" Findings: {said['findings']}" if said.get("findings") else ""
            return f"Signed by {said.get('printed_name')}: {said.get('says')}{findings}"
        case "question_asked":
            return f"Asked: {said.get('question')}"
        case "question_answered":
            return f"Answered: {said.get('answer')}"
        case _:
            return f"Refused: {said.get('why')}"
