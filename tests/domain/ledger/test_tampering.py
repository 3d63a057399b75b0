"""Whatever is done to a book is found, and the place is named; an honest book raises no alarm.

The hand that does it knows the program. It works with growing thoroughness: the row alone; with the hash of the row;
with all hashes that follow; with the head of the book; and with the checkpoints kept beside it, thrown away, signed
with another key, or even with the kitchen's own. Against the last three only a checkpoint kept elsewhere helps.
"""

from __future__ import annotations

import random
from collections.abc import Callable
from dataclasses import replace
from datetime import timedelta
from typing import Any

import pytest

from production.domain.ledger import BookHead, Finding, check_book, checkpoint_note, leaf_bytes, leaf_hash
from tests.domain.ledger.books import (
    BEGUN,
    SIGNER,
    STRANGER,
    Book,
    Row,
    a_book,
    chained,
    checkpoint_of,
    head_of,
    said,
)

SIZE = 60
HONEST = a_book(random.Random(1), SIZE, [1, 9, 22, 40, SIZE])
ROUNDS = 1400
Hand = Callable[[random.Random, list[Row]], tuple[int, list[Row]]]


def change(dice: random.Random, rows: list[Row]) -> tuple[int, list[Row]]:
    place = dice.randrange(len(rows))
    old = rows[place].said
    rows[place] = replace(rows[place], said=replace(old, **dice.choice(changes(old))))
    return place + 1, rows


def changes(old: Any) -> list[dict[str, Any]]:
    return [
        {"content": old.content | {"temp": "4.9" if old.content["temp"] != "4.9" else "5.0"}},
        {"content": old.content | {"unit": "F"}},
        {"content": {"temp": old.content["temp"]}},
        {"content": old.content | {"temp": int(float(old.content["temp"]))}},
        {"happened_at": old.happened_at + timedelta(microseconds=1)},
        {"made_at": old.made_at - timedelta(hours=1)},
        {"kind": "moved"},
        {"subject": old.subject.replace("first", "second")},
        {"by": old.by + 1},
        {"by_login": "lee"},
        {"by_name": "Lee Ostrander"},
        {"role": "manager"},
        {"key": f"{old.key}x"},
        {"corrects": 1},
        {"reason": "mistyped"},
    ]


def delete(dice: random.Random, rows: list[Row]) -> tuple[int, list[Row]]:
    place = dice.randrange(len(rows) - 1)
    del rows[place]
    return place + 1, rows


def insert(dice: random.Random, rows: list[Row]) -> tuple[int, list[Row]]:
    place = dice.randrange(len(rows))
    forged = said(place + 1, dice)
    before = rows[place - 1].leaf if place else ""
    forged = replace(forged, before=before)
    rows.insert(place, Row(forged, leaf_hash(leaf_bytes(forged)).hex()))
    return place + 1, rows


def reorder(dice: random.Random, rows: list[Row]) -> tuple[int, list[Row]]:
    one, two = sorted(dice.sample(range(len(rows)), 2))
    first, second = rows[one], rows[two]
    rows[one] = replace(second, said=replace(second.said, number=first.said.number))
    rows[two] = replace(first, said=replace(first.said, number=second.said.number))
    return one + 1, rows


def truncate(dice: random.Random, rows: list[Row]) -> tuple[int, list[Row]]:
    left = dice.randrange(len(rows))
    return left + 1, rows[:left]


HANDS: tuple[Hand, ...] = (change, delete, insert, reorder, truncate)


def with_own_hash(place: int, rows: list[Row]) -> list[Row]:
    """The row that was touched is given the hash that fits it."""
    if place <= len(rows):
        row = rows[place - 1]
        rows[place - 1] = replace(row, leaf=leaf_hash(leaf_bytes(row.said)).hex())
    return rows


def tampered(hand: Hand, thoroughness: int, dice: random.Random) -> tuple[int, Book]:
    place, rows = hand(dice, list(HONEST.rows))
    if thoroughness == 1:
        rows = with_own_hash(place, rows)
    if thoroughness >= 2:
        rows = list(chained(row.said for row in rows))
    book = replace(HONEST, rows=tuple(rows))
    if thoroughness >= 3:
        book = replace(book, head=head_of(rows))
    if thoroughness >= 4:
        kept = [each.size for each in HONEST.checkpoints if each.size <= len(rows)]
        signer = STRANGER if thoroughness == 5 else SIGNER
        again = [checkpoint_of(tuple(rows[:size]), signer) for size in kept]
        book = replace(book, checkpoints=() if thoroughness == 4 else tuple(again))
    return place, book


@pytest.mark.parametrize("thoroughness", range(7))
@pytest.mark.parametrize("hand", HANDS, ids=[each.__name__ for each in HANDS])
def test_whatever_is_done_is_found_and_the_place_is_named(hand: Hand, thoroughness: int) -> None:
    rounds = ROUNDS // (len(HANDS) * 7)
    for seed in range(rounds):
        place, book = tampered(hand, thoroughness, random.Random(f"{hand.__name__} {thoroughness} {seed}"))
        found = book.check()
        assert any(each.first <= place <= each.last for each in found), (seed, place, found)
        if thoroughness == 0:
            assert found[0].first == place, (place, found[0])
            assert found[0].last == (SIZE if hand is truncate else place), (place, found[0])


