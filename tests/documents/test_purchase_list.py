"""The purchase list says what to order by when, on paper and as a table."""

from __future__ import annotations

import csv
import io
from dataclasses import replace

import pytest

from production.documents.purchase_list import purchase_csv
from production.documents.render import NothingToBuy
from tests.documents.reading import printed, rendered
from tests.documents.samples import HEADING, purchase_list


def test_supplier_times_lines_and_total_are_told() -> None:
    text = printed(purchase_list())
    for words in (
        "Tanager Meats orders 555 0142",
        "order by Mon 9 Mar, 12:00 delivery Tue 10 Mar, 05:30",
        "3 × Beef knuckle bones for R07, R09 10 kg 30 kg 27.4 kg 24.50 USD 73.50 USD Tue 10 Mar, 06:30",
        "2 × Ox tail trim for R07 5 kg 10 kg 9.2 kg 31.20 USD 62.40 USD Tue 10 Mar, 06:30",
        "Total 135.90 USD",
    ):
        assert words in text


def test_a_line_that_brings_less_than_is_needed_says_where_the_rest_is() -> None:
    bones, trim = purchase_list().lines
    text = printed(replace(purchase_list(), lines=(replace(bones, packs=2, mass_kg=20.0), trim)))
    assert "for R07, R09 7.35 kg is left of earlier packs" in text
    assert text.count("earlier packs") == 1


def test_each_supplier_has_a_page_of_its_own() -> None:
    other = replace(purchase_list(), key="P-02", supplier="Marmot Greens")
    both = rendered((purchase_list(), other))
    assert both.pages == 2
    assert "Marmot Greens" in printed((purchase_list(), other))


def test_a_plan_that_buys_nothing_says_so() -> None:
    assert "Nothing to buy" in printed(NothingToBuy(heading=HEADING))


def test_the_table_holds_the_exact_figures() -> None:
    rows = list(csv.DictReader(io.StringIO(purchase_csv([purchase_list()]))))
    assert [row["packs"] for row in rows] == ["3", "2"]
    assert rows[0]["needed_kg"] == "27.350"
    assert rows[0]["cost"] == "73.50"
    assert rows[0]["order_by"] == "2026-03-09T12:00-06:00"
    assert rows[0]["for_runs"] == "R07 R09"


def test_a_name_that_a_spreadsheet_would_run_becomes_text() -> None:
    sly = replace(purchase_list(), supplier='=HYPERLINK("http://example.test")', contact="+1 555")
    row = next(csv.DictReader(io.StringIO(purchase_csv([sly]))))
    assert row["supplier"].startswith("'=")
    assert row["contact"] == "'+1 555"


@pytest.mark.parametrize("hidden", ["\u200b", "\ufeff", "\u202e\u2066"])
@pytest.mark.parametrize("sign", ["=", "+", "-", "@"])
def test_signs_that_nobody_sees_do_not_hide_a_formula(hidden: str, sign: str) -> None:
    sly = replace(purchase_list(), supplier=f"{hidden}{sign}1+1", contact=f"{hidden}Tanager")
    row = next(csv.DictReader(io.StringIO(purchase_csv([sly]))))
    assert row["supplier"] == f"'{hidden}{sign}1+1"
    assert row["contact"] == f"{hidden}Tanager"


def test_the_list_tells_plan_and_version() -> None:
    second = replace(purchase_list(), heading=replace(HEADING, version=3, replaces=2))
    assert "plan 7f3a21 of Sun 8 Mar, 17:05 · version 3, replaces version 2" in printed(second)
    assert "plan 7f3a21" in printed(NothingToBuy(heading=HEADING))
