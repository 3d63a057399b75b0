"""The registry of computations as a page or an address asks for it."""

from __future__ import annotations

import pytest
from django.http import Http404

from production.domain.workings import REGISTRY
from production.selectors.workings import working_named, workings_all


def test_all_workings_are_listed_by_name() -> None:
    names = [each.name for each in workings_all()]
    assert names == sorted(REGISTRY)
    assert "boiling_point_c" in names


def test_one_working_is_found_by_name_and_an_unknown_one_is_not() -> None:
    assert working_named("boiling_point_c").unit == "degC"
    with pytest.raises(Http404):
        working_named("no_such_working")
