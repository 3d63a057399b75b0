"""What holds for every drawing: escaped, deterministic, readable without colour."""

import re
from dataclasses import replace
from pathlib import Path

import pytest
from fontTools.ttLib import TTFont  # type: ignore[import-untyped]

from production.drawing.canvas import Canvas, Size, Svg, spread
from production.drawing.palette import MEANING_COLOUR, MEANING_LINE, STAGE_PATTERN
from production.drawing.pot_section import pot_section
from production.drawing.typeface import FONT_FILES, _advances, font_face_css, shorten, text_width_px, wrap
from tests.drawing.reading import read
from tests.drawing.test_cooling_corridor import CORRIDOR
from tests.drawing.test_extraction_line import LINE
from tests.drawing.test_plan_timeline import PLAN
from tests.drawing.test_pot_section import POT
from tests.drawing.test_week_and_shelf import SHELF, WEEK

ROOT = Path(__file__).resolve().parents[2]
FONTS = ROOT / "production" / "drawing" / "fonts"
EVIL = '</text><script>alert(1)</script> & "Söhne" <b>\x00'


def drawings(name: str) -> dict[str, Svg]:
    from production.drawing.cooling_corridor import cooling_corridor
    from production.drawing.extraction_line import extraction_line
    from production.drawing.plan_timeline import plan_timeline
    from production.drawing.storage_shelf import storage_shelf
    from production.drawing.timeline_content import BarLane
    from production.drawing.week_strip import week_strip

    size = Size(width_px=640, height_px=300)
    bars = tuple(replace(bar, label=name, href=f"/runs/?q={name}") for bar in PLAN.pots[0].bars)
    return {
        "pot": pot_section(replace(POT, name=name, cold_fill_label=name), size),
        "line": extraction_line(replace(LINE, run_name=name, additions=(replace(LINE.additions[0], name=name),)), size),
        "corridor": cooling_corridor(replace(CORRIDOR, name=name, start_label=name), size),
        "week": week_strip(replace(WEEK, name=name, unit=name), size),
        "shelf": storage_shelf(replace(SHELF, name=name, days=(replace(SHELF.days[0], label=name),)), size),
        "plan": plan_timeline(replace(PLAN, name=name, pots=(BarLane(name=name, bars=bars),)), size),
    }


def test_names_are_escaped_in_every_drawing() -> None:
    for svg in drawings(EVIL).values():
        drawn = read(svg)
        assert not drawn.all("script")
        assert not drawn.all("b")
        assert "<script" not in svg
        assert "alert(1)" in drawn.title


def test_the_same_facts_give_the_same_bytes() -> None:
    assert drawings("Kettle 3") == drawings("Kettle 3")


def test_no_drawing_uses_inline_styles_ids_or_scripts() -> None:
    for svg in drawings("Kettle 3").values():
        assert not re.search(r'\s(style|id|on\w+)="', svg)
        assert "<style" not in svg


def test_every_drawing_has_a_title_and_a_description() -> None:
    for svg in drawings("Grundansatz Rinderkraftbrühe").values():
        drawn = read(svg)
        assert "Grundansatz Rinderkraftbrühe" in drawn.title
        assert len(drawn.description) > 40


@pytest.mark.parametrize(
    "name", ["Rindfleischetikettierungsüberwachungsbrühe", "Größenordnungsmäßig zähflüssiges Gelée"]
)
def test_long_words_neither_break_a_drawing_nor_leave_the_sheet(name: str) -> None:
    for svg in drawings(name).values():
        drawn = read(svg)
        for text in drawn.all("text"):
            width = text_width_px(text.text or "", float(text.attrib["font-size"]))
            x = float(text.attrib["x"])
            left = x - {"start": 0.0, "middle": width / 2, "end": width}[text.attrib.get("text-anchor", "start")]
            assert left >= -2, text.text
            assert left + width <= drawn.width_px + 2, text.text


