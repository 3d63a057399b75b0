"""Week strip and storage shelf."""

import pytest

from production.drawing.canvas import Size
from production.drawing.palette import INK, PAST
from production.drawing.storage_shelf import ShelfDay, StorageShelf, storage_shelf
from production.drawing.week_strip import WeekDay, WeekStrip, week_strip
from tests.drawing.reading import read

WEEK = WeekStrip(
    name="veal stock",
    unit="L",
    days=(
        WeekDay(label="Mon 3 Aug", ordered=120, made=60, stock_end=40),
        WeekDay(label="Tue 4 Aug", ordered=60, made=0, stock_end=-20),
        WeekDay(label="Wed 5 Aug", ordered=0, made=7.5, stock_end=0),
    ),
)
SHELF = StorageShelf(
    name="the freezer",
    capacity_l=400,
    days=(
        ShelfDay(label="Mon", used_l=200),
        ShelfDay(label="Tue", used_l=380, meaning="near"),
        ShelfDay(label="Wed", used_l=440, meaning="past"),
    ),
)


def test_orders_stand_above_and_runs_hang_below_on_one_scale() -> None:
    drawn = read(week_strip(WEEK, Size(width_px=720, height_px=270)))
    bars = [rect for rect in drawn.all("rect") if rect.attrib["stroke"] == INK]
    ordered = [float(rect.attrib["height"]) for rect in bars if rect.attrib["fill"] == INK]
    made = [float(rect.attrib["height"]) for rect in bars if rect.attrib["fill"] != INK]
    assert ordered[0] == pytest.approx(2 * ordered[1], abs=0.02)
    assert made[0] == pytest.approx(ordered[1], abs=0.02)
    assert made[1] == pytest.approx(ordered[1] / 8, abs=0.02)


def test_the_description_of_the_week_tells_surplus_and_gap() -> None:
    drawn = read(week_strip(WEEK, Size(width_px=720, height_px=270)))
    assert "Mon 3 Aug: 120 L ordered, 60 L made, 40 L in stock at the end of the day." in drawn.description
    assert "20 L short at the end of the day" in drawn.description


def test_a_gap_carries_the_mark_of_past() -> None:
    drawn = read(week_strip(WEEK, Size(width_px=720, height_px=270)))
    assert "short 20" in drawn.words()
    assert len([rect for rect in drawn.all("rect") if rect.attrib["fill"] == PAST]) == 1


def test_a_narrow_week_keeps_the_weekdays() -> None:
    drawn = read(week_strip(WEEK, Size(width_px=190, height_px=260)))
    assert {"Mon", "Tue", "Wed"} <= set(drawn.words())


def test_an_empty_week_is_still_a_drawing() -> None:
    drawn = read(week_strip(WeekStrip(name="nothing", unit="L", days=()), Size(width_px=340, height_px=200)))
    assert drawn.title == "Week of nothing"


def test_the_shelf_is_filled_to_its_share() -> None:
    drawn = read(storage_shelf(SHELF, Size(width_px=344, height_px=200)))
    columns = [float(r.attrib["height"]) for r in drawn.all("rect") if r.attrib["stroke"] == INK]
    fills = [float(r.attrib["height"]) for r in drawn.all("rect") if r.attrib["fill"] == "#c3d0e2"]
    assert fills == pytest.approx([columns[0] / 2, columns[0] * 0.95, columns[0]], abs=0.02)


def test_what_has_no_room_lies_above_the_line() -> None:
    drawn = read(storage_shelf(SHELF, Size(width_px=344, height_px=200)))
    column = next(float(r.attrib["height"]) for r in drawn.all("rect") if r.attrib["stroke"] == INK)
    over = [float(r.attrib["height"]) for r in drawn.all("rect") if r.attrib["stroke"] == PAST]
    assert over == pytest.approx([column / 10], abs=0.02)
    assert "Wed: 440 L used, 110 %, past the limit." in drawn.description


def test_the_shelf_says_its_capacity() -> None:
    drawn = read(storage_shelf(SHELF, Size(width_px=344, height_px=200)))
    assert "400 L" in drawn.words()
    assert "Room for 400 L." in drawn.description


def test_a_place_without_room_is_drawn_as_a_line() -> None:
    none = StorageShelf(name="nowhere", capacity_l=0, days=(ShelfDay(label="Mon", used_l=5, meaning="past"),))
    drawn = read(storage_shelf(none, Size(width_px=344, height_px=200)))
    assert drawn.description == "Room for 0 L. Mon: 5 L used, past the limit."
