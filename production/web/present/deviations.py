"""Deviations in words: what was found, what was done, what became of the food."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from production.web.style import Style

if TYPE_CHECKING:
    from production.drawing.palette import Meaning
    from production.models import Deviation, Entry, Lot

KINDS = {
    "cooling": "Cooling",
    "late_log": "Log not closed",
    "thermometer": "Thermometer",
    "storage": "Storage",
    "receipt": "Receipt",
    "review": "Review refused",
}
MEASURES = {
    "cool_faster": "Cooled faster",
    "split": "Split",
    "reheat": "Re-heated",
    "hold": "Held",
    "discard": "Thrown away",
    "put_right": "Put right",
}
FIELDS = (
    ("cause", "Cause"),
    ("prevention", "Kept from happening again"),
    ("means", "What became of the food"),
    ("quantity", "Quantity"),
    ("witness", "Witness"),
    ("evaluation", "Why it is safe all the same"),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class ActionLine:
    """One corrective action with its evidence."""

    number: int
    head: str
    text: str
    by: str
    at: str


@dataclass(frozen=True, slots=True, kw_only=True)
class DeviationView:
    """One deviation, for lists and pages."""

    number: int
    kind: str
    sentence: str
    reasons: tuple[str, ...]
    found: str  # when and by whom
    is_open: bool
    meaning: Meaning
    state: str
    log: str  # path of the log it is about
    actions: tuple[ActionLine, ...]
    closing: tuple[tuple[str, str], ...]
    closed: str
    lots: tuple[tuple[str, str], ...]  # code, what it is
    entry: int


def deviation_view(
    deviation: Deviation, actions: Sequence[Entry], *, style: Style, lots: Sequence[Lot] = ()
) -> DeviationView:
    """Put one deviation into words."""
    opened = deviation.opened_by
    meaning, state = _state(deviation, style)
    return DeviationView(
        number=deviation.number,
        kind=KINDS[deviation.kind],
        sentence=deviation.sentence,
        reasons=tuple(str(each) for each in opened.content.get("reasons", ())),
        found=f"{style.when(deviation.opened_at)}, {_who(opened)}",
        is_open=deviation.state == "open",
        meaning=meaning,
        state=state,
        log=deviation.about.removeprefix("cooling/") if deviation.cooling_id is not None else "",
        actions=tuple(_action(each, style) for each in actions),
        closing=tuple(_closing(deviation)),
        closed=_closed(deviation, style),
        lots=tuple((each.code, f"{each.product.name}, {each.left} of {each.containers} left") for each in lots),
        entry=opened.number,
    )


def _who(entry: Entry) -> str:
    return "found by the program" if entry.by_id is None else entry.by_name


def _state(deviation: Deviation, style: Style) -> tuple[Meaning, str]:
    if deviation.state == "closed":
        return "within", "closed"
    late = deviation.due_on < style.day_of(style.now)
    return (
        ("past", f"overdue since {style.day(deviation.due_on)}")
        if late
        else (
            "near",
            f"open, due {style.day(deviation.due_on)}",
        )
    )


def _action(entry: Entry, style: Style) -> ActionLine:
    said = entry.content
    if entry.kind == "reheated":
        text = f"To {said.get('temp', '')} {said.get('unit', '')}, held {said.get('seconds', '')} s"
        return _line(entry, "Re-heated", text, style)
    numbers = f" Numbers: {said['numbers']}." if said.get("numbers") else ""
    witness = f" Witness: {said['witness']}." if said.get("witness") else ""
    head = MEASURES.get(str(said.get("measure", "")), "Corrective action")
    return _line(entry, head, f"{said.get('what', '')}.{numbers}{witness}".replace("..", "."), style)


def _line(entry: Entry, head: str, text: str, style: Style) -> ActionLine:
    return ActionLine(number=entry.number, head=head, text=text, by=entry.by_name, at=style.when(entry.happened_at))


def _closing(deviation: Deviation) -> Iterable[tuple[str, str]]:
    if deviation.closed_by is None:
        return
    said = deviation.closed_by.content
    yield from ((label, str(said[name])) for name, label in FIELDS if said.get(name))
    if said.get("lots"):
        yield "Lots", ", ".join(f"{each['lot']} ({each['containers']} containers)" for each in said["lots"])


def _closed(deviation: Deviation, style: Style) -> str:
    if deviation.closed_by is None or deviation.closed_at is None:
        return ""
    return f"{style.when(deviation.closed_at)}, {deviation.closed_by.by_name}, entry {deviation.closed_by.number}"
