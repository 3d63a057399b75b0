"""Labels as they come out of the printer: what stands on them, where, and what a scanner reads."""

from __future__ import annotations

import io
import subprocess
from decimal import Decimal
from pathlib import Path

import numpy as np
import pdfplumber
import pytest
import zxingcpp

from production.documents.barcodes import MODULE_MM
from production.documents.labels import fluid_ounces, label_laid_out, net_text
from production.documents.render import render_document
from production.domain.errors import DoesNotFit, OutOfRange
from production.domain.sheets import LabelSheet, content_from_json, content_to_json
from production.domain.sheets.content import Label, LabelIngredient
from production.domain.sheets.label_sizes import LABEL_SIZES, label_size
from production.domain.sheets.labels import (
    UsedIngredient,
    contains_statement,
    gs1_elements,
    ingredient_list,
    label_from_json,
    label_ingredients,
    label_to_json,
)
from tests.documents.label_samples import a_label, a_note, a_sheet

MM = 72.0 / 25.4


def text_of(sheet: LabelSheet) -> str:
    with pdfplumber.open(io.BytesIO(render_document(sheet, paper="a4").pdf)) as pdf:
        return "\n".join(page.extract_text() for page in pdf.pages)


def scanned(sheet: LabelSheet, folder: Path, *, dpi: int = 200) -> list[str]:
    """What a scanner reads off the printed pages, in grey."""
    (folder / "labels.pdf").write_bytes(render_document(sheet, paper="a4").pdf)
    subprocess.run(["pdftoppm", "-r", str(dpi), "-gray", folder / "labels.pdf", folder / "page"], check=True)
    found = []
    for page in sorted(folder.glob("page*.pgm")):
        with page.open("rb") as file:
            assert file.readline().strip() == b"P5"
            width, height = (int(each) for each in file.readline().split())
            file.readline()
            image = np.frombuffer(file.read(), dtype=np.uint8).reshape(height, width)
        found += [code.text for code in zxingcpp.read_barcodes(image)]
    return found


def strong(label: Label) -> list[str]:
    return [piece.text for piece in ingredient_list(label) if piece.strong]


def test_a_scanner_reads_article_date_day_and_lot_off_the_printed_label(tmp_path: Path) -> None:
    (read,) = scanned(a_sheet(a_label()), tmp_path)
    assert read == "(01)09501101530003(17)270207(11)270202(10)2702020013"


def test_frozen_lots_carry_a_best_before_and_not_an_expiry(tmp_path: Path) -> None:
    (read,) = scanned(a_sheet(a_label(frozen=True), size="roll-100x60"), tmp_path)
    assert "(15)270207" in read
    assert "(17)" not in read


def test_without_an_article_number_the_code_holds_the_lot_alone(tmp_path: Path) -> None:
    (read,) = scanned(a_sheet(a_label(gtin="")), tmp_path)
    assert read == "2702020013"


def test_every_label_of_a_full_sheet_can_be_read(tmp_path: Path) -> None:
    labels = [a_label(lot=f"27020200{n}X") for n in range(10, 24)]
    assert len(set(scanned(a_sheet(*labels), tmp_path))) == 14


def test_the_dots_are_no_smaller_than_they_may_be() -> None:
    assert MODULE_MM >= 0.375  # GS1 General Specifications, from memory


def test_the_label_says_everything_that_must_stand_on_it() -> None:
    text = text_of(a_sheet(a_label()))
    for said in (
        "Fish stock 5 L",
        "Ingredients: Water, Halibut frames (fish), Onion, Celery",
        "Use by 7 Feb 2027",
        "Keep at 5 °C or colder. Net 5 L",
        "Made 2 Feb 2027. Lot 2702020013",
        "Small test kitchen",
        "(01)09501101530003(17)270207(11)270202(10)2702020013",
    ):
        assert said in text


def test_ingredients_stand_in_descending_order_of_weight() -> None:
    used = [
        UsedIngredient(name="Onion", mass_kg=Decimal("3.2"), allergens=()),
        UsedIngredient(name="Water", mass_kg=Decimal("40"), allergens=()),
        UsedIngredient(name="Celery", mass_kg=Decimal("1"), allergens=("celery",)),
        UsedIngredient(name="Onion", mass_kg=Decimal("1.1"), allergens=()),
        UsedIngredient(name="Frames", mass_kg=Decimal("4.2"), allergens=("fish",)),
        UsedIngredient(name="Saffron", mass_kg=Decimal("0"), allergens=()),
    ]
    assert [each.name for each in label_ingredients(used)] == ["Water", "Onion", "Frames", "Celery"]


def test_allergens_stand_out_in_the_list_in_their_name_or_behind_it() -> None:
    assert strong(a_label()) == ["fish", "Celery", "Egg"]
    soy = LabelIngredient(name="Soy sauce", allergens=("gluten cereals", "soybeans"))
    assert strong(a_label(ingredients=(soy,))) == ["Soy", "gluten cereals"]
    assert "".join(piece.text for piece in ingredient_list(a_label(ingredients=(soy,)))) == "Soy sauce (gluten cereals)"


def test_no_allergen_is_ever_lost_from_the_list() -> None:
    both = LabelIngredient(name="Fish and milk powder", allergens=("fish", "milk"))
    assert {word.lower() for word in strong(a_label(ingredients=(both,)))} == {"fish", "milk"}


def test_a_us_label_states_what_it_contains_and_celery_is_not_on_that_list() -> None:
    label = a_label(law="us", units="us", keep_temp=Decimal(41), keep_unit="F")
    assert contains_statement(label) == "Contains: Egg, Fish."
    assert strong(label) == []
    text = text_of(a_sheet(label, size="letter-10"))
    assert "Contains: Egg, Fish." in text
    assert "Use by Feb 7, 2027" in text
    assert "Keep at 41 °F or colder. Net 169.1 fl oz (5 L)" in text


