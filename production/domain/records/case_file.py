"""A file of cooling cases: from its bytes to the cases, or to every problem at once."""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from datetime import UTC, datetime
from decimal import Decimal
from difflib import get_close_matches
from typing import Annotated, Any, Literal, TypeVar

from pydantic import BaseModel, BeforeValidator, ConfigDict, TypeAdapter, ValidationError

from production.domain.errors import PotwrightError, Problem
from production.domain.limits import RULES, CoolingRule
from production.domain.records.cases import Case
from production.domain.records.readings import Evidence, Reading, as_known_at, parse_temp, utc
from production.domain.week_file.layout import pointer

LARGEST_BYTES = 64 * 1024 * 1024
_MOST_LISTED = 200
_LONGEST_ID = 200

Path = tuple[str | int, ...]
T = TypeVar("T")


class BadCases(PotwrightError):
    """A file of cooling cases is refused; all problems are told at once."""

    code = "bad-cases"

    def __init__(self, problems: Sequence[Problem]) -> None:
        count = len(problems)
        ordered = sorted(problems, key=_in_the_file)
        super().__init__(
            f"The file of cooling cases has {count} problem{'' if count == 1 else 's'}.",
            numbers={"problems": count},
            remedy="Correct every place and try again; nothing was judged.",
        )
        self.problems = tuple(ordered[:_MOST_LISTED])


def _in_the_file(problem: Problem) -> list[tuple[int, str]]:
    """Cases and readings by number, fields by name."""
    steps = problem.pointer.split("/")[1:]
    return [(int(step), "") if step.isdecimal() else (-1, step) for step in steps]


# --- what a case looks like --------------------------------------------------------------------------------------


def _id(value: object) -> str | int:
    if isinstance(value, int) and not isinstance(value, bool):
        return value
    if isinstance(value, str) and 0 < len(value) <= _LONGEST_ID and value.isprintable():
        return value
    raise ValueError


def _rule(value: object) -> CoolingRule:
    if isinstance(value, str) and value in RULES:
        return RULES[value]
    raise ValueError


def _from_text(read: Callable[[str], T]) -> Callable[[object], T]:
    """What the library takes for a wrong value: not a text, or one that cannot be read."""

    def reader(value: object) -> T:
        if not isinstance(value, str):
            raise ValueError
        try:
            return read(value)
        except PotwrightError as error:
            raise ValueError from error

    return reader


def _read_moment(text: str) -> datetime:
    at = datetime.fromisoformat(text)
    utc(at)
    return at


_moment = _from_text(_read_moment)


def _closing(value: object) -> bool | datetime:
    return value if isinstance(value, bool) else _moment(value)


class _Plain(BaseModel):
    model_config = ConfigDict(extra="forbid", strict=True, arbitrary_types_allowed=True)


Moment = Annotated[datetime, BeforeValidator(_moment)]


class _ReadingRow(_Plain):
    at: Moment
    temp: Annotated[Decimal, BeforeValidator(_from_text(parse_temp))]
    unit: Literal["C", "F"]
    excluded: bool = False


class _CaseRow(_Plain):
    id: Annotated[str | int, BeforeValidator(_id)]
    rule_code: Annotated[Any, BeforeValidator(_rule)]
    as_of: Moment | None = None
    closed: Annotated[bool | datetime, BeforeValidator(_closing)] | None = None
    event_at: Moment | None = None
    hot_fact_at: Moment | None = None
    readings: list[_ReadingRow]


_adapter = TypeAdapter(list[_CaseRow])
_MOMENT = 'a moment with its offset, for instance "2026-06-03T14:00:00-04:00"'
_ALLOWED = {
    "id": f"a whole number or a text of 1 to {_LONGEST_ID} printable characters",
    "rule_code": f"one of {', '.join(RULES)}",
    "as_of": _MOMENT,
    "closed": "true, false, or the moment of closing with its offset",
    "event_at": _MOMENT,
    "hot_fact_at": _MOMENT,
    "readings": "a list of readings",
    "at": _MOMENT,
    "temp": 'digits as text, as they were typed, for instance "69.8"',
    "unit": '"C" or "F"',
    "excluded": "true or false",
}


# --- from bytes to cases -----------------------------------------------------------------------------------------


def parse_cases(content: bytes) -> tuple[Case, ...]:
    """Read a list of cases completely, or refuse it with every problem.

    Equation: UTF-8, then JSON, then the fields of each case and of each reading.
    Units: content [bytes]; temperatures are text in the unit that stands beside them; returns records.
    Valid: {id, rule_code, as_of or closed, event_at?, hot_fact_at?, readings: [{at, temp, unit, excluded?}]}, up to
        64 MiB. `closed` is true or the moment of closing; as_of before that moment finds the log open. What was
        measured after as_of is left out.
    Errors: BadCases with every problem, of which 200 are listed.
    Source: own format; RFC 8259 and RFC 6901, from memory.
    """
    document = _decoded(content)
    try:
        problems = [*_doubled_keys(document, ()), *_open_ends(document)]
        rows = _adapter.validate_python(document)
    except RecursionError:
        raise _too_deep() from None
    except ValidationError as error:
        raise BadCases([*problems, *(_misfit(document, each) for each in error.errors())]) from None
    if problems:
        raise BadCases(problems)
    return tuple(_case(row) for row in rows)


