"""The curve of a store."""

from dataclasses import replace

from production.drawing.canvas import Size
from production.drawing.palette import ACCENT, PAST
from production.drawing.store_curve import StoreCurve, StorePoint, WarmTime, store_curve
from tests.drawing.reading import read

WIDE, NARROW = Size(width_px=700, height_px=190), Size(width_px=340, height_px=180)
FRIDGE = StoreCurve(
    name="the walk-in",
    unit="C",
    hours=48.0,
    limit_c=5.0,
    gap_h=12.0,
    days=((0.0, "Mon 1 Feb"), (24.0, "Tue 2 Feb")),
    points=(
        StorePoint(at_h=1.0, temp_c=3.0, at_label="Mon 01:00"),
        StorePoint(at_h=8.0, temp_c=7.0, at_label="Mon 08:00"),
        StorePoint(at_h=9.0, temp_c=4.0, at_label="Mon 09:00", is_food=True),
        StorePoint(at_h=40.0, temp_c=3.5, at_label="Tue 16:00"),
    ),
    warm=(WarmTime(from_h=1.0, to_h=9.0, meaning="past", words="Air too warm from 01:00 to 09:00."),),
)


def test_readings_far_apart_are_not_joined() -> None:
    lines = [each for each in read(store_curve(FRIDGE, WIDE)).all("line") if each.attrib["stroke"] == ACCENT]
    assert len(lines) == 1  # 1 h to 8 h; nobody knows of the 32 h after it


def test_what_is_above_the_limit_carries_the_mark_of_past() -> None:
    drawn = read(store_curve(FRIDGE, WIDE))
    assert [each for each in drawn.all("rect") if each.attrib["fill"] == PAST]
    cold = replace(FRIDGE, points=FRIDGE.points[:1], warm=())
    assert not [each for each in read(store_curve(cold, WIDE)).all("rect") if each.attrib["fill"] == PAST]


def test_the_description_tells_limit_readings_and_warm_times() -> None:
    told = read(store_curve(FRIDGE, NARROW)).description
    assert "Limit 5 °C." in told
    assert "Mon 08:00: air 7 °C." in told
    assert "Mon 09:00: food 4 °C." in told
    assert "Air too warm from 01:00 to 09:00." in told


def test_of_many_readings_the_coldest_the_warmest_and_the_last_are_told() -> None:
    many = tuple(StorePoint(at_h=n / 4, temp_c=2.0 + n % 3, at_label=f"reading {n}") for n in range(100))
    told = read(store_curve(replace(FRIDGE, points=many, warm=()), WIDE)).description
    assert "100 readings" in told
    assert told.count("reading ") <= 4


def test_a_store_that_nobody_has_read_is_drawn_with_its_limit() -> None:
    drawn = read(store_curve(replace(FRIDGE, points=(), warm=(), unit="F"), NARROW))
    assert "41 °F" in drawn.words()
    assert "Nothing was read." in drawn.description