def test_there_are_a_thousand_of_them() -> None:
    assert ROUNDS // (len(HANDS) * 7) * len(HANDS) * 7 >= 1000


@pytest.mark.parametrize("seed", range(60))
def test_an_honest_book_raises_no_alarm(seed: int) -> None:
    dice = random.Random(seed)
    size = dice.randrange(1, 90)
    book = a_book(dice, size, dice.choices(range(size + 1), k=dice.randrange(6)))
    assert book.check() == ()


def test_an_empty_book_is_honest() -> None:
    assert Book((), BookHead(0, ())).check() == ()
    assert Book((), BookHead(0, ()), (checkpoint_of(()),)).check() == ()


def first(book: Book) -> str:
    return book.check()[0].sentence


def test_the_sentence_says_what_is_wrong_with_which_entry() -> None:
    rows = list(HONEST.rows)
    changed = replace(rows[16], said=replace(rows[16].said, kind="moved"))
    assert first(replace(HONEST, rows=(*rows[:16], changed, *rows[17:]))) == "Entry 17 is not as it was written down."
    assert first(replace(HONEST, rows=(*rows[:16], *rows[17:]))) == "Entry 17 is missing."
    assert first(replace(HONEST, rows=(*rows[:16], *rows[19:]))) == "Entries 17 to 19 are missing."
    assert (
        first(replace(HONEST, rows=(*rows[:17], rows[16], *rows[17:]))) == "Entry 17 stands twice, or out of its order."
    )
    assert first(replace(HONEST, rows=tuple(rows[:57]), outside=())).startswith(
        "The end is missing: the book counts 60"
    )
    more = chained([*(row.said for row in rows), said(61, random.Random(2))])
    assert "there are more, up to entry 61" in first(replace(HONEST, rows=more))


def test_an_entry_changed_together_with_its_hash_is_given_away_by_the_next() -> None:
    rows = list(HONEST.rows)
    rows[16] = replace(rows[16], said=replace(rows[16].said, kind="moved"))
    (found, *_) = replace(HONEST, rows=tuple(with_own_hash(17, rows))).check()
    assert (found.first, found.last) == (17, 18)
    assert "entry 17 was changed or put there" in found.sentence


def test_a_checkpoint_that_was_tampered_with_is_named() -> None:
    def with_checkpoint(**changed: Any) -> list[Finding]:
        kept = [*HONEST.checkpoints]
        kept[2] = replace(kept[2], **changed)
        return list(replace(HONEST, checkpoints=tuple(kept)).check())

    note = HONEST.checkpoints[2].note
    for changed in ({"size": 23}, {"root": "00"}, {"signed_at": BEGUN}, {"key_id": "x"}):
        (found,) = with_checkpoint(**changed)
        assert "does not say the same as its signed note" in found.sentence
    (found,) = with_checkpoint(note=note.replace("entries: 22", "entries: 23"))
    assert "does not belong to what it says" in found.sentence
    (found,) = with_checkpoint(note="gone")
    assert "no checkpoint" in found.sentence


def test_a_checkpoint_of_another_kitchen_or_key_proves_nothing_here() -> None:
    (found,) = replace(HONEST, outside=(checkpoint_of(HONEST.rows, STRANGER).note,)).check()
    assert "signed with a key that is not known here" in found.sentence
    root = bytes.fromhex(HONEST.checkpoints[-1].root)
    foreign = checkpoint_note(kitchen="elsewhere", size=SIZE, root=root, at=BEGUN, signer=SIGNER)
    (found,) = replace(HONEST, outside=(foreign,)).check()
    assert "is of the kitchen 'elsewhere'" in found.sentence


def test_entries_written_while_the_book_is_read_raise_no_alarm() -> None:
    rows = chained([*(row.said for row in HONEST.rows), said(61, random.Random(2))])
    told: dict[str, Any] = {
        "kitchen": "small",
        "entries": [row.kept() for row in rows],
        "head": HONEST.head,
        "checkpoints": HONEST.checkpoints,
        "keys": {SIGNER.key},
    }
    assert check_book(**told, size_after=lambda: 61) == ()
    assert len(check_book(**told, size_after=lambda: 60)) == 1


def test_what_came_after_the_last_checkpoint_can_be_written_anew_by_whoever_can_write_everything() -> None:
    """The limit of what is proven: hence a checkpoint with every document that leaves the house, and one a day."""
    honest = a_book(random.Random(3), 30, [20])
    rows = chained([*(row.said for row in honest.rows[:25]), said(26, random.Random(4))])
    assert replace(honest, rows=rows, head=head_of(rows)).check() == ()
