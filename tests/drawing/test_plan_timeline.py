"""The timeline: lanes, tracks, links, a hundred runs."""

from dataclasses import replace

import pytest

from production.drawing.canvas import Size
from production.drawing.palette import ACCENT, PAST
from production.drawing.plan_timeline import (
    plan_timeline,
    timeline_corner,
    timeline_grip,
    timeline_head,
    timeline_names,
    timeline_width_px,
)
from production.drawing.step_lanes import amount, amount_with_unit
from production.drawing.timeline_content import (
    BarLane,
    BarStage,
    DayBand,
    LaneStep,
    LevelLane,
    PlanTimeline,
    Pour,
    ShadedSpan,
    StepLane,
    TimelineBar,
)
from tests.drawing.reading import SVG, read


def bar(label: str, start: float, end: float, href: str | None = None) -> TimelineBar:
    return TimelineBar(
        label=label,
        start_min=start,
        end_min=end,
        when=f"minute {start:.0f} to {end:.0f}",
        stages=(BarStage(kind="load", start_min=start, end_min=start + 30),),
        href=href,
    )


HEAT = StepLane(
    name="Heat",
    unit="kW",
    used=(LaneStep(at_min=0, value=0), LaneStep(at_min=400, value=30), LaneStep(at_min=500, value=12)),
    available=(LaneStep(at_min=0, value=24),),
)
PLAN = PlanTimeline(
    name="the week of 3 August",
    start_min=0,
    end_min=2880,
    days=(
        DayBand(start_min=0, end_min=1440, label="Mon 3 Aug"),
        DayBand(start_min=1440, end_min=2880, label="Tue 4 Aug"),
    ),
    pots=(
        BarLane(name="Kettle 1", bars=(bar("1 Veal", 360, 1080, "/runs/1"), bar("2 Fumet", 1500, 1740, "/runs/2"))),
        BarLane(name="Hockerkocher Nebenraum", bars=()),
    ),
    devices=(BarLane(name="Ice sink", bars=(bar("1", 1050, 1200), bar("2", 1100, 1300), bar("3", 1210, 1350))),),
    steps=(HEAT,),
)
SIZE = Size(width_px=900, height_px=0)


def boxes(svg: str, tag: str) -> list[tuple[float, float, float, float]]:
    """Left, top, width and height of the frame of each bar in elements of this tag."""
    found = []
    for group in read(svg).all(tag):
        rect = group.find(f"{SVG}rect")
        assert rect is not None
        found.append(tuple(float(rect.attrib[key]) for key in ("x", "y", "width", "height")))
    return found  # type: ignore[return-value]


def test_bars_lie_at_their_minutes() -> None:
    first, second = boxes(plan_timeline(PLAN, SIZE), "a")
    per_min = first[2] / 720
    assert second[0] - first[0] == pytest.approx((1500 - 360) * per_min, abs=0.05)
    assert second[2] == pytest.approx(240 * per_min, abs=0.05)


def test_a_run_is_a_link_with_its_own_words() -> None:
    links = read(plan_timeline(PLAN, SIZE)).all("a")
    assert [link.attrib["href"] for link in links] == ["/runs/1", "/runs/2"]
    assert links[0].findtext(f"{SVG}title") == "1 Veal minute 360 to 1080"


def test_a_drawing_with_links_is_not_one_picture_to_a_screen_reader() -> None:
    plain = replace(PLAN, pots=(BarLane(name="Kettle 1", bars=(bar("1", 0, 100),)),))
    assert read(plan_timeline(PLAN, SIZE)).root.attrib["role"] == "group"
    assert read(plan_timeline(plain, SIZE)).root.attrib["role"] == "img"


def test_bars_at_the_same_time_lie_on_tracks_of_their_own() -> None:
    one, two, three = boxes(plan_timeline(PLAN, SIZE), "g")
    assert two[1] >= one[1] + one[3]
    assert three[1] == one[1]


