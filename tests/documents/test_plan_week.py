"""`manage.py plan_week`: from a file to documents, with no database and no server."""

from __future__ import annotations

import csv
import io
import json
import os
import stat
from pathlib import Path

import pikepdf
import pytest
from django.core.management import CommandError, call_command

from production.domain.week_file import LARGEST_BYTES
from tests.documents.reading import words_of

FIXTURES = Path(__file__).resolve().parents[2] / "fixtures"
DEMO = FIXTURES / "demo_week.json"


def plan_week(file: Path, out: Path, *options: str) -> tuple[int, str]:
    """Exit status and everything that was said."""
    said = io.StringIO()
    try:
        call_command("plan_week", str(file), "--out", str(out), *options, stdout=said)
    except CommandError as error:
        return error.returncode, f"{said.getvalue()}\n{error}"
    return 0, said.getvalue()


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, int, str]:
    """The demo week, planned and printed once."""
    out = tmp_path_factory.mktemp("demo") / "out"
    status, said = plan_week(DEMO, out)
    return out, status, said


def test_the_demo_week_is_planned_and_printed(demo: tuple[Path, int, str]) -> None:
    out, status, said = demo
    plan = json.loads((out / "plan.json").read_text(encoding="utf-8"))
    runs = len(plan["runs"])
    assert status == 0, said
    assert runs >= 5
    assert f"{runs} runs, " in said
    assert len(list(out.glob("batch-sheet-*.pdf"))) == runs
    assert len(list(out.glob("cooling-log-*.pdf"))) == sum(len(run["draws"]) for run in plan["runs"])
    assert f"{len(list(out.iterdir()))} files in {out}" in said


def test_every_pdf_of_the_demo_opens_and_names_its_run(demo: tuple[Path, int, str]) -> None:
    out, _, _ = demo
    for path in out.glob("batch-sheet-*.pdf"):
        with pikepdf.open(path) as document:
            run = path.stem.removeprefix("batch-sheet-")
            assert str(document.docinfo["/Title"]).startswith(f"Batch sheet, run {run}:")
            assert len(document.pages) <= 2


def test_the_paper_list_and_the_table_hold_the_same_purchases(demo: tuple[Path, int, str]) -> None:
    out, _, _ = demo
    text = words_of((out / "purchase-list.pdf").read_bytes()).replace(" ", "")
    rows = list(csv.DictReader(io.StringIO((out / "purchase-list.csv").read_text(encoding="utf-8"))))
    assert rows
    for row in rows:
        assert f"{row['packs']}×{row['ingredient']}".replace(" ", "") in text
        assert f"{row['cost']}{row['currency']}" in text


def test_the_time_is_told_by_what_it_was_spent_on(demo: tuple[Path, int, str]) -> None:
    assert "Seconds: read " in demo[2]
    assert ", plan " in demo[2]
    assert ", documents " in demo[2]


def test_without_pdf_the_same_plan_is_written(demo: tuple[Path, int, str], tmp_path: Path) -> None:
    plan_week(DEMO, tmp_path / "out", "--no-pdf")
    assert sorted(path.name for path in (tmp_path / "out").iterdir()) == ["plan.json", "purchase-list.csv"]
    assert (tmp_path / "out" / "plan.json").read_bytes() == (demo[0] / "plan.json").read_bytes()


def test_a_second_plan_takes_the_place_of_the_first_and_leaves_other_files_alone(tmp_path: Path) -> None:
    out = tmp_path / "out"
    out.mkdir()
    (out / "batch-sheet-OLD.pdf").write_bytes(b"old")
    (out / "notes.txt").write_text("mine")
    plan_week(DEMO, out, "--no-pdf")
    assert sorted(path.name for path in out.iterdir()) == ["notes.txt", "plan.json", "purchase-list.csv"]
    assert [path.name for path in tmp_path.iterdir()] == ["out"]


def test_others_may_read_the_folder_as_the_system_allows(tmp_path: Path) -> None:
    plan_week(DEMO, tmp_path / "out", "--no-pdf")
    mask = os.umask(0)
    os.umask(mask)
    assert stat.S_IMODE((tmp_path / "out").stat().st_mode) == 0o777 & ~mask


def test_a_week_that_cannot_be_met_is_planned_as_far_as_it_goes(tmp_path: Path) -> None:
    out = tmp_path / "out"
    status, said = plan_week(FIXTURES / "impossible_week.json", out, "--no-pdf")
    assert status == 3
    plan = json.loads((out / "plan.json").read_text(encoding="utf-8"))
    assert plan["unserved"] or plan["late"]
    for left in plan["unserved"]:
        assert left["sentence"] in said
        assert left["remedy"] in said
    for late in plan["late"]:
        assert f"order line {late['line']} (run {late['run']}). {late['sentence']}" in said


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (b"not json", "problem"),
        (b"{" * 100_000, "problem"),
        (b"\x00" * (LARGEST_BYTES + 1), "problem"),
        (b"{}", "format"),
    ],
    ids=["not-json", "deep", "too-large", "empty"],
)
def test_a_refused_file_ends_with_2_and_nothing_is_written(tmp_path: Path, content: bytes, words: str) -> None:
    file = tmp_path / "week.json"
    file.write_bytes(content)
    status, said = plan_week(file, tmp_path / "out" / "deep")
    assert status == 2
    assert words in said
    assert "nothing was written" in said
    assert [path.name for path in tmp_path.iterdir()] == ["week.json"]


def test_every_problem_is_told_with_place_found_and_allowed(tmp_path: Path) -> None:
    week = json.loads(DEMO.read_text(encoding="utf-8"))
    week["kitchen"]["units"] = "cubits"
    week["days"] = -3
    file = tmp_path / "week.json"
    file.write_text(json.dumps(week))
    status, said = plan_week(file, tmp_path / "out")
    assert status == 2
    assert "/kitchen/units: " in said
    assert "cubits" in said
    assert "/days: " in said
    assert said.count("; allowed: ") == 2
    assert not (tmp_path / "out").exists()


def test_a_missing_file_and_a_file_in_the_way_end_with_2(tmp_path: Path) -> None:
    status, said = plan_week(tmp_path / "nowhere.json", tmp_path / "out")
    assert (status, "cannot be read" in said) == (2, True)
    (tmp_path / "taken").write_text("a file")
    status, said = plan_week(DEMO, tmp_path / "taken")
    assert (status, "names a folder" in said) == (2, True)
    assert (tmp_path / "taken").read_text() == "a file"


def test_a_plan_that_buys_nothing_still_has_its_list(tmp_path: Path) -> None:
    week = json.loads(DEMO.read_text(encoding="utf-8"))
    week["orders"] |= {"lines": [], "par_levels": []}
    file = tmp_path / "week.json"
    file.write_text(json.dumps(week))
    status, said = plan_week(file, tmp_path / "out")
    assert status == 0, said
    assert "0 runs" in said
    assert "Nothing to buy" in words_of((tmp_path / "out" / "purchase-list.pdf").read_bytes())
