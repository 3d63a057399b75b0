"""From the bytes of a week file to a Week, or to every problem at once."""

from __future__ import annotations

import json
import math
import re
from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import Field, fields
from datetime import UTC, date, datetime, time
from decimal import Decimal
from difflib import get_close_matches
from functools import cache
from itertools import islice
from typing import Any

from jsonschema import Draft202012Validator
from jsonschema.exceptions import ValidationError
from jsonschema.validators import extend

from production.domain.errors import BadQuantity, BadWeekFile, Problem
from production.domain.kitchen import Week
from production.domain.quantities import parse_quantity
from production.domain.week_file.checks import contradictions
from production.domain.week_file.drafts import Draft
from production.domain.week_file.layout import LARGEST_BYTES, PLACE_OF, Path, pointer, spoken_place
from production.domain.week_file.schema import week_schema

_MOST_LISTED = 200
_MOST_COUNTED = 2_000
_DEEPEST = 12
_LONGEST_NUMBER = 40
# Control characters, halves of pairs, and marks that turn the direction of a line or have no width.
_UNPRINTABLE = re.compile("[\x00-\x1f\x7f-\x9f\u200b-\u200f\u202a-\u202e\u2060-\u2069\ufeff\ud800-\udfff]")
_YEARS = range(2000, 2100)


def parse_week(content: bytes, *, now: datetime | None = None) -> Week:
    """Read a week file completely, or refuse it with every problem that can be told at once.

    Equation: UTF-8, then JSON, then the schema, then units and ranges, then the entries against each other.
    Units: content [bytes of the file], now [aware moment; orders before it are in the past]; returns [Week].
    Valid: files up to 8 MiB of format potwright-week, version 1.
    Errors: BadWeekFile with the list of problems (at most 200, then how many more).
    Source: own definition; RFC 8259, JSON Schema 2020-12.
    """
    document = _decoded(content)
    problems: dict[Path, Problem] = {}
    for path, problem in islice(_oddities(document, ()), _MOST_COUNTED):
        problems.setdefault(path, problem)
    for path, problem in islice(_misfits(document), _MOST_COUNTED):
        problems.setdefault(path, problem)
    if not isinstance(document, dict) or len(problems) >= _MOST_COUNTED:
        raise _refusal(list(problems.values()))
    reader = _Reader(document, frozenset(problems))
    week = reader.week()
    found = [*problems.values(), *reader.problems, *islice(contradictions(week, now=now), _MOST_COUNTED)]
    if found:
        raise _refusal(found)
    built: Week = week.build()
    return built


def _refusal(problems: list[Problem]) -> BadWeekFile:
    listed = problems[:_MOST_LISTED]
    surplus = len(problems) - len(listed)
    if surplus > 0:
        more = f"{surplus} or more" if len(problems) >= _MOST_COUNTED else str(surplus)
        listed.append(Problem("", f"{more} further problems", "none", f"And {more} further problems, not listed."))
    return BadWeekFile(tuple(listed))


# --- text to JSON values -----------------------------------------------------------------------------------------


class _Doubled(dict[str, Any]):
    """A JSON object in which keys were written twice."""

    __slots__ = ("keys_twice",)

    def __init__(self, pairs: list[tuple[str, Any]]) -> None:
        super().__init__(pairs)
        self.keys_twice = [key for key, count in Counter(key for key, _ in pairs).items() if count > 1]