def test_the_description_names_every_bar_and_the_empty_lane() -> None:
    description = read(plan_timeline(PLAN, SIZE)).description
    assert "Kettle 1: 1 Veal minute 360 to 1080; 2 Fumet minute 1500 to 1740." in description
    assert "Hockerkocher Nebenraum: nothing planned." in description
    assert "Heat: at most 30 of 24 kW in use, more than there is at times." in description


def test_more_heat_than_there_is_is_hatched_for_as_long_as_it_lasts() -> None:
    drawn = read(plan_timeline(PLAN, SIZE))
    per_min = boxes(plan_timeline(PLAN, SIZE), "a")[0][2] / 720
    hatch = [path.attrib["d"] for path in drawn.all("path") if path.attrib["stroke"] == PAST]
    assert len(hatch) == 1
    xs = [float(pair.split(" ")[0]) for pair in hatch[0].replace("M", "L").split("L") if pair]
    assert max(xs) - min(xs) == pytest.approx(100 * per_min, abs=0.05)
    calm = replace(PLAN, steps=(replace(HEAT, available=(LaneStep(at_min=0, value=30),)),))
    drawn = read(plan_timeline(calm, SIZE))
    assert not [path for path in drawn.all("path") if path.attrib["stroke"] == PAST]
    assert "more than there is" not in drawn.description


def test_the_width_follows_from_the_width_of_a_day() -> None:
    assert timeline_width_px(PLAN, 300) - timeline_width_px(PLAN, 200) == pytest.approx(200)


def test_the_pinned_names_are_as_high_as_the_timeline() -> None:
    names = read(timeline_names(PLAN))
    assert names.height_px == read(plan_timeline(PLAN, SIZE)).height_px
    assert "Kettle 1" in names.words()
    assert names.width_px < 140


def test_a_hundred_runs_keep_apart_and_keep_their_numbers() -> None:
    lanes = tuple(
        BarLane(
            name=f"Pot {pot}",
            bars=tuple(
                bar(f"{pot * 10 + n} Rinderknochenreduktion", n * 1000, n * 1000 + 700, f"/r/{pot * 10 + n}")
                for n in range(10)
            ),
        )
        for pot in range(10)
    )
    plan = replace(PLAN, end_min=10080, pots=lanes, devices=(), steps=())
    svg = plan_timeline(plan, Size(width_px=timeline_width_px(plan, 240), height_px=0))
    placed = boxes(svg, "a")
    assert len(placed) == 100
    for index, (x, y, w, h) in enumerate(placed):
        for other_x, other_y, other_w, other_h in placed[:index]:
            assert x >= other_x + other_w or other_x >= x + w or y >= other_y + other_h or other_y >= y + h
    shown = {words.split(" ")[0] for words in read(svg).words()}
    assert {str(n) for n in range(100)} <= shown


def test_a_locked_run_has_a_heavier_frame() -> None:
    locked = replace(PLAN, pots=(BarLane(name="Kettle 1", bars=(replace(PLAN.pots[0].bars[0], locked=True),)),))

    def frame(plan: PlanTimeline) -> float:
        return max(float(rect.attrib.get("stroke-width", "0")) for rect in read(plan_timeline(plan, SIZE)).all("rect"))

    assert frame(locked) > frame(PLAN)
    assert "locked" in read(plan_timeline(locked, SIZE)).description


def test_a_late_run_is_told_by_pattern_mark_and_word_and_not_by_colour_alone() -> None:
    late = replace(PLAN.pots[0].bars[0], meaning="past", word="late")
    calm = read(plan_timeline(replace(PLAN, pots=(BarLane(name="Kettle 1", bars=(PLAN.pots[0].bars[0],)),)), SIZE))
    drawn = read(plan_timeline(replace(PLAN, pots=(BarLane(name="Kettle 1", bars=(late,)),)), SIZE))
    assert "late" in drawn.words()
    assert "late" not in calm.words()
    assert len(drawn.all("path")) == len(calm.all("path")) + 1
    assert "1 Veal minute 360 to 1080, late" in drawn.description


