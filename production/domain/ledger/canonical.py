"""What may be written down, and the one sequence of bytes that stands for it."""

from __future__ import annotations

import json
import re
import unicodedata
from collections.abc import Mapping
from typing import Any

import rfc8785

from production.domain.errors import PotwrightError

GREATEST_INTEGER = 2**53 - 1
DEEPEST = 32
LONGEST_BYTES = 256 * 1024

_SURROGATE = re.compile("[\ud800-\udfff]")
_dumps = json.JSONEncoder(ensure_ascii=False, sort_keys=True, separators=(",", ":"), allow_nan=False).encode


class NotRecordable(PotwrightError):
    """What was to be written down has no form in which it can be kept for good."""

    code = "not-recordable"


def canonical_bytes(value: Any) -> bytes:
    """The canonical form of a value of JSON.

    Equation: keys in the order of their UTF-16 code units, no white space, shortest escapes, UTF-8.
    Units: value [no quantities]; returns [no quantities].
    Valid: values that `clean_content` lets pass.
    Errors: NotRecordable when the value has no canonical form.
    Source: RFC 8785, JSON Canonicalization Scheme; through the library rfc8785.
    """
    try:
        return rfc8785.dumps(value)
    except (rfc8785.CanonicalizationError, RecursionError) as error:
        raise NotRecordable(f"This cannot be written down: {error}.", remedy=_REMEDY) from None


def canonical_bytes_quick(value: Any) -> bytes:
    """The same bytes ten times as fast, for reading back what `clean_content` has let pass.

    Equation: the canonical form; with ASCII keys and no floating point the encoder of the language gives the same.
    Units: value [no quantities]; returns [no quantities].
    Valid: values that `clean_content` lets pass; a test holds both forms against each other.
    Errors: ValueError for what can be no text in UTF-8.
    Source: RFC 8785, sections 3.2.1 to 3.2.4.
    """
    return _dumps(value).encode()


def clean_text(text: str, *, of: str) -> str:
    """The text as it is kept: composed letters, one kind of line end.

    Equation: Unicode normalisation form C; carriage returns become line feeds.
    Units: text, of [no quantities]; returns [no quantities].
    Valid: any text without NUL and without half a surrogate pair.
    Errors: NotRecordable, naming `of`, for other text.
    Source: Unicode Standard Annex 15; RFC 8785 section 3.2.2.2 leaves normalisation to the application.
    """
    if "\x00" in text or _SURROGATE.search(text):
        raise NotRecordable(f"{of} holds a character that cannot be kept.", numbers={"where": of}, remedy=_REMEDY)
    if text.isascii() and "\r" not in text:
        return text
    return unicodedata.normalize("NFC", text.replace("\r\n", "\n").replace("\r", "\n"))


def clean_content(content: Mapping[str, Any]) -> dict[str, Any]:
    """The content as it is kept, or a refusal that names the place.

    Equation: text as by `clean_text`; lists and tuples become lists; everything else as it is.
    Units: content [no quantities]; returns [no quantities].
    Valid: text, whole numbers up to 2^53 - 1, true, false, nothing, lists, and fields named in ASCII.
    Errors: NotRecordable, naming the first place, for anything else: above all for floating point.
    Source: RFC 8785 section 3.2.2; no floating point by our own choice, limits are compared as typed.
    """
    cleaned = _clean_fields(content, "content", DEEPEST)
    size = len(canonical_bytes_quick(cleaned))
    if size > LONGEST_BYTES:
        raise NotRecordable(
            f"One record may hold {LONGEST_BYTES // 1024} KiB; this one has {size // 1024 + 1} KiB.",
            numbers={"bytes": size, "most": LONGEST_BYTES},
            remedy="Write it down as several records.",
        )
    return cleaned


_REMEDY = "Send text, whole numbers, yes or no, and lists of these; a measured number as text, for instance '71.5'."


def _clean(value: Any, where: str, depth: int) -> Any:
    match value:
        case str():
            return clean_text(str(value), of=where)
        case bool() | None:
            return value
        case int() if abs(value) <= GREATEST_INTEGER:
            return value
        case dict() if depth:
            return _clean_fields(value, where, depth)
        case list() | tuple() if depth:
            return [_clean(each, f"{where}/{place}", depth - 1) for place, each in enumerate(value)]
    raise NotRecordable(
        f"{where} holds {_said(value)}, which cannot be kept for good.", numbers={"where": where}, remedy=_REMEDY
    )


def _clean_fields(value: Mapping[str, Any], where: str, depth: int) -> dict[str, Any]:
    for key in value:
        if not (isinstance(key, str) and key.isascii() and key.isprintable()):
            raise NotRecordable(f"{where} has a field whose name is not plain ASCII.", numbers={"where": where})
    return {key: _clean(each, f"{where}/{key}", depth - 1) for key, each in value.items()}


def _said(value: object) -> str:
    if isinstance(value, float):
        return f"the floating-point number {value}"
    if isinstance(value, int):
        return "a whole number beyond 2^53 - 1"
    return (
        "too many levels" if isinstance(value, dict | list | tuple) else f"something of the kind {type(value).__name__}"
    )