def _object(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    plain = dict(pairs)
    return plain if len(plain) == len(pairs) else _Doubled(pairs)


class _Unusable:
    """A number that no computation can use: not finite, or with too many digits."""

    __slots__ = ("text",)

    def __init__(self, text: str) -> None:
        self.text = text[:_LONGEST_NUMBER]


def _decoded(content: bytes) -> Any:
    if len(content) > LARGEST_BYTES:
        megabytes = f"{len(content) / 1e6:.1f} MB"
        raise _unreadable(megabytes, "at most 8 MB", f"The file is {megabytes} long; a week file has at most 8 MB.")
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise _unreadable(
            f"byte {error.start}", "UTF-8 text", f"The file is not UTF-8 text (byte {error.start}); save it as UTF-8."
        ) from None
    try:
        return json.loads(
            text, object_pairs_hook=_object, parse_int=_integer, parse_float=_float, parse_constant=_Unusable
        )
    except json.JSONDecodeError as error:
        place = f"line {error.lineno}, column {error.colno}"
        raise _unreadable(place, "JSON", f"The file is not JSON: {error.msg} at {place}.") from None
    except RecursionError:
        raise _too_deep() from None


def _unreadable(found: str, allowed: str, sentence: str) -> BadWeekFile:
    return BadWeekFile((Problem("", found, allowed, sentence),))


def _too_deep() -> BadWeekFile:
    return _unreadable("deeper nesting", f"{_DEEPEST} levels", f"The file is nested deeper than {_DEEPEST} levels.")


def _integer(text: str) -> int | _Unusable:
    return int(text) if len(text) <= _LONGEST_NUMBER else _Unusable(text)


def _float(text: str) -> float | _Unusable:
    value = float(text)
    return value if math.isfinite(value) else _Unusable(text)


def _oddities(value: Any, path: Path, root: Any = None) -> Iterator[tuple[Path, Problem]]:
    """What JSON lets pass and a week file does not: keys written twice, endless numbers, invisible characters."""
    root = value if root is None else root
    if len(path) > _DEEPEST:
        raise _too_deep()
    for key in value.keys_twice if isinstance(value, _Doubled) else ():
        yield _located((*path, key), root, f"{key[:60]!r} twice", "each key once", "is written twice.")
    children = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    for step, child in children:
        if isinstance(child, dict | list) and child:
            yield from _oddities(child, (*path, step), root)
        elif isinstance(child, _Unusable):
            yield _located((*path, step), root, child.text, "a finite number", f"{child.text} is not a usable number.")
        elif isinstance(child, str) and _UNPRINTABLE.search(child):
            sentence = "holds a character that cannot be printed."
            yield _located((*path, step), root, _shown(child), "printable characters", sentence)
        if isinstance(step, str) and _UNPRINTABLE.search(step):
            sentence = "the key holds a character that cannot be printed."
            yield _located((*path, step), root, _shown(step), "printable characters", sentence)


def _located(path: Path, document: Any, found: str, allowed: str, sentence: str) -> tuple[Path, Problem]:
    return path, Problem(pointer(path), found, allowed, f"{spoken_place(path, document)}: {sentence}")


# --- JSON values against the schema ------------------------------------------------------------------------------


def _unique_items(_: Any, wanted: bool, instance: Any, __: Any) -> Iterator[ValidationError]:
    """The library compares pairwise when types are mixed, which a hostile file could use to keep it busy for hours."""
    plain = [entry for entry in instance if isinstance(entry, str | int)] if isinstance(instance, list) else []
    if wanted and len(set(plain)) < len(plain):
        yield ValidationError("an entry is there twice")


@cache
def _validator() -> Any:
    extended: Callable[..., Any] = extend
    return extended(Draft202012Validator, {"uniqueItems": _unique_items})(week_schema())


_VERDICTS = {
    "minimum": "is too small",
    "maximum": "is too large",
    "maxLength": "is too long",
    "minItems": "has too few entries",
    "maxItems": "has too many entries",
    "uniqueItems": "names something twice",
}


def _misfits(document: Any) -> Iterator[tuple[Path, Problem]]:
    for error in _validator().iter_errors(document):
        path: Path = tuple(error.absolute_path)
        if error.validator == "required":
            yield from _missing(path, document, error)
        elif error.validator == "additionalProperties":
            yield from _surplus(path, document, error)
        else:
            found, allowed = _shown(error.instance), _allowed(error.schema)
            verdict = _VERDICTS.get(str(error.validator), "does not fit here")
            yield _located(path, document, found, allowed, f"{found} {verdict}; allowed is {allowed}.")


def _missing(path: Path, document: Any, error: Any) -> Iterator[tuple[Path, Problem]]:
    for key in error.validator_value:
        if key not in error.instance:
            described = error.schema["properties"][key]
            doc, allowed = described["description"], _allowed(described)
            yield _located((*path, key), document, "nothing", allowed, f"is missing ({doc}); allowed is {allowed}.")


def _surplus(path: Path, document: Any, error: Any) -> Iterator[tuple[Path, Problem]]:
    known = list(error.schema["properties"])
    for key in error.instance:
        if key not in known:
            close = get_close_matches(key[:60], known, n=1)
            hint = f"did you mean {close[0]}?" if close else "leave it out."
            yield _located((*path, key), document, _shown(key), ", ".join(known), f"is not known here; {hint}")


def _shown(value: Any) -> str:
    match value:
        case None:
            return "nothing (null)"
        case bool():
            return "true" if value else "false"
        case dict():
            return "a group of fields"
        case list():
            return f"a list of {len(value)}"
        case str():
            return repr(value) if len(value) <= 60 else repr(value[:60] + "…")
        case _Unusable():
            return value.text
        case _:
            return f"{value:.12g}" if isinstance(value, float) else str(value)


def _allowed(schema: Any) -> str:
    match schema:
        case {"const": value}:
            return _shown(value)
        case {"enum": words}:
            return ", ".join(words)
        case {"form": form}:
            return str(form)
        case {"unit": "money", "minimum": low, "maximum": high}:
            return f'an amount from {low} to {high} as text with at most two decimals, for instance "12.50"'
        case {"unit": "any"}:
            return "a number"
        case {"unit": unit, "minimum": low, "maximum": high}:
            return f"{low:g} to {high:g} {unit}, as a number or as a text with its unit"
        case {"minimum": low, "maximum": high}:
            return f"a whole number from {low} to {high}"
        case {"maxLength": longest}:
            return f"a text of 1 to {longest} characters"
        case {"pattern": _}:
            return "a code of 1 to 40 letters, digits, dots, hyphens and underscores"
        case {"items": _}:
            least, most = schema.get("minItems", 0), schema.get("maxItems")
            return (
                f"a list of {least} to {most}, each once" if "uniqueItems" in schema else f"a list of {least} to {most}"
            )
        case {"type": "boolean"}:
            return "true or false"
        case _:
            return "a group of fields in { }"


# --- JSON values to drafts ---------------------------------------------------------------------------------------


class _Misread(Exception):
    """A value of the right JSON type that still cannot be used."""

    def __init__(self, allowed: str, sentence: str) -> None:
        super().__init__(sentence)
        self.allowed = allowed
        self.sentence = sentence


class _Reader:
    """Turns the values into drafts and collects what is wrong with units, ranges and dates on the way."""

    def __init__(self, document: dict[str, Any], bad: frozenset[Path]) -> None:
        self._document = document
        self._bad = bad
        self.problems: list[Problem] = []

    def week(self) -> Draft:
        values: dict[str, Any] = {}
        for described in fields(Week):
            place = PLACE_OF[described.name]
            if len(place) == 1:
                self._read(described, self._document, place, values)
            elif place[:1] not in self._bad:
                self._read(described, self._document[place[0]], place, values)
        return Draft(Week, (), "Week", values)

    def _entry(self, of: type, raw: dict[str, Any], path: Path) -> Draft:
        values: dict[str, Any] = {}
        for described in fields(of):
            self._read(described, raw, (*path, described.name), values)
        return Draft(of, path, spoken_place(path, self._document), values)

    def _read(self, described: Field[Any], holder: dict[str, Any], path: Path, values: dict[str, Any]) -> None:
        if path in self._bad:
            return
        raw = holder.get(str(path[-1]))
        if raw is None:
            values[described.name] = described.default
            return
        try:
            values[described.name] = self._value(described.metadata, raw, path)
        except _Misread as error:
            _, problem = _located(path, self._document, _shown(raw), error.allowed, error.sentence)
            self.problems.append(problem)

    def _value(self, meta: Any, raw: Any, path: Path) -> Any:
        match meta["kind"]:
            case "quantity":
                return _quantity(raw, meta)
            case "count":
                return int(raw)
            case "money":
                return _money(raw, meta)
            case "item":
                return self._entry(meta["of"], raw, path)
            case "items":
                places = ((*path, index) for index in range(len(raw)))
                return tuple(
                    self._entry(meta["of"], raw[place[-1]], place) for place in places if place not in self._bad
                )
            case "refs" | "words" | "weekdays":
                return tuple(entry for index, entry in enumerate(raw) if (*path, index) not in self._bad)
            case "date":
                return _date(raw)
            case "instant":
                return _instant(raw)
            case "clock":
                return time.fromisoformat(raw)
            case _:
                return raw


def _quantity(raw: float | str, meta: Any) -> float:
    if not isinstance(raw, str):
        return float(raw)
    low, high, unit = meta["low"], meta["high"], meta["unit"]
    allowed = f"{low:g} to {high:g} {unit}, as a number or as a text with its unit"
    try:
        value = parse_quantity(raw, unit)
    except BadQuantity as error:
        raise _Misread(allowed, f"{error.sentence} {error.remedy}") from None
    if not low <= value <= high:
        verdict = "too small" if value < low else "too large"
        raise _Misread(allowed, f"{raw!r} is {value:g} {unit}, which is {verdict}; allowed is {allowed}.")
    return value


def _money(raw: str | int, meta: Any) -> Decimal:
    value = Decimal(raw)
    if not meta["low"] <= value <= meta["high"]:
        raise _Misread(f"{meta['low']} to {meta['high']}", f"{value} lies outside {meta['low']} to {meta['high']}.")
    return value.quantize(Decimal("0.01"))


def _date(raw: str) -> date:
    try:
        day = date.fromisoformat(raw)
    except ValueError:
        raise _Misread("a day of the calendar", f"{raw!r} is not a day of the calendar.") from None
    if day.year not in _YEARS:
        raise _Misread("a day from 2000 to 2099", f"{raw!r} lies outside the years 2000 to 2099.")
    return day


def _instant(raw: str) -> datetime:
    _date(raw[:10])
    try:
        return datetime.fromisoformat(raw).astimezone(UTC)
    except ValueError:
        raise _Misread("a moment of the calendar", f"{raw!r} is not a moment of the calendar.") from None
