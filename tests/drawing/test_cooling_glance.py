"""One cooling among thirty: small in bytes, and still with its limits, its last reading and now."""

from __future__ import annotations

from dataclasses import replace
from math import exp

import pytest

from production.drawing.canvas import Size
from production.drawing.cooling_corridor import BandPoint, CoolingCorridor, CurveReading, LimitStep
from production.drawing.cooling_glance import cooling_glance
from production.drawing.palette import ACCENT, MEANING_COLOUR, MEANING_LINE, Meaning
from tests.drawing.reading import points, read

SIZE = Size(width_px=430, height_px=150)
CORRIDOR = CoolingCorridor(
    name="R07 first draw, Ice sink 2",
    start_label="14:10",
    expected=(),
    limits=(
        LimitStep(by_min=120, at_most_c=21, meaning="within"),
        LimitStep(by_min=360, at_most_c=5, meaning="open"),
    ),
    readings=tuple(
        CurveReading(at_min=m, temp_c=2 + 86 * exp(-0.016 * m), at_label="15:38" if m == 88 else "")
        for m in range(-12, 89, 2)
    ),
    forecast=tuple(BandPoint(at_min=m, low_c=2 + 900 / m, high_c=4 + 2000 / m) for m in range(90, 370, 7)),
    now_min=91,
    now_label="15:41",
)


def test_thirty_of_them_fit_on_a_page() -> None:
    assert len(cooling_glance(CORRIDOR, SIZE)) < 3_300


def test_the_last_reading_stands_beside_its_dot_and_now_over_its_line() -> None:
    drawn = read(cooling_glance(CORRIDOR, SIZE))
    words = [each.text for each in drawn.root.iter() if each.text]
    assert "23 °C 15:38" in words
    assert "now 15:41" in words


def test_what_is_told_in_words_has_the_limits_the_last_reading_and_the_forecast() -> None:
    svg = cooling_glance(CORRIDOR, SIZE)
    told = svg.split("<desc>")[1].split("</desc>")[0]
    assert "21 °C within 2 h: within the limit." in told
    assert "Reading 15:38: 23 °C" in told
    assert told.count("Reading") == 1
    assert "Now 15:41" in told


@pytest.mark.parametrize("meaning", ["within", "near", "past", "open"])
def test_how_a_limit_stands_is_told_by_its_line_too(meaning: Meaning) -> None:
    limits = (replace(CORRIDOR.limits[0], meaning=meaning),)
    drawn = read(cooling_glance(replace(CORRIDOR, limits=limits), SIZE))
    lines = [each for each in drawn.root.iter() if each.get("stroke") == MEANING_COLOUR[meaning] and each.get("points")]
    assert [each.get("stroke-dasharray", "") for each in lines] == [MEANING_LINE[meaning][1]]


def test_what_was_read_before_the_clock_started_is_not_drawn_but_for_the_last() -> None:
    drawn = read(cooling_glance(CORRIDOR, SIZE))
    curve = next(each for each in drawn.root.iter() if each.get("stroke") == ACCENT and each.tag.endswith("polyline"))
    left = min(x for x, _ in points(curve))
    assert sum(1 for x, _ in points(curve) if x == left) <= 2


def test_a_cooling_without_readings_shows_its_limits_all_the_same() -> None:
    svg = cooling_glance(replace(CORRIDOR, readings=(), forecast=()), SIZE)
    assert "21°" in svg
    assert "polygon" not in svg