def test_a_locked_run_carries_a_padlock() -> None:
    bars = (PLAN.pots[0].bars[0], replace(PLAN.pots[0].bars[1], locked=True))
    free = read(plan_timeline(PLAN, SIZE))
    locked = read(plan_timeline(replace(PLAN, pots=(replace(PLAN.pots[0], bars=bars), PLAN.pots[1])), SIZE))
    bows = [path for path in locked.all("path") if "a2.5" in path.attrib["d"]]
    assert len(bows) == 1
    assert not [path for path in free.all("path") if "a2.5" in path.attrib["d"]]


def test_how_it_was_before_stands_as_outlines_above_how_it_is() -> None:
    before = (bar("1 Veal", 600, 1300, "/before/1"),)
    plan = replace(PLAN, pots=(replace(PLAN.pots[0], before=before), PLAN.pots[1]))
    drawn = plan_timeline(plan, SIZE)
    outline, after = boxes(drawn, "a")[:2]
    assert outline[1] + outline[3] <= after[1]
    assert outline[0] > after[0]
    assert "before: 1 Veal minute 600 to 1300" in read(drawn).description
    dashed = [rect for rect in read(drawn).all("rect") if rect.attrib.get("stroke-dasharray") == "3 2"]
    assert len(dashed) == 1


def test_a_draw_that_is_poured_over_goes_from_its_pot_to_the_pan() -> None:
    pour = Pour(at_min=900, from_lane=0, to_lane=1, words="1 Veal is poured over into the pan at minute 900")
    drawn = read(plan_timeline(replace(PLAN, pours=(pour,)), SIZE))
    (group,) = [each for each in drawn.all("g") if each.findtext(f"{SVG}title") == pour.words]
    line, arrow = group.find(f"{SVG}line"), group.find(f"{SVG}polygon")
    assert line is not None
    assert arrow is not None
    first = boxes(plan_timeline(PLAN, SIZE), "a")[0]
    assert float(line.attrib["x1"]) == pytest.approx(first[0] + (900 - 360) * first[2] / 720, abs=0.05)
    assert float(line.attrib["y2"]) > first[1] + first[3]
    assert pour.words in drawn.description
    outside = replace(PLAN, pours=(replace(pour, at_min=5000),))
    assert not [each for each in read(plan_timeline(outside, SIZE)).all("g") if "poured" in (each[0].text or "")]


def test_a_level_is_drawn_between_empty_and_full_and_told_by_its_ends() -> None:
    points = (LaneStep(at_min=0, value=80), LaneStep(at_min=600, value=20), LaneStep(at_min=2880, value=100))
    plan = replace(PLAN, steps=(LevelLane(name="Ice", unit="kg", points=points, full=100),))
    drawn = read(plan_timeline(plan, SIZE))
    assert "Ice: between 20 and 100 of 100 kg." in drawn.description
    assert "100 kg" in drawn.words()
    (curve,) = [each for each in drawn.all("polyline") if each.attrib["stroke"] == ACCENT]
    heights = [float(pair.split(",")[1]) for pair in curve.attrib["points"].split()]
    assert heights[1] - heights[0] == pytest.approx((heights[1] - heights[2]) * 60 / 80, abs=0.05)


def test_a_pot_that_is_out_of_use_says_so() -> None:
    out = replace(PLAN.pots[1], out_of_use=(ShadedSpan(start_min=600, end_min=1400),))
    drawn = read(plan_timeline(replace(PLAN, pots=(PLAN.pots[0], out)), SIZE))
    assert "out of use" in drawn.words()
    assert "Hockerkocher Nebenraum: nothing planned; out of use for 13 h 20 min." in drawn.description


