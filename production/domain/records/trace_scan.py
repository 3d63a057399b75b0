"""What a scanner or a person types to find something: a code as it stands, or the element string of a label."""

from __future__ import annotations

import re
from collections.abc import Mapping
from types import MappingProxyType

from production.domain.errors import BadQuantity
from production.domain.records.lots import lot_code_read

SEPARATOR = "\x1d"  # FNC1 as scanners send it
OWN_LENGTH = 10  # of the kitchen's own lot codes
_LOT, _LONGEST_LOT = "10", 20
_FIXED: Mapping[str, int] = MappingProxyType(
    {"00": 18, "01": 14, "02": 14, "11": 6, "13": 6, "15": 6, "16": 6, "17": 6}
)
_IN_BRACKETS = re.compile(r"\(10\)([!-'*-~]{1,20})")
_SYMBOLOGY = re.compile(r"^\][A-Za-z][0-9]")


def scanned_code(*, text: str) -> str:
    """The code to look for in what was typed or scanned.

    Equation: the value of application identifier 10 where the text is an element string, else the text in capitals,
        without what scanners put before it.
    Units: text [no quantities]; returns [no quantities].
    Valid: any text; element strings with brackets, with separators, or with separators lost where the lot code is one
        of the kitchen's own.
    Errors: none.
    Source: GS1 General Specifications, application identifiers 00 to 17: lengths read in the GS1 list of identifiers.
    """
    bare = _SYMBOLOGY.sub("", text.strip()).strip(SEPARATOR)
    bracketed = _IN_BRACKETS.search(bare)
    if bracketed:
        return bracketed[1].upper()
    return (_lot_among(bare) or bare.replace(SEPARATOR, "")).upper()


def _lot_among(bare: str) -> str:
    """The lot of an element string without brackets; nothing where the text is none."""
    if not re.match(r"(0[012]|1[0135-7])", bare) or len(bare) <= OWN_LENGTH:
        return ""
    rest = bare
    while rest:
        number, value = rest[:2], rest[2:]
        if number == _LOT:
            return _lot_value(value)
        length = _FIXED.get(number)
        if length is None or not value[:length].isdecimal() or len(value) < length:
            return ""
        rest = value[length:].lstrip(SEPARATOR)
    return ""


def _lot_value(value: str) -> str:
    """Up to the separator; where it was lost, the length of the kitchen's own codes, if the check character agrees."""
    until = value.split(SEPARATOR, 1)[0]
    if SEPARATOR not in value:
        try:
            return lot_code_read(value[:OWN_LENGTH])
        except BadQuantity:
            return until if len(until) <= _LONGEST_LOT else ""
    return until