def test_a_template_engine_inserts_a_drawing_as_it_is() -> None:
    svg = drawings("Kettle 3")["pot"]
    assert svg.__html__() == svg


def test_the_marks_of_the_meanings_have_four_shapes() -> None:
    shapes = set()
    for meaning in MEANING_COLOUR:
        canvas = Canvas(Size(width_px=20, height_px=20))
        canvas.mark((10, 10), meaning)
        svg = re.sub(r"#[0-9a-f]{6}", "grey", canvas.finish(title="mark", facts=()))
        shapes.add(svg)
    assert len(shapes) == 4
    assert len(set(MEANING_LINE.values())) == 4


def test_hatches_stay_inside_their_box() -> None:
    for pattern in set(STAGE_PATTERN.values()):
        canvas = Canvas(Size(width_px=100, height_px=100))
        canvas.hatch(10, 20, 37, 13, pattern)
        for path in read(canvas.finish(title=pattern, facts=())).all("path"):
            for x, y in re.findall(r"[ML]([\d.]+) ([\d.]+)", path.attrib["d"]):
                assert 10 <= float(x) <= 47
                assert 20 <= float(y) <= 33


def test_spread_keeps_gap_order_and_room() -> None:
    placed = spread([50, 52, 51, 10], 12, 0, 100)
    assert placed[3] == 10
    assert placed[0] + 12 <= placed[2]
    assert placed[2] + 12 <= placed[1]
    assert spread([99, 99], 10, 0, 100) == [90, 100]


def test_a_label_is_shortened_with_an_ellipsis_and_fits() -> None:
    short = shorten("Rinderknochenreduktion", 60, 12)
    assert short.endswith("…")
    assert text_width_px(short, 12) <= 60
    assert shorten("Veal", 60, 12) == "Veal"
    assert shorten("Veal", 3, 12) == ""


def test_wrapping_keeps_all_letters_and_fits() -> None:
    text = "Rindfleischetikettierungsüberwachung zweiter Abzug 68\u00a0L"
    lines = wrap(text, 70, 12)
    assert all(text_width_px(line, 12) <= 70 for line in lines)
    assert "".join(line.rstrip("-") for line in lines).replace(" ", "") == text.replace(" ", "")
    assert any("68\u00a0L" in line for line in lines)


@pytest.mark.parametrize("weight", [400, 600])
def test_the_table_of_widths_agrees_with_the_font(weight: int) -> None:
    font = TTFont(FONTS / f"potwright-sans-{weight}.woff2")
    units = font["head"].unitsPerEm
    widths = {chr(code): round(font["hmtx"][glyph][0] * 1000 / units) for code, glyph in font.getBestCmap().items()}
    assert _advances()[weight] == widths  # type: ignore[index]


@pytest.mark.parametrize(("family", "weight", "name"), FONT_FILES)
def test_figures_are_tabular_and_signs_are_there(family: str, weight: int, name: str) -> None:
    font = TTFont(FONTS / name)
    glyphs = font.getBestCmap()
    assert len({font["hmtx"][glyphs[ord(figure)]][0] for figure in "0123456789"}) == 1
    assert all(ord(sign) in glyphs for sign in "°½¼¾⅓⅔≤≥−×·→←↑↓–…äöüßÄÖÜéñøåłč\u00a0")
    assert (FONTS / name).stat().st_size < 60_000
    assert str(font["name"].getDebugName(16) or font["name"].getDebugName(1)) == family


def test_the_licence_travels_with_the_fonts() -> None:
    licence = (FONTS / "OFL.txt").read_text(encoding="utf-8")
    assert "SIL OPEN FONT LICENSE Version 1.1" in licence
    assert "Reserved Font Name" in licence


def test_documents_get_the_fonts_inside_the_style_sheet() -> None:
    css = font_face_css()
    assert css.count("@font-face") == 3
    assert css.count("data:font/woff2;base64,d09GM") == 3
