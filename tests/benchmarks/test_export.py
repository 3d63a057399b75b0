"""The measuring of the package measures what it says, on a few entries."""

from __future__ import annotations

from pathlib import Path

import pytest

from production.models import Entry
from tests.benchmarks.export import measured


@pytest.mark.django_db
def test_it_packs_and_checks_as_many_as_it_was_told(tmp_path: Path) -> None:
    path = tmp_path / "records.zip"
    lines = list(measured(60, path))
    assert [each.what.split()[0].rstrip(",") for each in lines] == ["pack", "check"]
    assert Entry.objects.filter(kind="reading").count() == 60
    assert path.stat().st_size > 0
