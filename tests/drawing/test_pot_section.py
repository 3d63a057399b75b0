"""The pot is drawn to scale, and its words say what is drawn."""

from dataclasses import replace
from itertools import pairwise

import pytest

from production.drawing.canvas import Medium, Size
from production.drawing.palette import ACCENT, INK, PAST
from production.drawing.pot_section import PotSection, VolumeMark, pot_section
from tests.drawing.reading import Drawn, points, read

SIZE = Size(width_px=400, height_px=320)
POT = PotSection(
    name="Kettle 3",
    inner_diameter_mm=440,
    inner_height_mm=560,
    cold_fill_mm=485,
    hot_level_mm=505,
    freeboard_limit_mm=520,
    solids_level_mm=300,
    cold_fill_label="74 L",
    volume_marks=(VolumeMark(height_mm=131, label="20 L"), VolumeMark(height_mm=262, label="40 L")),
)


def wall(drawn: Drawn) -> list[tuple[float, float]]:
    return next(points(line) for line in drawn.all("polyline") if len(points(line)) == 6)


def px_per_mm(drawn: Drawn, pot: PotSection) -> float:
    corners = wall(drawn)
    return (corners[3][0] - corners[2][0] - 3.0) / pot.inner_diameter_mm


@pytest.mark.parametrize("medium", ["page", "print"])
def test_a_mark_of_75_mm_lies_75_mm_under_the_rim_at_the_scale_of_the_width(medium: Medium) -> None:
    drawn = read(pot_section(POT, replace(SIZE, medium=medium)))
    rim = wall(drawn)[1][1]
    cold = next(y for y, left, right in drawn.levels(ACCENT) if right - left > 50)
    assert cold - rim == pytest.approx(75 * px_per_mm(drawn, POT), abs=0.05)


def test_the_bottom_lies_the_whole_height_under_the_rim() -> None:
    drawn = read(pot_section(POT, SIZE))
    corners = wall(drawn)
    assert corners[2][1] - 1.5 - corners[1][1] == pytest.approx(560 * px_per_mm(drawn, POT), abs=0.05)


def test_the_scale_on_the_wall_lies_at_its_heights() -> None:
    drawn = read(pot_section(POT, SIZE))
    bottom = wall(drawn)[2][1] - 1.5
    ticks = sorted(bottom - y for y, left, right in drawn.levels(INK) if right - left == pytest.approx(8))
    assert ticks == pytest.approx([131 * px_per_mm(drawn, POT), 262 * px_per_mm(drawn, POT)], abs=0.05)


def test_the_dimension_spans_rim_to_cold_fill() -> None:
    drawn = read(pot_section(POT, SIZE))
    uprights = [
        abs(float(line.attrib["y2"]) - float(line.attrib["y1"]))
        for line in drawn.all("line")
        if line.attrib["x1"] == line.attrib["x2"] and line.attrib["stroke"] == ACCENT
    ]
    assert uprights == pytest.approx([75 * px_per_mm(drawn, POT)], abs=0.05)


def test_the_description_carries_every_level() -> None:
    drawn = read(pot_section(POT, SIZE))
    assert drawn.title == "Kettle 3 in section"
    for fact in (
        "440 mm wide",
        "560 mm high",
        "485 mm above the bottom (74 L)",
        "75 mm from the rim",
        "505 mm",
        "520 mm",
    ):
        assert fact in drawn.description
    assert "Solids displace the lowest 300 mm." in drawn.description
    assert "20 L at 131 mm" in drawn.description


def test_the_figure_on_the_drawing_is_the_distance_from_the_rim() -> None:
    drawn = read(pot_section(POT, SIZE))
    figure = drawn.word("75\u00a0mm")
    assert float(figure.attrib["font-size"]) > 20


def test_a_boil_above_the_freeboard_is_said_drawn_and_coloured() -> None:
    drawn = read(pot_section(replace(POT, hot_level_mm=532), SIZE))
    assert "Past the limit: the boil is 12 mm above the freeboard" in drawn.description
    assert "past the limit" in " ".join(drawn.words())
    assert drawn.levels(PAST)


def test_a_boil_under_the_freeboard_is_not_called_past() -> None:
    drawn = read(pot_section(POT, SIZE))
    assert "past" not in drawn.description.lower()
    assert not drawn.levels(PAST)


def test_inches_are_shown_where_the_kitchen_reads_inches() -> None:
    drawn = read(pot_section(replace(POT, length_unit="in", cold_fill_mm=560 - 76.2), SIZE))
    assert "3\u00a0in" in drawn.words()
    assert "3 in from the rim" in drawn.description


def test_levels_are_rounded_to_the_side_that_fills_less() -> None:
    pot = replace(POT, length_unit="in", cold_fill_mm=560 - 76.3, freeboard_limit_mm=560 - 50.9)
    drawn = read(pot_section(pot, SIZE))
    assert "3\u00a01/8\u00a0in" in drawn.words()  # 3.004 in from the rim
    assert "highest allowed: 2\u00a01/8\u00a0in" in " ".join(drawn.words())  # 2.004 in
    assert "Fill cold to 19 in above the bottom (74 L), 3 1/8 in from the rim." in drawn.description  # 19.04 in
    assert "Highest allowed level 20 in, 2 1/8 in from the rim." in drawn.description  # 20.04 in


def test_the_label_of_the_solids_says_that_they_are_a_volume() -> None:
    drawn = read(pot_section(replace(POT, solids_label="30 L"), SIZE))
    assert "solids, displaced: 30\u00a0L" in " ".join(drawn.words())
    assert "Solids displace the lowest 300 mm (30 L)." in drawn.description


def test_labels_of_levels_that_lie_close_together_do_not_overlap() -> None:
    close = replace(POT, cold_fill_mm=500, hot_level_mm=503, freeboard_limit_mm=505, solids_level_mm=498)
    drawn = read(pot_section(close, SIZE))
    left = wall(drawn)[4][0] + 20
    lines = sorted(
        (float(text.attrib["y"]) - 0.75 * float(text.attrib["font-size"]), float(text.attrib["y"]))
        for text in drawn.all("text")
        if float(text.attrib["x"]) > left
    )
    assert len(lines) >= 5
    for (_, bottom), (top, _) in pairwise(lines):
        assert top >= bottom - 0.5


def test_every_label_of_a_shallow_pot_stays_on_the_sheet() -> None:
    shallow = PotSection(
        name="Pan",
        inner_diameter_mm=900,
        inner_height_mm=200,
        cold_fill_mm=150,
        hot_level_mm=158,
        freeboard_limit_mm=170,
        solids_level_mm=120,
    )
    drawn = read(pot_section(shallow, SIZE))
    for text in drawn.all("text"):
        assert float(text.attrib["y"]) - float(text.attrib["font-size"]) * 0.7 > 0
        assert float(text.attrib["y"]) <= drawn.height_px
