"""A hand in the database itself, with the guards taken down: whatever it does is found. More in tests/domain/ledger."""

from __future__ import annotations

import random
from collections.abc import Callable
from datetime import timedelta
from functools import partial
from typing import Any

import pytest
from django.db import connection, transaction
from django.db.models import F

from production.domain.ledger import Finding
from production.models import Checkpoint, Entry, RecordBook
from production.models.guards import guards_take_down
from production.selectors.record_check import book_check
from production.services.checkpoints import checkpoint_now
from production.services.records import entries_append
from tests.conftest import Cast
from tests.services.test_records import NOW, a_draft, some_drafts

pytestmark = [pytest.mark.django_db, pytest.mark.postgres]
SIZE = 24
Hand = Callable[[random.Random], int]


@pytest.fixture
def book(cast: Cast) -> Cast:
    """Twenty-four entries, signed at 10 and 20, and nobody to guard them."""
    for prefix, count, sign in (("a", 10, True), ("b", 10, True), ("c", 3, False)):
        entries_append(by=cast.cook, drafts=some_drafts(count, prefix), now=NOW)
        if sign:
            checkpoint_now(kitchen_id=cast.kitchen.pk, now=NOW)
    wrong = Entry.objects.get(number=5)
    undo = a_draft("undo", kind="withdrawn", content={}, corrects=wrong, reason="Read in the ice.")
    entries_append(by=cast.manager, drafts=[undo], now=NOW)
    guards_take_down(connection)
    return cast


def entry(number: int) -> Any:
    return Entry.objects.filter(number=number)


def change(dice: random.Random) -> int:
    number = dice.randrange(1, SIZE + 1)
    other = Entry.objects.exclude(by=entry(number).get().by).values_list("by", flat=True).first()
    changes: list[dict[str, Any]] = [
        {"content": {"temp": "4.9", "unit": "C"}},
        {"content": {"temp": "71.5", "unit": "F"}},
        {"content": []},
        {"content": {"temp": 71.5, "unit": "C"}},
        {"content": "gone"},
        {"made_at": NOW + timedelta(seconds=1)},
        {"happened_at": NOW + timedelta(days=1)},
        {"kind": "moved"},
        {"subject": "run/2027-02-01/R1"},
        {"by": other},
        {"by": None},
        {"by_login": "lee"},
        {"by_name": "Lee Ostrander"},
        {"role": "inspector"},
        {"key": "another"},
        {"corrects": entry(1).get(), "reason": "no reason at all"},
        {"reason": "mistyped"},
        {"before_sha256": "0" * 64},
        {"leaf_sha256": "0" * 64},
        {"leaf_sha256": "not a hash"},
    ]
    entry(number).update(**dice.choice(changes))
    return number


def delete(dice: random.Random) -> int:
    number = dice.choice([each for each in range(1, SIZE) if each != 5])
    entry(number).delete()
    return number


def truncate(dice: random.Random) -> int:
    left = dice.randrange(SIZE)
    Entry.objects.filter(number=SIZE).update(corrects=None, reason="")
    Entry.objects.filter(number__gt=left).delete()
    return left + 1


def put_at_the_end(dice: random.Random) -> int:
    row = entry(dice.randrange(1, SIZE + 1)).get()
    row.pk, row.number, row.key = None, SIZE + 1, "forged"
    row.save(force_insert=True)
    return SIZE + 1


def put_between(dice: random.Random) -> int:
    place = dice.randrange(1, SIZE)
    row = entry(place).get()
    for number in range(SIZE, place, -1):
        entry(number).update(number=number + 1)
    row.pk, row.number, row.key = None, place + 1, "forged"
    row.save(force_insert=True)
    return place + 1


def swap(dice: random.Random) -> int:
    one, two = sorted(dice.sample(range(1, SIZE + 1), 2))
    entry(one).update(number=1000)
    entry(two).update(number=one)
    entry(1000).update(number=two)
    return one


HANDS: tuple[Hand, ...] = (change, delete, truncate, put_at_the_end, put_between, swap)
ROUNDS = {"change": 200}


@pytest.mark.parametrize("hand", HANDS, ids=[each.__name__ for each in HANDS])
def test_whatever_is_done_to_a_row_is_found_and_the_entry_is_named_first(book: Cast, hand: Hand) -> None:
    assert book_check(kitchen=book.kitchen).findings == ()
    for seed in range(ROUNDS.get(hand.__name__, 40)):
        place, found = undone(partial(hand, random.Random(seed)), book)
        assert found, (seed, place)
        assert found[0].first == place, (seed, place, found)


def undone(hand: Callable[[], Any], book: Cast) -> tuple[Any, tuple[Finding, ...]]:
    with transaction.atomic():
        place = hand()
        found = book_check(kitchen=book.kitchen).findings
        transaction.set_rollback(True)
    return place, found


BESIDE: dict[str, tuple[Callable[[], object], str]] = {
    "the head says more": (lambda: RecordBook.objects.update(size=F("size") + 1), "The end is missing"),
    "the head says less": (lambda: RecordBook.objects.update(size=F("size") - 1), "but there are more"),
    "the head is gone": (lambda: RecordBook.objects.all().delete(), "but there are more"),
    "other tops": (lambda: RecordBook.objects.update(peaks=["00" * 32, "11" * 32]), "tops of the tree"),
    "no tops": (lambda: RecordBook.objects.update(peaks=[]), "tops of the tree"),
    "a checkpoint moved": (lambda: Checkpoint.objects.filter(size=10).update(size=11), "not say the same"),
    "a checkpoint of another root": (lambda: Checkpoint.objects.update(root_sha256="00"), "not say the same"),
    "a checkpoint of another time": (lambda: Checkpoint.objects.update(signed_at=NOW + timedelta(1)), "not say the"),
    "a note that says something else": (lambda: Checkpoint.objects.update(note="all is well"), "cannot be trusted"),
}


@pytest.mark.parametrize("what", BESIDE)
def test_what_is_done_beside_the_entries_is_found_too(book: Cast, what: str) -> None:
    hand, sentence = BESIDE[what]
    _, found = undone(hand, book)
    assert any(sentence in each.sentence for each in found), found


def test_a_kitchen_that_is_given_another_code_is_another_book(book: Cast) -> None:
    book.kitchen.code = "renamed"
    assert book_check(kitchen=book.kitchen).findings[0].first == 1
