"""Proving the records in the background."""

from __future__ import annotations

from typing import Any

import pytest
from django.apps import apps
from django.db import connection
from django.db.models.signals import post_migrate

from production.domain.errors import NotAllowed
from production.domain.ledger import read_checkpoint
from production.models import Entry, Job
from production.models.guards import guards_standing, guards_take_down
from production.selectors.record_check import book_check
from production.services.record_proofs import records_verify_request
from production.services.records import entries_append
from tests.conftest import Cast
from tests.services.test_records import NOW, some_drafts


def told(cast: Cast) -> dict[str, Any]:
    """What the job answers when the inspector asks."""
    job = Job.objects.get(pk=records_verify_request(by=cast.inspector))
    assert job.state == Job.State.DONE
    return dict(job.result or {})


@pytest.mark.django_db(transaction=True)
def test_the_inspector_asks_and_is_told_with_a_checkpoint_to_keep(cast: Cast) -> None:
    entries_append(by=cast.cook, drafts=some_drafts(3), now=NOW)
    answer = told(cast)
    assert (answer["entries"], answer["findings"]) == (3, [])
    assert read_checkpoint(answer["checkpoint"]).size == 3
    assert book_check(kitchen=cast.kitchen, outside=[answer["checkpoint"]]).findings == ()


@pytest.mark.django_db(transaction=True)
def test_a_broken_entry_is_named_to_the_inspector(cast: Cast) -> None:
    entries_append(by=cast.cook, drafts=some_drafts(3), now=NOW)
    guards_take_down(connection)
    Entry.objects.filter(number=2).update(kind="moved")
    answer = told(cast)
    assert answer["guarded"] is False
    assert answer["findings"][0] == {
        "first": 2,
        "last": 2,
        "sentence": "Entry 2 is not as it was written down.",
    }


@pytest.mark.django_db
def test_a_cook_does_not_ask(cast: Cast) -> None:
    with pytest.raises(NotAllowed):
        records_verify_request(by=cast.cook)


@pytest.mark.django_db
@pytest.mark.postgres
def test_every_migration_puts_the_guards_up_again(db: None) -> None:
    guards_take_down(connection)
    assert not guards_standing(connection)
    config = apps.get_app_config("production")
    for _ in range(2):
        post_migrate.send(sender=config, app_config=config, verbosity=0, interactive=False, using="default")
    assert guards_standing(connection)
