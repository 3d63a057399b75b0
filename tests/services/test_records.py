"""The one door to the book, and the guards around what came through it."""

from __future__ import annotations

import threading
from datetime import UTC, datetime, timedelta, timezone
from decimal import Decimal
from typing import Any

import pytest
from django.contrib.auth.models import User
from django.db import DatabaseError, connection, transaction

from production.domain.errors import Conflict, NotAllowed, PotwrightError
from production.domain.ledger import Tree, leaf_hash
from production.models import Checkpoint, Entry, Membership, RecordBook
from production.models.guards import guards_standing
from production.selectors.record_check import book_check
from production.selectors.records import entry_bytes
from production.services.checkpoints import checkpoint_now
from production.services.records import Draft, entries_append
from tests.conftest import Cast

NOW = datetime(2027, 2, 2, 16, 0, 0, 123456, tzinfo=UTC)
SUBJECT = "cooling/2027-02-01/R1/first/sink/1.1"


def a_draft(key: str = "k1", **changes: Any) -> Draft:
    said: dict[str, Any] = {
        "kind": "temp_taken",
        "subject": SUBJECT,
        "content": {"temp": "71.5", "unit": "C"},
        "happened_at": NOW - timedelta(minutes=3),
        "key": key,
    }
    return Draft(**said | changes)


def some_drafts(count: int, prefix: str = "k") -> list[Draft]:
    return [
        a_draft(
            f"{prefix}{place}",
            content={"temp": str(Decimal("71.5") - place), "unit": "C"},
            happened_at=NOW + timedelta(minutes=place),
        )
        for place in range(count)
    ]


def append(by: Membership, *drafts: Draft, now: datetime = NOW) -> tuple[Entry, ...]:
    return entries_append(by=by, drafts=drafts, now=now).entries


def honest(by: Membership) -> bool:
    return book_check(kitchen=by.kitchen).findings == ()


@pytest.mark.django_db
@pytest.mark.postgres
def test_what_is_read_back_hashes_to_what_was_written(cast: Cast) -> None:
    away = timezone(timedelta(hours=-7))
    content = {
        "note": 'Fond brun, dégraissé 🍲\t"two" ladles',
        "litres": 40,
        "left": None,
        "ok": True,
        "bones": ["a", []],
    }
    append(cast.cook, a_draft(content=content, happened_at=datetime(2027, 2, 2, 9, 0, tzinfo=away)))
    row = Entry.objects.select_related("corrects").get()
    assert leaf_hash(entry_bytes(row, kitchen_code="small")).hex() == row.leaf_sha256
    assert row.content == content
    assert row.made_at == NOW
    assert honest(cast.cook)


@pytest.mark.django_db
@pytest.mark.postgres
def test_the_book_keeps_the_tops_of_its_tree_and_every_entry_the_one_before(cast: Cast) -> None:
    for drafts in (some_drafts(5, "a"), some_drafts(1, "b"), some_drafts(7, "c")):
        append(cast.cook, *drafts)
    leaves = list(Entry.objects.values_list("leaf_sha256", flat=True))
    assert list(Entry.objects.values_list("before_sha256", flat=True)) == ["", *leaves[:-1]]
    book = RecordBook.objects.get(kitchen=cast.kitchen)
    assert book.size == 13
    signed = checkpoint_now(kitchen_id=cast.kitchen.pk, now=NOW)
    assert signed.root_sha256 == Tree([bytes.fromhex(leaf) for leaf in leaves]).root().hex()
    assert honest(cast.cook)


@pytest.mark.django_db
def test_a_record_sent_twice_is_kept_once_also_within_one_bulk(cast: Cast) -> None:
    first = entries_append(by=cast.cook, drafts=[a_draft(), a_draft("k2"), a_draft()], now=NOW)
    assert [each.number for each in first.entries] == [1, 2, 1]
    again = entries_append(by=cast.cook, drafts=[a_draft("k2"), a_draft("k3")], now=NOW + timedelta(hours=1))
    assert [each.number for each in again.entries] == [2, 3]
    assert again.known == {"k2"}
    assert Entry.objects.count() == 3


@pytest.mark.django_db
def test_letters_composed_differently_are_the_same_record(cast: Cast) -> None:
    append(cast.cook, a_draft(content={"note": "de\u0301graisse\u0301\r\n"}))
    again = entries_append(by=cast.cook, drafts=[a_draft(content={"note": "dégraissé\n"})], now=NOW)
    assert again.known == {"k1"}


