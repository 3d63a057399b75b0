"""The completed log of a cooling is printed from its page, and stands among the documents of the week."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import AbstractContextManager
from typing import Any

import pytest
from django.urls import reverse

from production.models import Document, PlanningWeek
from tests.conftest import Cast
from tests.services.cooling_kit import a_run, act, opened, read_all
from tests.web.conftest import signed_in

Commit = Callable[..., AbstractContextManager[list[Callable[[], Any]]]]


@pytest.mark.django_db
def test_a_cook_prints_a_closed_log_and_finds_it_among_the_documents(
    cast: Cast, planning_week: PlanningWeek, django_capture_on_commit_callbacks: Commit
) -> None:
    cooling = opened(cast.cook, a_run(cast.manager, planning_week))
    read_all(cast.cook, cooling)
    client, name = signed_in(cast.cook), cooling.subject.removeprefix("cooling/")
    page = reverse("cooling-group", args=["small", name])
    assert "Print the completed log" not in client.get(page).content.decode()
    address = reverse("cooling-print", args=["small", name])
    early = client.post(address)
    assert (early.status_code, Document.objects.count()) == (409, 0)
    act(cast.cook, cooling, "cooling_closed", 301, {})
    assert address in client.get(page).content.decode()
    with django_capture_on_commit_callbacks(execute=True):
        answer = client.post(address, {"request_key": "once"})
    assert answer.status_code == 302
    document = Document.objects.get()
    assert client.get(answer["Location"])["Location"] == reverse("document-pdf", args=["small", document.pk])
    shelf = client.get(reverse("documents", args=["small", planning_week.starts_on])).content.decode()
    assert document.title in shelf
    assert client.get(reverse("document-pdf", args=["small", document.pk])).content.startswith(b"%PDF-")
