"""The signed note: what it says, and that nothing of it can be changed."""

from __future__ import annotations

from datetime import UTC, datetime

import pytest
from hypothesis import given
from hypothesis import strategies as st

from production.domain.errors import PotwrightError
from production.domain.ledger import SignerKey, checkpoint_note, key_id, leaf_hash, read_checkpoint
from production.domain.ledger.checkpoint import key_bytes

SECRET = "dGVzdHMgb25seTogMzIgYnl0ZXMgbm8gb25lIHVzZXM="
SIGNER = SignerKey.read(SECRET)
AT = datetime(2027, 2, 1, 16, 0, tzinfo=UTC)
NOTE = checkpoint_note(kitchen="small", size=72_000, root=leaf_hash(b"root"), at=AT, signer=SIGNER)
LINES = NOTE.splitlines()


def test_a_note_is_seven_lines_that_anybody_can_read() -> None:
    assert LINES[:3] == ["Potwright checkpoint 1", "kitchen: small", "entries: 72000"]
    assert LINES[4] == "time: 2027-02-01T16:00:00.000000Z"
    assert [line.split(":")[0] for line in LINES[3:]] == ["root", "time", "key", "signature"]


def test_a_note_reads_back_as_it_was_signed() -> None:
    read = read_checkpoint(NOTE)
    assert (read.kitchen, read.size, read.root, read.at) == ("small", 72_000, leaf_hash(b"root"), AT)
    assert read.key == SIGNER.key
    assert len(key_id(read.key)) == 16


def test_a_mail_program_may_change_line_ends_and_space_around_it() -> None:
    assert read_checkpoint("\r\n" + NOTE.replace("\n", "\r\n") + "\r\n ") == read_checkpoint(NOTE)


@pytest.mark.parametrize("line", range(7))
def test_a_note_with_one_line_changed_is_refused(line: int) -> None:
    old = LINES[line]
    last = "B" if old[-2] != "B" else "C"
    changed = [*LINES[:line], f"{old[:-2]}{last}{old[-1]}", *LINES[line + 1 :]]
    with pytest.raises(PotwrightError):
        read_checkpoint("\n".join(changed))


@pytest.mark.parametrize("line", range(7))
def test_a_note_that_lacks_a_line_is_refused(line: int) -> None:
    with pytest.raises(PotwrightError, match="no checkpoint"):
        read_checkpoint("\n".join([*LINES[:line], *LINES[line + 1 :]]))


@given(st.integers(0, len(NOTE) - 1), st.characters(exclude_categories=["Cs"]))
def test_no_single_letter_can_be_changed(place: int, letter: str) -> None:
    changed = NOTE[:place] + letter + NOTE[place + 1 :]
    try:
        read = read_checkpoint(changed)
    except PotwrightError:
        return
    assert read == read_checkpoint(NOTE), "only the idle bits of base64 and white space at the end say nothing"


def test_a_note_signed_by_another_key_names_that_key() -> None:
    other = SignerKey.read(SignerKey.new())
    note = checkpoint_note(kitchen="small", size=1, root=leaf_hash(b""), at=AT, signer=other)
    assert read_checkpoint(note).key == other.key != SIGNER.key


@pytest.mark.parametrize("text", ["", "c2hvcnQ=", "not base64", SECRET + SECRET])
def test_a_key_of_another_length_is_refused_and_not_repeated(text: str) -> None:
    with pytest.raises(PotwrightError, match="32 bytes") as refused:
        key_bytes(text)
    assert not text or text not in str(refused.value)