def _decoded(content: bytes) -> Any:
    if len(content) > LARGEST_BYTES:
        raise _unreadable("a longer file", "at most 64 MiB", "The file is longer than 64 MiB: judge it in parts.")
    try:
        return json.loads(content.decode("utf-8-sig"), object_pairs_hook=_object)
    except UnicodeDecodeError as error:
        place = f"byte {error.start}"
        raise _unreadable(place, "UTF-8 text", f"The file is not UTF-8 text ({place}).") from None
    except json.JSONDecodeError as error:
        place = f"line {error.lineno}, column {error.colno}"
        raise _unreadable(place, "JSON", f"The file is not JSON: {error.msg} at {place}.") from None
    except RecursionError:
        raise _too_deep() from None
    except ValueError:
        raise _unreadable("an endless number", "numbers", "The file holds a number with too many digits.") from None


def _unreadable(found: str, allowed: str, sentence: str) -> BadCases:
    return BadCases([Problem("", found, allowed, sentence)])


def _too_deep() -> BadCases:
    return _unreadable("deeper nesting", "a list of cases", "The file is nested too deeply for a list of cases.")


class _Doubled(dict[str, Any]):
    """A JSON object in which keys were written twice."""

    __slots__ = ("keys_twice",)

    def __init__(self, pairs: list[tuple[str, Any]]) -> None:
        super().__init__(pairs)
        self.keys_twice = [key for key, count in Counter(key for key, _ in pairs).items() if count > 1]


def _object(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    plain = dict(pairs)
    return plain if len(plain) == len(pairs) else _Doubled(pairs)


# --- what is wrong with it ---------------------------------------------------------------------------------------


def _problem(document: Any, path: Path, found: str, allowed: str, sentence: str) -> Problem:
    return Problem(pointer(path), found, allowed, f"{_place(document, path)}: {sentence}")


def _place(document: Any, path: Path) -> str:
    """Case 'A', reading no. 3, temp."""
    if not path:
        return "The file"
    case = document[path[0]] if isinstance(document, list) and isinstance(path[0], int) else None
    name = case.get("id") if isinstance(case, dict) else None
    named = isinstance(name, str) and 0 < len(name) <= _LONGEST_ID
    parts = [f"Case {name!r}" if named else f"Case no. {int(path[0]) + 1}"]
    parts += [f"reading no. {step + 1}" if isinstance(step, int) else step for step in path[1:] if step != "readings"]
    return ", ".join([*parts, "readings"] if path[-1] == "readings" else parts)


def _doubled_keys(value: Any, path: Path) -> Iterator[Problem]:
    for key in value.keys_twice if isinstance(value, _Doubled) else ():
        yield Problem(pointer((*path, key)), "a key twice", "each key once", f"{key[:60]!r} is written twice.")
    children = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    for step, child in children:
        if isinstance(child, dict | list):
            yield from _doubled_keys(child, (*path, step))


def _open_ends(document: Any) -> Iterator[Problem]:
    """What only shows between fields: no moment to judge at, and two cases of one name."""
    cases = (
        [(at, row) for at, row in enumerate(document) if isinstance(row, dict)] if isinstance(document, list) else []
    )
    names = Counter(row["id"] for _, row in cases if isinstance(row.get("id"), str | int))
    for at, row in cases:
        if row.get("as_of") is None and row.get("closed") in (None, False):
            sentence = "is missing; a log that is not closed can only be judged at a moment."
            yield _problem(document, (at, "as_of"), "nothing", f"{_MOMENT}, or closed: true", sentence)
        name = row.get("id")
        if isinstance(name, str | int) and names[name] > 1:
            yield _problem(document, (at, "id"), f"{name!r} more than once", "each id once", "is there more than once.")


def _misfit(document: Any, error: Any) -> Problem:
    path: Path = tuple(error["loc"])
    field = str(path[-1]) if path else ""
    allowed = _ALLOWED.get(field, "a group of fields in { }" if path else "a list of cases")
    if error["type"] == "missing":
        return _problem(document, path, "nothing", allowed, f"is missing; allowed is {allowed}.")
    if error["type"] == "extra_forbidden":
        known = list(_ReadingRow.model_fields if "readings" in path else _CaseRow.model_fields)
        close = get_close_matches(field[:60], known, n=1)
        hint = f"did you mean {close[0]}?" if close else "leave it out."
        return _problem(document, path, repr(field[:60]), ", ".join(known), f"is not known here; {hint}")
    found = _shown(error["input"])
    return _problem(document, path, found, allowed, f"{found} does not fit here; allowed is {allowed}.")


def _shown(value: Any) -> str:
    if isinstance(value, dict | list):
        return "a group of fields" if isinstance(value, dict) else f"a list of {len(value)}"
    text = json.dumps(value, ensure_ascii=False)
    return text if len(text) <= 60 else f"{text[:60]}…"


def _case(row: _CaseRow) -> Case:
    evidence = Evidence(
        tuple(Reading(each.at, each.temp, each.unit, each.excluded) for each in row.readings),
        event_at=row.event_at,
        hot_fact_at=row.hot_fact_at,
    )
    known = evidence if row.as_of is None else as_known_at(evidence, row.as_of)
    opened_again = isinstance(row.closed, datetime) and row.as_of is not None and row.as_of < row.closed
    typed = [row.as_of, *(each.at for each in row.readings[:1])]
    return Case(
        id=row.id,
        rule=row.rule_code,
        evidence=known,
        now=row.as_of if opened_again or not row.closed else None,
        zone=next((at.tzinfo for at in typed if at is not None and at.tzinfo is not None), UTC),
        left_out=len(evidence.readings) - len(known.readings),
    )
