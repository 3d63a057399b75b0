"""Entries as they are shown, and the proofs that go with them."""

from __future__ import annotations

import json
from base64 import b64decode
from datetime import timedelta
from hashlib import sha256
from typing import Any

import pytest

from production.domain.errors import Conflict
from production.domain.ledger import leaf_hash, read_checkpoint, verify_consistency, verify_inclusion
from production.models import Checkpoint, Entry
from production.selectors.records import (
    entries_of,
    growth_proof,
    history_of,
    last_checkpoint,
    proof_of_entry,
    proofs_of,
    seal_text,
)
from production.services.checkpoints import checkpoint_now
from production.services.records import Draft, entries_append
from tests.conftest import Cast
from tests.services.test_records import NOW, SUBJECT, a_draft, some_drafts

pytestmark = pytest.mark.django_db


def written(cast: Cast, *drafts: Draft) -> list[Entry]:
    return list(entries_append(by=cast.cook, drafts=drafts, now=NOW).entries)


def signed(cast: Cast) -> Checkpoint:
    return checkpoint_now(kitchen_id=cast.kitchen.pk, now=NOW)


def correction(key: str, of: Entry, **changes: Any) -> Draft:
    return a_draft(key, kind="withdrawn", content={}, corrects=of, reason="Wrong pot.", **changes)


def test_the_entries_of_a_subject_come_in_the_order_in_which_they_were_written(cast: Cast) -> None:
    written(cast, *some_drafts(3), a_draft("other", subject="run/2027-02-01/R1"))
    written(cast, a_draft("late", happened_at=NOW - timedelta(hours=9)))
    assert [each.number for each in entries_of(by=cast.inspector, subject=SUBJECT)] == [1, 2, 3, 5]
    assert not entries_of(by=cast.outsider, subject=SUBJECT).exists()


def test_what_was_corrected_is_struck_through_with_the_reason_and_stays(cast: Cast) -> None:
    first, second = written(cast, *some_drafts(2))
    written(cast, correction("c", first))
    told = history_of(by=cast.inspector, subject=SUBJECT)
    assert [(each.entry.number, each.struck, each.by_number, each.reason) for each in told] == [
        (1, True, 3, "Wrong pot."),
        (2, False, None, ""),
        (3, False, None, ""),
    ]
    assert second.number == 2


def test_a_correction_that_was_withdrawn_strikes_nothing(cast: Cast) -> None:
    (first,) = written(cast, a_draft())
    (wrong,) = written(cast, correction("c", first))
    written(cast, correction("c2", wrong))
    assert [each.struck for each in history_of(by=cast.cook, subject=SUBJECT)] == [False, True, False]


def test_an_entry_that_confirms_another_does_not_strike_it(cast: Cast) -> None:
    (first,) = written(cast, a_draft())
    written(cast, a_draft("c", content={"confirms": first.number}, corrects=first, reason="Measured again."))
    assert [each.struck for each in history_of(by=cast.cook, subject=SUBJECT)] == [False, False]


@pytest.mark.postgres
def test_one_entry_can_be_proven_alone_from_what_its_proof_says(cast: Cast) -> None:
    written(cast, *some_drafts(11))
    checkpoint = signed(cast)
    proof = json.loads(json.dumps(proof_of_entry(checkpoint=checkpoint, entry=Entry.objects.get(number=7))))
    leaf = b64decode(proof["leaf"])
    assert json.loads(leaf)["content"] == {"temp": "65.5", "unit": "C"}
    note = read_checkpoint(proof["checkpoint"])
    said = {"index": proof["index"], "size": proof["size"], "path": [b64decode(each) for each in proof["path"]]}
    assert (proof["index"], proof["size"]) == (6, note.size)
    assert verify_inclusion(leaf=leaf_hash(leaf), root=note.root, **said)
    assert not verify_inclusion(leaf=leaf_hash(leaf.replace(b"65.5", b"4.5")), root=note.root, **said)


def test_all_entries_of_a_log_are_proven_with_few_questions_to_the_database(
    cast: Cast, django_assert_num_queries: Any
) -> None:
    written(cast, *some_drafts(40))
    checkpoint = Checkpoint.objects.select_related("kitchen").get(pk=signed(cast).pk)
    entries = list(entries_of(by=cast.cook, subject=SUBJECT))
    with django_assert_num_queries(1):
        proofs = proofs_of(checkpoint=checkpoint, entries=entries)
    assert len(proofs["entries"]) == 40


def test_a_checkpoint_does_not_vouch_for_what_came_later(cast: Cast) -> None:
    written(cast, *some_drafts(2))
    checkpoint = signed(cast)
    (late,) = written(cast, a_draft("late"))
    with pytest.raises(Conflict, match="entry 3 came later"):
        proof_of_entry(checkpoint=checkpoint, entry=late)


def test_a_later_checkpoint_is_shown_to_carry_on_from_an_earlier_one(cast: Cast) -> None:
    empty = signed(cast)
    written(cast, *some_drafts(5, "a"))
    older = signed(cast)
    written(cast, *some_drafts(8, "b"))
    newer = signed(cast)
    assert last_checkpoint(by=cast.inspector) == newer
    assert growth_proof(older=empty, newer=newer) == []
    assert verify_consistency(
        old_size=older.size,
        new_size=newer.size,
        old_root=read_checkpoint(older.note).root,
        new_root=read_checkpoint(newer.note).root,
        path=[b64decode(each) for each in growth_proof(older=older, newer=newer)],
    )


def test_the_seal_of_a_paper_holds_the_checkpoint_and_what_the_paper_shows(cast: Cast) -> None:
    written(cast, *some_drafts(3))
    checkpoint = signed(cast)
    entries = list(entries_of(by=cast.cook, subject=SUBJECT))
    seal = seal_text(checkpoint=checkpoint, subject=SUBJECT, entries=entries)
    note, _, shown = seal.partition("subject: ")
    assert read_checkpoint(note).size == 3
    assert shown.splitlines()[:2] == [SUBJECT, "shown: 3 entries, 1 to 3"]
    leaves = sha256(b"".join(bytes.fromhex(each.leaf_sha256) for each in entries)).digest()
    assert b64decode(shown.splitlines()[2].removeprefix("leaves: ")) == leaves
    assert len(seal) < 700
