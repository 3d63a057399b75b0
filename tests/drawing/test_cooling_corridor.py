"""The corridor: curve, limits and readings where they belong, margins in words."""

from dataclasses import replace
from math import exp

import pytest

from production.drawing.canvas import Size
from production.drawing.cooling_corridor import (
    BandPoint,
    CoolingCorridor,
    CurvePoint,
    CurveReading,
    LimitStep,
    cooling_corridor,
)
from production.drawing.palette import ACCENT, MEANING_COLOUR, Meaning
from tests.drawing.reading import Drawn, points, read

SIZE = Size(width_px=620, height_px=320)
CORRIDOR = CoolingCorridor(
    name="run 7, first draw",
    start_label="14:10",
    expected=tuple(CurvePoint(at_min=m, temp_c=2 + 88 * exp(-0.0148 * m)) for m in range(0, 361, 10)),
    limits=(
        LimitStep(by_min=120, at_most_c=21, margin_min=16, meaning="within"),
        LimitStep(by_min=360, at_most_c=5, margin_min=-8, meaning="past"),
    ),
    readings=(
        CurveReading(at_min=0, temp_c=88, at_label="14:10"),
        CurveReading(at_min=60, temp_c=42, at_label="15:10"),
    ),
    forecast=(BandPoint(at_min=60, low_c=42, high_c=42), BandPoint(at_min=360, low_c=3, high_c=6.5)),
    now_min=70,
    now_label="15:20",
)


def step(drawn: Drawn, meaning: Meaning) -> list[tuple[float, float]]:
    return next(
        points(line)
        for line in drawn.all("polyline")
        if line.attrib["stroke"] == MEANING_COLOUR[meaning]
        if len(points(line)) == 3
    )


def dots(drawn: Drawn) -> list[tuple[float, float]]:
    return [
        (float(dot.attrib["cx"]), float(dot.attrib["cy"]))
        for dot in drawn.all("circle")
        if dot.attrib["fill"] == ACCENT
    ]


def test_limits_and_readings_share_one_scale() -> None:
    drawn = read(cooling_corridor(CORRIDOR, SIZE))
    (x0, y0), (x60, y60) = dots(drawn)
    px_per_min = (x60 - x0) / 60
    px_per_degree = (y60 - y0) / (88 - 42)
    first, second = step(drawn, "within"), step(drawn, "past")
    assert first[1][0] - x0 == pytest.approx(120 * px_per_min, abs=0.1)
    assert second[1][0] - x0 == pytest.approx(360 * px_per_min, abs=0.1)
    assert first[1][1] - y0 == pytest.approx((88 - 21) * px_per_degree, abs=0.1)
    assert second[1][1] - y0 == pytest.approx((88 - 5) * px_per_degree, abs=0.1)


def test_the_expected_curve_starts_at_its_temperature() -> None:
    drawn = read(cooling_corridor(CORRIDOR, SIZE))
    curve = next(points(line) for line in drawn.all("polyline") if len(points(line)) == 37)
    (x0, y0), (_, y60) = dots(drawn)
    assert curve[0][0] == pytest.approx(x0)
    assert y0 - curve[0][1] == pytest.approx(2 * (y60 - y0) / 46, abs=0.1)


def test_each_limit_says_what_is_left_of_it() -> None:
    drawn = read(cooling_corridor(CORRIDOR, SIZE))
    assert "16 min to spare" in drawn.words()
    assert "8 min too late" in drawn.words()
    assert "21 °C within 2 h: 16 min to spare, within the limit." in drawn.description
    assert "5 °C within 6 h: 8 min too late, past the limit." in drawn.description


def test_a_limit_without_a_forecast_is_not_called_met() -> None:
    bare = replace(CORRIDOR, limits=(LimitStep(by_min=120, at_most_c=21),))
    drawn = read(cooling_corridor(bare, SIZE))
    assert "21 °C within 2 h: not shown yet." in drawn.description
    assert "within the limit" not in drawn.description


def test_meanings_differ_in_line_style_so_that_grey_says_the_same() -> None:
    limits = tuple(
        LimitStep(by_min=60 * (n + 1), at_most_c=60 - 15 * n, meaning=meaning)
        for n, meaning in enumerate(MEANING_COLOUR)
    )
    drawn = read(cooling_corridor(replace(CORRIDOR, limits=limits), SIZE))
    styles = {
        (line.attrib["stroke-width"], line.attrib.get("stroke-dasharray", ""))
        for line in drawn.all("polyline")
        if len(points(line)) == 3 and line.attrib["stroke"] in MEANING_COLOUR.values()
    }
    assert len(styles) == 4


def test_readings_carry_their_time_of_entry() -> None:
    drawn = read(cooling_corridor(CORRIDOR, SIZE))
    assert "42 °C 15:10" in drawn.words()
    assert "Reading 15:10: 42 °C after 1 h." in drawn.description


def test_fahrenheit_is_shown_where_the_kitchen_reads_it() -> None:
    drawn = read(cooling_corridor(replace(CORRIDOR, temp_unit="F"), SIZE))
    assert "41 °F within 6 h" in drawn.words()
    assert "190.4 °F" in drawn.description


def test_a_limit_with_a_decimal_is_not_rounded_away() -> None:
    drawn = read(cooling_corridor(replace(CORRIDOR, limits=(LimitStep(by_min=90, at_most_c=57.2),)), SIZE))
    assert "57.2 °C within 1 h 30 min" in drawn.words()


def test_the_forecast_widens() -> None:
    drawn = read(cooling_corridor(CORRIDOR, SIZE))
    band = next(points(shape) for shape in drawn.all("polygon") if len(points(shape)) == 4)
    assert band[0] == band[3]
    assert band[2][1] > band[1][1]


@pytest.mark.parametrize("width_px", [340.0, 620.0])
def test_labels_of_limits_stay_inside_the_frame(width_px: float) -> None:
    drawn = read(cooling_corridor(CORRIDOR, replace(SIZE, width_px=width_px)))
    for words in ("16 min to spare", "8 min too late"):
        text = drawn.word(words)
        assert 0 < float(text.attrib["x"]) < width_px - 60
        assert 0 < float(text.attrib["y"]) < 320
