"""The measuring of the book measures what it says, on a few entries."""

from __future__ import annotations

import pytest

from production.domain.ledger import Finding
from production.models import Entry, Reading
from production.selectors.record_check import BookCheck
from tests.benchmarks.ledger import ALONE, Measured, measured, whole


@pytest.mark.django_db
def test_it_appends_proves_and_verifies_as_many_as_it_was_told() -> None:
    lines = list(measured(70))
    assert [each.what.split()[0] for each in lines] == ["append", "append", "prove", "verify"]
    assert Entry.objects.filter(kind="reading").count() == Reading.objects.count() == 70 + ALONE


def test_a_book_that_is_not_whole_counts_for_nothing() -> None:
    broken = BookCheck("small", 1000, 1, (Finding(7, 7, "Entry 7 is missing."),), guarded=True)
    with pytest.raises(AssertionError, match="Entry 7 is missing"):
        whole(broken)


@pytest.mark.parametrize(("seconds", "wanted", "said"), [(1.0, 5.0, "yes"), (6.0, 5.0, "NO"), (6.0, None, "")])
def test_a_line_says_whether_the_figure_was_kept(seconds: float, wanted: float | None, said: str) -> None:
    assert Measured("verify all", seconds, 0.5, wanted).line().split("|")[5].strip() == said