@pytest.mark.django_db
@pytest.mark.parametrize(
    "changes",
    [
        {"content": {"temp": "71.6", "unit": "C"}},
        {"happened_at": NOW},
        {"kind": "boil_reached"},
        {"subject": "run/2027-02-01/R1"},
        {"reason": "again"},
    ],
    ids=["content", "time", "kind", "subject", "reason"],
)
def test_a_key_used_for_another_record_is_refused(cast: Cast, changes: dict[str, Any]) -> None:
    append(cast.cook, a_draft())
    with pytest.raises(Conflict, match="already used"):
        append(cast.cook, a_draft(**changes))
    with pytest.raises(Conflict, match="already used"):
        append(cast.cook, a_draft("k2"), a_draft("k2", **changes))


@pytest.mark.django_db
@pytest.mark.parametrize(
    ("changes", "sentence"),
    [
        ({"content": {"temp": 71.5}}, "content/temp holds the floating-point number 71.5"),
        ({"content": {"a": [1, {"b": float("nan")}]}}, "content/a/1/b holds the floating-point number nan"),
        ({"content": {"n": 2**53}}, "whole number beyond"),
        ({"content": {"d": Decimal("1")}}, "of the kind Decimal"),
        ({"content": {"ü": "1"}}, "not plain ASCII"),
        ({"content": {"t": "a\x00b"}}, "content/t holds a character that cannot be kept"),
        ({"content": {"t": "\ud800"}}, "content/t holds a character that cannot be kept"),
        ({"content": {"t": "x" * 300_000}}, "256 KiB"),
        ({"kind": "Reading"}, "kind in small letters"),
        ({"kind": "r" * 41}, "The kind has 41 characters; 40 can be kept"),
        ({"subject": ""}, "a subject"),
        ({"subject": "s" * 161}, "The subject has 161 characters"),
        ({"key": ""}, "a key"),
        ({"key": "k" * 81}, "The key has 81 characters"),
        ({"reason": "r" * 301}, "The reason has 301 characters"),
        ({"happened_at": NOW.replace(tzinfo=None)}, "without its zone"),
    ],
)
def test_what_cannot_be_kept_for_good_is_refused_with_a_sentence(
    cast: Cast, changes: dict[str, Any], sentence: str
) -> None:
    with pytest.raises(PotwrightError, match=sentence):
        append(cast.cook, a_draft("good"), a_draft(**({"key": "bad"} | changes)))
    assert not Entry.objects.exists()


@pytest.mark.django_db
def test_lists_in_lists_without_end_are_refused(cast: Cast) -> None:
    deep: list[Any] = []
    for _ in range(5000):
        deep = [deep]
    with pytest.raises(PotwrightError, match="too many levels"):
        append(cast.cook, a_draft(content={"deep": deep}))


@pytest.mark.django_db
def test_a_correction_names_what_it_corrects_and_says_why(cast: Cast) -> None:
    (wrong,) = append(cast.cook, a_draft())
    with pytest.raises(NotAllowed, match="with a reason"):
        append(cast.cook, a_draft("k2", kind="withdrawn", content={}, corrects=wrong, reason=" "))
    append(cast.cook, a_draft("k2", kind="withdrawn", content={}, corrects=wrong, reason="Read in the ice."))
    with pytest.raises(NotAllowed, match="another kitchen"):
        append(cast.outsider, a_draft(kind="withdrawn", content={}, corrects=wrong, reason="Not ours."))
    assert [each.number for each in wrong.corrections.all()] == [2]
    assert honest(cast.cook)


@pytest.mark.django_db
def test_a_person_who_is_renamed_breaks_nothing(cast: Cast) -> None:
    append(cast.cook, a_draft())
    User.objects.filter(pk=cast.cook.user_id).update(username="kim", first_name="Kim", last_name="Ostrander")
    append(Membership.objects.get(pk=cast.cook.pk), a_draft("k2"))
    assert list(Entry.objects.values_list("by_login", "by_name")) == [("cook", "cook"), ("kim", "Kim Ostrander")]
    assert honest(cast.cook)


@pytest.mark.django_db
def test_kitchens_have_books_of_their_own(cast: Cast) -> None:
    append(cast.cook, a_draft())
    assert append(cast.outsider, a_draft())[0].number == 1
    assert honest(cast.cook)
    assert honest(cast.outsider)