def test_a_label_for_both_laws_does_both() -> None:
    label = a_label(law="both")
    assert strong(label) == ["fish", "Celery", "Egg"]
    assert contains_statement(label) == "Contains: Egg, Fish."


def test_nothing_to_declare_is_not_declared() -> None:
    assert contains_statement(a_label(law="us", allergens=("celery",))) == ""


def test_a_us_gallon_is_128_fluid_ounces() -> None:
    assert fluid_ounces(Decimal("3.785411784")) == "128.0 fl oz"  # definition of the US gallon
    assert net_text(a_label(pieces=40)) == "5 L, 40 cubes"


@pytest.mark.parametrize("code", LABEL_SIZES)
def test_every_word_stays_inside_its_label(code: str) -> None:
    size = label_size(code)
    with pdfplumber.open(io.BytesIO(render_document(a_sheet(a_label(), size=code), paper="a4").pdf)) as pdf:
        page = pdf.pages[0]
        assert (page.width / MM, page.height / MM) == pytest.approx(
            (size.sheet_width_mm, size.sheet_height_mm), abs=0.1
        )
        left, top = size.corner_mm(0)
        for char in page.chars:
            assert left + 1.5 <= char["x0"] / MM
            assert char["x1"] / MM <= left + size.width_mm - 1.0
            assert top <= char["top"] / MM
            assert char["bottom"] / MM <= top + size.height_mm


def test_no_words_lie_under_the_square_code() -> None:
    size = label_size("a4-14")
    laid = label_laid_out(a_label(name="Very long name of a fish stock from the coast with herbs"), size)
    with pdfplumber.open(io.BytesIO(render_document(a_sheet(a_label(name="Long " * 12)), paper="a4").pdf)) as pdf:
        page = pdf.pages[0]
        left, top = size.corner_mm(0)
        edge = left + size.width_mm - 2.5 - laid.symbol.side_mm
        under = [
            char
            for char in page.chars
            if char["x1"] / MM > edge and char["top"] / MM < top + 2.5 + laid.symbol.side_mm - 0.5
        ]
    assert under == []


def test_printing_begins_at_the_place_that_is_still_there() -> None:
    size = label_size("a4-14")
    with pdfplumber.open(
        io.BytesIO(render_document(a_sheet(a_label(), first_place=14, copies=3), paper="a4").pdf)
    ) as pdf:
        assert len(pdf.pages) == 2
        first = (
            min(char["x0"] / MM for char in pdf.pages[0].chars),
            min(char["top"] / MM for char in pdf.pages[0].chars),
        )
        left, top = size.corner_mm(13)
        assert first[0] == pytest.approx(left + 2.5, abs=0.6)
        assert first[1] == pytest.approx(top + 2.5, abs=2.0)
        assert pdf.pages[1].extract_text().count("Fish stock 5 L") == 2


def test_a_roll_gives_a_page_for_each_label() -> None:
    assert render_document(a_sheet(a_label(), size="roll-100x60", copies=4), paper="a4").pages == 4


def test_a_place_that_the_sheet_has_not_and_too_many_labels_are_refused() -> None:
    for first_place, copies in ((15, 1), (0, 1), (1, 601), (1, 0)):
        with pytest.raises(OutOfRange):
            a_sheet(a_label(), first_place=first_place, copies=copies)


def test_text_that_fits_only_in_type_too_small_is_refused_and_not_shrunk() -> None:
    many = tuple(LabelIngredient(name=f"Ingredient number {n} with a long name") for n in range(30))
    with pytest.raises(DoesNotFit, match="does not fit") as refused:
        label_laid_out(a_label(ingredients=many), label_size("a4-14"))
    assert refused.value.code == "label-too-small"


def test_small_letters_are_as_high_as_the_law_asks() -> None:
    for code in LABEL_SIZES:
        assert label_laid_out(a_label(), label_size(code)).size_mm * 0.486 >= 1.2 - 1e-9
    us = label_laid_out(a_label(law="us", units="us"), label_size("letter-10"))
    assert us.size_mm * 0.486 >= 25.4 / 16 - 1e-9


def test_a_word_wider_than_the_label_is_broken_and_not_lost() -> None:
    word = "Rindfleischknochenbrühenkonzentratzubereitungsgrundstoffmischungsverordnungsvorlage"
    laid = label_laid_out(a_label(name=word), label_size("a4-14"))
    said = "".join(piece.text for line in laid.lines for piece in line.pieces)
    assert word in said.replace("-", "").replace(" ", "")


def test_labels_and_notes_are_kept_as_plain_values_and_read_back() -> None:
    label = a_label(pieces=40)
    assert label_from_json(label_to_json(label)) == label
    for content in (a_sheet(label), a_note()):
        assert content_from_json(content_to_json(content)) == content


def test_equal_labels_give_equal_bytes() -> None:
    assert render_document(a_sheet(a_label()), paper="a4").pdf == render_document(a_sheet(a_label()), paper="a4").pdf


def test_a_label_without_a_number_has_no_element_string() -> None:
    assert gs1_elements(a_label(gtin="")) == ""


def test_a_note_names_the_lots_and_what_is_short() -> None:
    with pdfplumber.open(io.BytesIO(render_document(a_note(), paper="a4").pdf)) as pdf:
        text = pdf.pages[0].extract_text()
    for said in ("Bistro at the Mill", "4 × 2702020013, use by 7 Feb 2027", "1 short", "contains fish, celery"):
        assert said in text
    assert "best before 31 Jul 2027" in text
