"""What may be written down, and its one form."""

from __future__ import annotations

import json
from datetime import UTC, datetime, timedelta, timezone
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from production.domain.errors import PotwrightError
from production.domain.ledger import canonical_bytes, clean_content, clean_text, moment_text
from production.domain.ledger.canonical import GREATEST_INTEGER, canonical_bytes_quick

PLAIN = st.characters(exclude_categories=["Cs"], exclude_characters="\x00")
SCALARS = st.none() | st.booleans() | st.integers(-GREATEST_INTEGER, GREATEST_INTEGER) | st.text(PLAIN, max_size=20)
FIELDS = st.text(st.characters(min_codepoint=32, max_codepoint=126), max_size=8)
VALUES = st.recursive(SCALARS, lambda each: st.lists(each, max_size=4) | st.dictionaries(FIELDS, each, max_size=4))
CONTENTS = st.dictionaries(FIELDS, VALUES, max_size=5)


@given(CONTENTS)
def test_whatever_passes_has_the_same_bytes_by_the_library_and_by_the_quick_way(content: dict[str, Any]) -> None:
    kept = clean_content(content)
    assert canonical_bytes(kept) == canonical_bytes_quick(kept)


@given(CONTENTS)
def test_what_is_kept_reads_back_the_same_and_is_clean_already(content: dict[str, Any]) -> None:
    kept = clean_content(content)
    assert json.loads(canonical_bytes(kept)) == kept
    assert clean_content(kept) == kept


@given(st.floats())
def test_no_floating_point_number_passes(number: float) -> None:
    with pytest.raises(PotwrightError, match="content/temp holds the floating-point number"):
        clean_content({"temp": number})


@pytest.mark.parametrize("text", ["a\x00", "\udfff", "a\ud800b"])
def test_text_that_no_database_can_keep_is_refused(text: str) -> None:
    with pytest.raises(PotwrightError, match="The reason holds a character"):
        clean_text(text, of="The reason")


def test_what_has_no_canonical_form_is_refused() -> None:
    for value in ({1: "a"}, {"a": object()}, 2**60, "\ud800"):
        with pytest.raises(PotwrightError, match="cannot be written down"):
            canonical_bytes(value)


def test_one_moment_has_one_text_wherever_the_clock_hangs() -> None:
    moment = datetime(2027, 2, 1, 16, 0, 0, 5, tzinfo=UTC)
    assert moment_text(moment) == "2027-02-01T16:00:00.000005Z"
    assert moment_text(moment.astimezone(timezone(timedelta(hours=-7)))) == moment_text(moment)
    with pytest.raises(PotwrightError, match="without its zone"):
        moment_text(moment.replace(tzinfo=None))