@pytest.mark.django_db
def test_a_damaged_book_takes_no_more(cast: Cast) -> None:
    append(cast.cook, a_draft())
    RecordBook.objects.update(size=2)
    with pytest.raises(Conflict, match="damaged"):
        append(cast.cook, a_draft("k2"))


@pytest.mark.django_db
def test_appending_asks_the_database_the_same_few_times_however_many_come(
    cast: Cast, django_assert_max_num_queries: Any
) -> None:
    append(cast.cook, a_draft("first"))
    with django_assert_max_num_queries(16):  # SQLite takes 66 rows in one statement
        append(cast.cook, *some_drafts(400))


GUARDED = [
    "UPDATE production_entry SET kind = 'boil_reached'",
    "DELETE FROM production_entry",
    "UPDATE production_checkpoint SET size = 9",
    "DELETE FROM production_checkpoint",
]


@pytest.mark.django_db
@pytest.mark.postgres
@pytest.mark.parametrize("statement", GUARDED)
def test_the_database_refuses_to_change_or_delete_what_was_written(cast: Cast, statement: str) -> None:
    append(cast.cook, a_draft())
    checkpoint_now(kitchen_id=cast.kitchen.pk, now=NOW)
    assert guards_standing(connection)
    with pytest.raises(DatabaseError, match="never changed or deleted"), transaction.atomic():
        connection.cursor().execute(statement)
    assert honest(cast.cook)


@pytest.mark.django_db
def test_sqlite_refuses_to_put_another_row_in_the_place_of_one_that_is_there(cast: Cast) -> None:
    append(cast.cook, a_draft())
    checkpoint_now(kitchen_id=cast.kitchen.pk, now=NOW)
    for model, first in [(Entry, "id"), (Entry, "NULL"), (Checkpoint, "id"), (Checkpoint, "NULL")]:
        table, columns = model._meta.db_table, [str(each.column) for each in model._meta.concrete_fields]
        replaced = f"SELECT {', '.join([first, *columns[1:]])} FROM {table}"
        with pytest.raises(DatabaseError, match="never changed or deleted"), transaction.atomic():
            connection.cursor().execute(f"INSERT OR REPLACE INTO {table} ({', '.join(columns)}) {replaced}")


@pytest.mark.django_db(transaction=True)
@pytest.mark.postgres
def test_the_database_refuses_to_empty_the_whole_table(cast: Cast) -> None:
    append(cast.cook, a_draft())
    empty = {"postgresql": "TRUNCATE production_entry CASCADE", "sqlite": "DELETE FROM production_entry"}
    with pytest.raises(DatabaseError, match="never changed or deleted"):
        connection.cursor().execute(empty[connection.vendor])
    assert Entry.objects.count() == 1


@pytest.mark.django_db(transaction=True)
@pytest.mark.postgres
def test_eight_at_once_write_one_unbroken_book_and_nothing_is_lost(cast: Cast) -> None:
    together = threading.Barrier(8)
    troubles: list[Exception] = []

    def write(writer: int) -> None:
        together.wait()
        try:
            for round_ in range(5):
                append(cast.cook, *some_drafts(3, f"w{writer}r{round_}-"), a_draft(f"everybody-{round_}"))
        except Exception as error:  # noqa: BLE001
            troubles.append(error)
        finally:
            connection.close()

    writers = [threading.Thread(target=write, args=(each,)) for each in range(8)]
    for each in writers:
        each.start()
    for each in writers:
        each.join()
    assert troubles == []
    assert list(Entry.objects.values_list("number", flat=True)) == list(range(1, 8 * 5 * 3 + 5 + 1))
    assert honest(cast.cook)


@pytest.mark.django_db(transaction=True)
@pytest.mark.postgres
def test_the_guards_stand_again_after_the_tables_were_emptied(cast: Cast) -> None:
    """The test before this one emptied them."""
    assert guards_standing(connection)
    assert not Entry.objects.exists()


@pytest.mark.django_db
def test_half_a_transaction_leaves_no_half_book(cast: Cast) -> None:
    append(cast.cook, a_draft())

    @transaction.atomic
    def breaks_off() -> None:
        append(cast.cook, a_draft("k2"))
        raise Conflict("The lot was just taken.")

    with pytest.raises(Conflict):
        breaks_off()
    assert append(cast.cook, a_draft("k3"))[0].number == 2
    assert honest(cast.cook)
