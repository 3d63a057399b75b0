"""What all documents share: tags, fonts, paper, escaping, nothing fetched, several processes."""

from __future__ import annotations

import io
from dataclasses import replace

import pdfplumber
import pikepdf
import pytest

from production.documents.render import Content, Paper, Press, document_html, render_document
from production.domain.sheets import BatchSheet, WeekOverview
from tests.documents.reading import printed, rendered, words_of
from tests.documents.samples import HEADING, batch_sheet, cooling_log, in_us_units, purchase_list
from tests.documents.test_week_overview import overview

EVERY_KIND: tuple[Content, ...] = (batch_sheet(), cooling_log(), purchase_list(), overview())
HOSTILE = '<script>alert("1")</script> & </svg></td><img src=http://example.test/x.png>'
LONG = "Rindfleischetikettierungsüberwachungsknochenbrühenkonzentrat"


def fonts_of(pdf: bytes) -> dict[str, bool]:
    """Names of the fonts used, and whether the font is inside."""
    found: dict[str, bool] = {}
    with pikepdf.open(io.BytesIO(pdf)) as document:
        for entry in document.objects:
            if isinstance(entry, pikepdf.Dictionary) and entry.get("/Type") == "/FontDescriptor":
                found[str(entry["/FontName"])] = any(key in entry for key in ("/FontFile", "/FontFile2", "/FontFile3"))
    return found


@pytest.mark.parametrize("content", EVERY_KIND, ids=lambda content: content.kind)
def test_a_document_is_tagged_and_has_language_and_title(content: Content) -> None:
    with pikepdf.open(io.BytesIO(rendered(content).pdf)) as document:
        assert bool(document.Root.MarkInfo.Marked)
        assert "/StructTreeRoot" in document.Root
        assert str(document.Root.Lang) == "en"
        assert str(document.docinfo["/Title"]).startswith(
            ("Batch sheet", "Cooling log", "Purchase list", "Week overview")
        )


@pytest.mark.parametrize("content", EVERY_KIND, ids=lambda content: content.kind)
def test_only_our_own_type_is_used_and_it_is_inside(content: Content) -> None:
    fonts = fonts_of(rendered(content).pdf)
    assert fonts
    assert all("Potwright" in name for name in fonts), fonts
    assert all(fonts.values())


def test_drawings_have_a_name_for_those_who_cannot_see_them() -> None:
    with pikepdf.open(io.BytesIO(rendered(batch_sheet()).pdf)) as document:
        names = [
            str(entry["/Alt"])
            for entry in document.objects
            if isinstance(entry, pikepdf.Dictionary) and entry.get("/S") == "/Figure" and "/Alt" in entry
        ]
    assert any("Big Juniper" in name for name in names), names
    assert any("R07" in name for name in names), names


@pytest.mark.parametrize(("paper", "size"), [("a4", (595, 842)), ("letter", (612, 792))])
@pytest.mark.parametrize("content", EVERY_KIND, ids=lambda content: content.kind)
def test_both_papers_have_their_size_and_nothing_runs_over_the_edge(
    content: Content, paper: Paper, size: tuple[int, int]
) -> None:
    across = isinstance(content, WeekOverview)
    with pdfplumber.open(io.BytesIO(rendered(content, paper).pdf)) as document:
        for page in document.pages:
            assert (round(page.width), round(page.height)) == (size[::-1] if across else size)
            things = [*page.chars, *page.rects, *page.lines, *page.curves]
            assert all(thing["x0"] > 20 and thing["x1"] < page.width - 20 for thing in things)


def test_names_are_text_and_never_markup() -> None:
    sheet = replace(
        batch_sheet(),
        formula=HOSTILE,
        heading=replace(HEADING, kitchen=HOSTILE),
        fill=replace(batch_sheet().fill, pot=HOSTILE),
        charge=tuple(replace(line, name=HOSTILE) for line in batch_sheet().charge),
        stages=tuple(replace(stage, title=HOSTILE) for stage in batch_sheet().stages),
    )
    html = document_html((sheet,))
    assert "<script" not in html
    assert "<img" not in html
    assert HOSTILE.replace(" ", "") in printed(sheet).replace(" ", "")


def test_long_words_wrap_and_every_letter_of_them_is_printed() -> None:
    sheet = replace(
        batch_sheet(),
        formula=LONG,
        fill=replace(batch_sheet().fill, pot=LONG, heat_source=LONG),
        charge=tuple(replace(line, name=LONG, allergens=(LONG,)) for line in batch_sheet().charge),
    )
    pdf = rendered(sheet).pdf
    with pdfplumber.open(io.BytesIO(pdf)) as document:
        assert all(char["x1"] < page.width - 20 for page in document.pages for char in page.chars)
    assert words_of(pdf).replace(" ", "").count(LONG) >= 14


def test_letters_of_europe_are_in_the_type() -> None:
    sheet = replace(batch_sheet(), formula="Żurek, crème brûlée, smørrebrød, čorba, gulyás – ½ × ≤ ≥ −")
    assert "Żurek, crème brûlée, smørrebrød, čorba, gulyás – ½ × ≤ ≥ −" in printed(sheet)
    assert all("Potwright" in name for name in fonts_of(rendered(sheet).pdf))


def test_equal_content_gives_equal_bytes() -> None:
    first, second = (render_document(purchase_list(), paper="a4").pdf for _ in range(2))
    assert first == second


def test_two_processes_give_what_one_gives_in_the_order_asked_for() -> None:
    both: tuple[Content, ...] = (purchase_list(), purchase_list())
    contents: list[Content | tuple[Content, ...]] = [purchase_list(), cooling_log(), both, in_us_units(batch_sheet())]
    with Press(processes=2) as press:
        side_by_side = list(press.render(contents, paper="letter"))
    alone = [render_document(content, paper="letter") for content in contents]
    assert [document.pages for document in side_by_side] == [1, 1, 2, 1]
    assert [words_of(document.pdf) for document in side_by_side] == [words_of(document.pdf) for document in alone]


def test_a_long_sheet_runs_on_to_a_second_page_and_loses_nothing() -> None:
    many = tuple(
        replace(batch_sheet().charge[0], order=index, name=f"Ingredient number {index}") for index in range(1, 61)
    )
    sheet: BatchSheet = replace(batch_sheet(), charge=many)
    assert rendered(sheet).pages > 1
    assert all(f"Ingredient number {index} " in printed(sheet) for index in range(1, 61))
