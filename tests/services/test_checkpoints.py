"""Signing how the books stand, and the commands around it."""

from __future__ import annotations

import io
import stat
import threading
from base64 import b64decode, b64encode
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from django.core.management import CommandError, call_command
from django.db import connection

from production.domain.ledger import SignerKey, read_checkpoint
from production.models import Checkpoint, Entry, RecordBook
from production.models.guards import guards_take_down
from production.selectors.record_check import book_check, trusted_keys
from production.services.checkpoints import checkpoint_now, checkpoints_due, signer_of_this_installation
from production.services.records import entries_append
from tests.conftest import Cast
from tests.services.test_records import NOW, some_drafts


def grow(cast: Cast, prefix: str, count: int = 3) -> None:
    entries_append(by=cast.cook, drafts=some_drafts(count, prefix), now=NOW)


def sign(cast: Cast, *, hours: int = 0) -> Checkpoint:
    return checkpoint_now(kitchen_id=cast.kitchen.pk, now=NOW + timedelta(hours=hours))


@pytest.mark.django_db
@pytest.mark.postgres
def test_a_book_that_has_not_grown_keeps_its_checkpoint(cast: Cast) -> None:
    grow(cast, "a")
    first = sign(cast)
    assert sign(cast, hours=1) == first
    grow(cast, "b")
    second = sign(cast, hours=2)
    assert [first.size, second.size] == [3, 6]
    assert book_check(kitchen=cast.kitchen).checkpoints == 2
    assert book_check(kitchen=cast.kitchen, outside=[first.note, second.note]).findings == ()


@pytest.mark.django_db
def test_an_empty_book_can_be_signed_too(cast: Cast) -> None:
    assert sign(cast).size == 0
    assert book_check(kitchen=cast.kitchen).findings == ()


@pytest.mark.django_db(transaction=True)
@pytest.mark.postgres
def test_two_who_sign_at_once_share_one_checkpoint(cast: Cast) -> None:
    grow(cast, "a")
    together = threading.Barrier(4)
    made: list[int] = []

    def one() -> None:
        together.wait()
        try:
            made.append(sign(cast).pk)
        finally:
            connection.close()

    signers = [threading.Thread(target=one) for _ in range(4)]
    for each in signers:
        each.start()
    for each in signers:
        each.join()
    assert len(made) == 4
    assert len(set(made)) == 1


@pytest.mark.django_db
@pytest.mark.postgres
def test_once_a_day_every_book_that_has_grown_is_signed(cast: Cast) -> None:
    grow(cast, "a")
    RecordBook.objects.create(kitchen=cast.outsider.kitchen)
    assert checkpoints_due(now=NOW) == 1
    grow(cast, "b")
    assert checkpoints_due(now=NOW + timedelta(hours=23)) == 0
    assert checkpoints_due(now=NOW + timedelta(hours=25)) == 1
    assert checkpoints_due(now=NOW + timedelta(hours=99)) == 0, "nothing was written since"
    assert list(Checkpoint.objects.values_list("size", flat=True)) == [3, 6]


@pytest.mark.django_db
def test_a_key_is_made_once_for_this_machine_and_only_its_owner_reads_it(settings: Any, tmp_path: Path) -> None:
    settings.SIGNING_KEY, settings.SIGNING_KEY_FILE = "", tmp_path / "signing-key"
    assert trusted_keys() == frozenset()
    together = threading.Barrier(6)
    keys: list[bytes] = []

    def first_use() -> None:
        together.wait()
        keys.append(signer_of_this_installation().key)

    users = [threading.Thread(target=first_use) for _ in range(6)]
    for each in users:
        each.start()
    for each in users:
        each.join()
    assert len(keys) == 6
    assert trusted_keys() == frozenset(keys)
    assert [path.name for path in tmp_path.iterdir()] == ["signing-key"]
    assert stat.S_IMODE((tmp_path / "signing-key").stat().st_mode) == 0o600


@pytest.mark.django_db
def test_checkpoints_of_a_key_that_is_no_longer_used_count_when_it_is_told(cast: Cast, settings: Any) -> None:
    grow(cast, "a")
    old = b64encode(signer_of_this_installation().key).decode()
    sign(cast)
    settings.SIGNING_KEY = SignerKey.new()
    (found,) = book_check(kitchen=cast.kitchen).findings
    assert "signed with a key that is not known here" in found.sentence
    settings.EARLIER_SIGNING_KEYS = (old,)
    assert book_check(kitchen=cast.kitchen).findings == ()
    assert sign(cast, hours=1).size == 3, "the new key signs the same size anew"
    assert Checkpoint.objects.count() == 2
    assert book_check(kitchen=cast.kitchen).findings == ()


def told(*arguments: str) -> str:
    out = io.StringIO()
    call_command(*arguments, stdout=out)
    return out.getvalue()


@pytest.mark.django_db
def test_the_command_prints_a_checkpoint_that_proves_the_book_later(cast: Cast, tmp_path: Path) -> None:
    grow(cast, "a")
    note = told("sign_records", "--kitchen", "small")
    assert (read_checkpoint(note).kitchen, read_checkpoint(note).size) == ("small", 3)
    grow(cast, "b")
    kept = tmp_path / "note.txt"
    kept.write_text(note)
    said = told("verify_records", "--kitchen", "small", "--checkpoint", str(kept))
    assert said == "small (entries: 6, checkpoints: 1 and 1 given): nothing was changed.\n"
    assert told("verify_records").splitlines()[0].startswith("elsewhere (entries: 0")


@pytest.mark.django_db
def test_the_command_names_the_broken_entry_and_ends_with_one(
    cast: Cast, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    grow(cast, "a")
    kept = tmp_path / "note.txt"
    kept.write_text(told("sign_records", "--kitchen", "small"))
    guards_take_down(connection)
    Entry.objects.filter(number=2).update(happened_at=NOW)
    with pytest.raises(SystemExit) as ended:
        call_command("verify_records")
    assert ended.value.code == 1
    printed = capsys.readouterr()
    assert "Entry 2 is not as it was written down." in printed.out
    assert "does not refuse changes" in printed.err
    Entry.objects.filter(number__gte=2).delete()
    Checkpoint.objects.all().delete()
    entry = Entry.objects.get()
    RecordBook.objects.update(size=1, peaks=[entry.leaf_sha256])
    told("verify_records")
    with pytest.raises(SystemExit):
        call_command("verify_records", "--kitchen", "small", "--checkpoint", str(kept))
    assert "vouches for 3 entries, but the last one there is entry 1" in capsys.readouterr().out


@pytest.mark.django_db
@pytest.mark.parametrize(
    ("arguments", "sentence"),
    [
        (["verify_records", "--kitchen", "nowhere"], "no kitchen 'nowhere'"),
        (["sign_records", "--kitchen", "nowhere"], "no kitchen 'nowhere'"),
        (["verify_records", "--checkpoint", "README.md"], "which kitchen"),
        (["verify_records", "--kitchen", "small", "--checkpoint", "not-there.txt"], "cannot be read"),
    ],
)
def test_what_the_commands_cannot_do_they_say(cast: Cast, arguments: list[str], sentence: str) -> None:
    with pytest.raises(CommandError, match=sentence):
        call_command(*arguments)


def test_keys_are_printed_for_the_settings(settings: Any) -> None:
    secret = told("sign_records", "--new-key").strip()
    settings.SIGNING_KEY = secret
    assert b64decode(told("sign_records", "--show-key")) == SignerKey.read(secret).key