def test_a_bar_of_a_chain_bears_its_number_also_where_it_is_narrow() -> None:
    first, second = PLAN.pots[0].bars
    narrow = replace(second, end_min=second.start_min + 5, link=2)
    lane = replace(PLAN.pots[0], bars=(replace(first, link=1), narrow))
    drawn = read(plan_timeline(replace(PLAN, pots=(lane, *PLAN.pots[1:])), SIZE))
    assert {"1", "2"} <= set(drawn.words())
    assert "1 Veal minute 360 to 1080, number 1 of the chain" in drawn.description


def test_what_a_script_is_told_to_move_bars_agrees_with_the_drawing() -> None:
    lane = replace(PLAN.pots[0], takes="K1", bars=tuple(replace(bar, moves=bar.label[0]) for bar in PLAN.pots[0].bars))
    line = replace(PLAN, pots=(lane, PLAN.pots[1]))
    svg = plan_timeline(line, SIZE)
    grip = timeline_grip(line, SIZE)
    first, second = boxes(svg, "a")
    assert (second[0] - first[0]) / (1500 - 360) == pytest.approx(grip.px_per_min, rel=1e-3)
    (only,) = grip.lanes
    assert (only.pot, only.name) == ("K1", "Kettle 1")
    assert only.top <= first[1] < first[1] + first[3] <= only.bottom
    assert [(each.attrib["data-run"], each.attrib["data-start"]) for each in read(svg).all("a")] == [
        ("1", "360"),
        ("2", "1500"),
    ]
    assert "data-run" not in plan_timeline(PLAN, SIZE)


def test_a_pour_passes_behind_the_bars_and_strikes_no_name_through() -> None:
    pour = Pour(at_min=900, from_lane=0, to_lane=1, words="1 Veal is poured over")
    drawn = plan_timeline(replace(PLAN, pours=(pour,)), SIZE)
    assert drawn.index("poured over</title>") < drawn.index("<a ")


def test_days_and_hours_alone_lie_where_they_lie_on_the_timeline() -> None:
    width = timeline_width_px(PLAN, 300)
    whole = read(plan_timeline(PLAN, Size(width_px=width, height_px=0)))
    head = read(timeline_head(PLAN, Size(width_px=width, height_px=0)))
    days = {text.text: text.attrib["x"] for text in head.all("text")}
    assert set(days) == {"Mon 3 Aug", "Tue 4 Aug"}
    assert days == {text.text: text.attrib["x"] for text in whole.all("text") if text.text in days}
    corner, names = read(timeline_corner(PLAN)), read(timeline_names(PLAN))
    assert float(corner.root.attrib["width"]) < float(names.root.attrib["width"])
    assert corner.root.attrib["height"] == head.root.attrib["height"]


def test_a_bar_without_room_for_more_than_its_code_bears_the_whole_code() -> None:
    short = replace(PLAN, pots=(BarLane(name="Kettle", bars=(bar("R02 Veal", 360, 480),)),), devices=(), steps=())
    texts = {
        text.text
        for px in range(260, 420, 10)
        for text in read(plan_timeline(short, Size(width_px=timeline_width_px(short, px), height_px=0))).all("text")
    }
    labels = {text for text in texts if text and text.startswith("R")}
    assert "R02" in labels
    assert all(label.startswith("R02") for label in labels)


def test_among_many_pots_those_that_stay_empty_are_low() -> None:
    def height(pots: int) -> float:
        lanes = tuple(
            BarLane(name=f"Pot {n}", bars=PLAN.pots[0].bars if n == 0 else (), takes=f"p{n}") for n in range(pots)
        )
        grip = timeline_grip(replace(PLAN, pots=lanes), SIZE)
        return grip.lanes[-1].bottom - grip.lanes[-1].top

    assert height(12) == 40
    assert height(13) == 24


def test_room_and_power_are_told_in_whole_numbers_where_they_are_large() -> None:
    assert [amount_with_unit(value, "cooks") for value in (1.0, 2.0)] == ["1 cook", "2 cooks"]
    assert [amount(value) for value in (9394.6, 100.0, 34.5, 3.0)] == ["9395", "100", "34.5", "3"]
