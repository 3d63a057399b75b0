"""The demo: loaded, planned and printed once, quick the second time, never on a live installation."""

from __future__ import annotations

import json
from collections.abc import Iterator
from io import StringIO
from pathlib import Path
from typing import Any

import pytest
from django.contrib.auth import authenticate
from django.core.management import CommandError, call_command
from django.test import override_settings

from production.documents.render import RenderedPdf
from production.models import Document, Membership, OrderLine, Plan
from production.services import demo, documents

pytestmark = pytest.mark.django_db


def load(out: Path) -> str:
    said = StringIO()
    call_command("load_demo", out=out, stdout=said)
    return said.getvalue()


@pytest.fixture
def press(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """Instead of the real ones: note what is rendered, beside the planning or in place."""
    rendered: list[str] = []

    def render(content: Any, *, paper: str) -> RenderedPdf:
        rendered.append(content.key)
        return RenderedPdf(pdf=b"%PDF-demo", pages=1)

    class Press:
        def __enter__(self) -> Press:
            return self

        def __exit__(self, *_: object) -> None:
            rendered.append("off")

        def render(self, contents: list[Any], *, paper: str) -> Iterator[RenderedPdf]:
            return (render(each, paper=paper) for each in contents)

    monkeypatch.setattr(documents, "render_document", render)
    monkeypatch.setattr(demo, "Press", Press)
    return rendered


def test_the_demo_is_loaded_planned_and_printed_and_a_second_time_nothing_is_done_again(
    tmp_path: Path, press: list[str]
) -> None:
    with override_settings(DATA_DIR=tmp_path):
        first = load(tmp_path / "out")
        assert press.pop() == "off"
        count = len(press)
        second = load(tmp_path / "out")
    assert second == first
    assert len(press) == count == Document.objects.count()
    plan = Plan.objects.get()
    folder = tmp_path / "out" / f"{plan.kitchen.code}-{plan.week.starts_on}" / "plan-1"
    assert json.loads((folder / "plan.json").read_text()) == plan.result
    assert len(list(folder.glob("*.pdf"))) == count


def test_a_document_that_is_missing_is_rendered_without_starting_a_press(tmp_path: Path, press: list[str]) -> None:
    with override_settings(DATA_DIR=tmp_path):
        load(tmp_path / "out")
        press.clear()
        gone = Document.objects.latest("pk")
        gone.delete()
        load(tmp_path / "out")
    assert press == [gone.key]


def test_everybody_of_the_demo_can_sign_in_with_what_is_printed(tmp_path: Path, press: list[str]) -> None:
    with override_settings(DATA_DIR=tmp_path):
        lines = load(tmp_path / "out").split("Sign-ins of the demo:\n")[1].splitlines()
    roles = {}
    for line in lines:
        name, password, role, *_ = line.split()
        assert authenticate(username=name, password=password), name
        roles[name] = role
    assert sorted(roles.values()) == ["administrator", "cook", "inspector", "manager", "manager"]
    assert Membership.objects.count() == 5
    assert (tmp_path / "demo-sign-ins.json").stat().st_mode & 0o077 == 0


def test_orders_that_somebody_changed_stay_changed_and_are_planned_anew(tmp_path: Path, press: list[str]) -> None:
    with override_settings(DATA_DIR=tmp_path):
        load(tmp_path / "out")
        line = OrderLine.objects.order_by("pk")[0]
        OrderLine.objects.filter(pk=line.pk).update(containers=line.containers + 1)
        load(tmp_path / "out")
    assert OrderLine.objects.get(pk=line.pk).containers == line.containers + 1
    assert list(Plan.objects.values_list("number", "status")) == [(2, "draft"), (1, "superseded")]


def test_a_live_installation_refuses_the_demo(tmp_path: Path) -> None:
    with override_settings(SETTINGS_MODULE="production.settings.live"), pytest.raises(CommandError):
        load(tmp_path / "out")
    assert not Membership.objects.exists()
