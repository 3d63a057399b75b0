"""The batch sheet says what its content says, in the kitchen's units and time."""

from __future__ import annotations

import io
import re
from dataclasses import replace
from datetime import UTC, datetime

import pdfplumber
import pytest

from production.documents.pictures import pot_drawn
from production.documents.render import Paper, document_html
from production.documents.words import Units
from production.domain.sheets import BatchSheet
from tests.documents.reading import printed, rendered
from tests.documents.samples import HEADING, after, batch_sheet, in_us_units


def test_the_head_names_run_formula_version_day_and_hours() -> None:
    text = printed(batch_sheet())
    for words in (
        "Batch sheet Larkspur Ridge Kitchen · week of Monday 9 March 2026",
        "Run R07 Brown beef stock, v3",
        "Tuesday 10 March 2026 06:30 – Wed 01:45",
        "Big Juniper on east range, left burner",
    ):
        assert words in text


def test_the_fill_is_given_in_millimetres_from_the_rim() -> None:
    text = printed(batch_sheet())
    assert "Cold fill 90 mm below the rim" in text
    assert "82.5 L in the pot: solids 26.4 L, water 56 L." in text
    assert "At the boil 66 mm below the rim; never nearer than 50 mm." in text
    assert "Boils at 93.5 °C · simmer at 89.5 °C · loses about 2.15 kg/h" in text


def test_every_weighing_is_there_in_the_order_of_use() -> None:
    lines = (
        "18.4 kg Beef knuckle bones, roasted bones 6.5 kg of it from the saved-bones bank load",
        "9.2 kg Ox tail trim collagen-rich meat load",
        "56 kg Cold water = 56 L water load",
        "2.35 kg Onions, halved mirepoix 14:00",
        "1.15 kg Celeriac mirepoix contains celery 14:00",
        "12 g Bay leaf aromatics 15:15",
    )
    shuffled = replace(batch_sheet(), charge=tuple(reversed(batch_sheet().charge)))
    text = printed(shuffled)
    places = [text.find(line) for line in lines]
    assert -1 not in places
    assert places == sorted(places)


def test_an_addition_that_was_moved_stands_where_it_goes_in() -> None:
    lines = list(batch_sheet().charge)
    lines[3], lines[5] = replace(lines[3], add_at=lines[5].add_at), replace(lines[5], add_at=after(7))
    text = printed(replace(batch_sheet(), charge=tuple(lines)))
    places = [text.find(words) for words in ("Bay leaf aromatics 13:30", "Celeriac mirepoix", "halved mirepoix 15:15")]
    assert -1 not in places
    assert places == sorted(places)


def test_stages_and_additions_follow_the_clock_with_caution_and_record() -> None:
    text = printed(batch_sheet())
    steps = (
        "06:30 – 07:00 Load Bones first, then trim; cold water to the mark. ! Two people for anything over 25 kg.",
        "09:30 – 16:00 Simmer Barely moving; top up nothing. ! Gas burns: hood on until the burner is off. temperature",
        "14:00 Add Onions, halved 2.35 kg, Celeriac 1.15 kg time",
        "15:15 Add Bay leaf 12 g time",
        "16:00 – 16:30 Draw off",
        "21:00 – Wed 01:00 Reduce",
        "Wed 01:00 – 01:45 Portion Fill the trays. trays",
    )
    places = [text.find(step) for step in steps]
    assert -1 not in places
    assert places == sorted(places)


def test_an_addition_that_is_a_stage_of_its_own_is_told_once() -> None:
    sheet = batch_sheet()
    told = replace(sheet.stages[3], kind="additions", title="Vegetables", start_at=after(7.5), end_at=after(7.75))
    text = printed(replace(sheet, stages=(*sheet.stages, told)))
    assert "14:00 – 14:15 Vegetables" in text
    assert "14:00 Add" not in text
    assert "15:15 Add Bay leaf" in text


def test_every_draw_is_told_hot_and_cold_with_its_containers_and_cooling() -> None:
    text = printed(batch_sheet())
    assert "First draw 16:00 47.8 kg 2.6 °Bx 49.1 L at 91.5 °C 47.4 L Beef stock: 4 × 10 L pail (10 L each)" in text
    assert "Ice sink north, 4 pans ice 61 kg · log R07-1" in text
    assert "Reduction Wed 01:00 9.5 kg 18 °Bx 9.2 L at 91.5 °C 8.9 L" in text
    assert "Beef glaze cubes: 17 × bag (0.5 L each), 340 cubes Blast chiller log R07-2" in text


def test_allergens_and_cautions_are_told_and_a_run_without_allergens_claims_none() -> None:
    text = printed(batch_sheet())
    assert "Contains celery" in text
    assert "Celery: wash the pot before a formula without it." in text
    plain = replace(
        batch_sheet(), allergens=(), charge=tuple(replace(line, allergens=()) for line in batch_sheet().charge)
    )
    assert "ontains" not in printed(plain)


def test_a_kitchen_in_us_units_reads_pounds_quarts_inches_and_fahrenheit() -> None:
    text = printed(in_us_units(batch_sheet()), "letter")
    for words in (
        "Cold fill 3 5/8 in below the rim",
        "40.6 lb Beef knuckle bones",
        "0.4 oz Bay leaf",
        "Boils at 200.3 °F · simmer at 193.1 °F",
        "105.5 lb 2.6 °Bx 13 gal at 196.7 °F 12.5 gal Beef stock",
    ):
        assert words in text
    assert " kg " not in text.replace("over 25 kg", "").replace("to 9.5 kg", "").replace("foam taken, kg", "")


def test_no_word_of_ours_is_metric_in_a_kitchen_in_us_units() -> None:
    sheet = batch_sheet()
    nameless = replace(
        in_us_units(sheet),
        stages=tuple(replace(stage, do="", record="", caution="") for stage in sheet.stages),
        draws=tuple(
            replace(draw, filled=tuple(replace(each, container="pail") for each in draw.filled)) for draw in sheet.draws
        ),
    )
    metric = re.compile(r"\d[  ](?:mm|L|mL|kg|g|°C|kg/h)\b")
    assert not metric.findall(document_html((nameless,)))  # with what the drawings say to those who cannot see them
    units_only = replace(nameless, heading=HEADING)
    assert len(metric.findall(document_html((units_only,)))) > 20


def test_distances_from_the_rim_are_rounded_up_in_words_and_drawing_alike() -> None:
    fill = replace(batch_sheet().fill, fill_mark_mm=76.3, hot_mark_mm=63.6, freeboard_mm=50.9)  # 3.004, 2.504, 2.004 in
    inches = printed(in_us_units(replace(batch_sheet(), fill=fill)), "letter")
    assert "Cold fill 3 1/8 in below the rim" in inches
    assert "At the boil 2 5/8 in below the rim; never nearer than 2 1/8 in." in inches
    for words in ("highest allowed: 2 1/8 in", "at the boil: 2 5/8 in", "3 1/8 in from the rim, cold"):
        assert words in inches
    millimetres = printed(replace(batch_sheet(), fill=fill))
    assert "Cold fill 77 mm below the rim" in millimetres
    assert "highest allowed: 51 mm" in millimetres


def test_the_drawing_shows_the_solids_at_the_volume_that_they_displace() -> None:
    sheet = batch_sheet()
    drawn = pot_drawn(sheet.fill, Units("metric"))
    assert drawn.solids_level_mm == pytest.approx(510 * 26.4 / 100.1)
    assert "solids, displaced: 26.4 L" in printed(sheet)


def record_heights_mm(sheet: BatchSheet, paper: Paper) -> list[float]:
    """Heights of the rows of the steps, by the lines that are drawn between them beside the record."""
    with pdfplumber.open(io.BytesIO(rendered(sheet, paper).pdf)) as document:
        steps = document.pages[-1].find_tables()[-1]
        return [(row.bbox[3] - row.bbox[1]) / 72 * 25.4 for row in steps.rows]


def test_there_is_room_to_write_what_is_asked_for() -> None:
    heights = record_heights_mm(batch_sheet(), "a4")
    assert len(heights) >= 12
    assert min(heights) >= 7


def test_rows_are_lower_where_that_saves_a_page_and_high_again_where_it_does_not() -> None:
    assert 6 <= min(record_heights_mm(batch_sheet(), "letter")) < 7
    assert min(record_heights_mm(a_sheet_with_many_steps(), "letter")) >= 7


def test_head_and_foot_tell_plan_version_and_what_is_replaced() -> None:
    first = printed(batch_sheet())
    assert "week of Monday 9 March 2026 · version 1 Run R07" in first
    assert "plan 7f3a21 of Sun 8 Mar, 17:05 · version 1 · parameters defaults 1" in first
    assert "replaces" not in first
    assert "issued" not in first
    issued_at = datetime(2026, 3, 9, 15, 20, tzinfo=UTC)
    second = printed(replace(batch_sheet(), heading=replace(HEADING, version=2, replaces=1, issued_at=issued_at)))
    assert "week of Monday 9 March 2026 · version 2, replaces version 1 Run R07" in second
    assert "version 2, replaces version 1 · issued Mon 9 Mar, 09:20" in second


@pytest.mark.parametrize("paper", ["a4", "letter"])
@pytest.mark.parametrize("units", ["metric", "us"])
def test_a_run_with_a_second_draw_fits_one_page(paper: Paper, units: str) -> None:
    sheet = replace(batch_sheet(), heading=replace(HEADING, units=units))
    assert rendered(sheet, paper).pages == 1


def a_sheet_with_many_steps() -> BatchSheet:
    """So many late additions that charge and steps do not fit one page."""
    late = batch_sheet().charge[3]
    more = tuple(replace(late, order=10 + n, name=f"Herb {n}", mass_kg=0.1, add_at=after(4 + n / 4)) for n in range(6))
    return replace(batch_sheet(), charge=(*batch_sheet().charge, *more))


@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_a_sheet_that_does_not_fit_has_charge_and_draws_on_one_page_and_all_steps_on_the_next(paper: Paper) -> None:
    with pdfplumber.open(io.BytesIO(rendered(a_sheet_with_many_steps(), paper).pdf)) as document:
        first, second = (" ".join(page.extract_text(x_tolerance=1).split()) for page in document.pages)
    for words in ("Charge, in order of use", "Herb 5", "Expected draws", "Celery: wash the pot", "page 1 of 2"):
        assert words in first
    assert "Step by step" not in first
    assert second.startswith("Run R07 Brown beef stock, v3 · Big Juniper · Tuesday 10 March 2026 Step by step")
    for words in ("06:30 – 07:00", "Wed 01:00 – 01:45", "Cook Started Finished Lot numbers", "page 2 of 2"):
        assert words in second


def test_a_sheet_on_one_page_does_not_repeat_its_head() -> None:
    text = printed(batch_sheet())
    assert "page 1 of 1" in text
    assert "v3 · Big Juniper" not in text


def test_what_a_cook_reads_is_never_smaller_than_eight_and_a_half_points() -> None:
    with pdfplumber.open(io.BytesIO(rendered(batch_sheet()).pdf)) as document:
        words = document.pages[0].extract_words(x_tolerance=1, extra_attrs=["size"])
    read = {word["text"]: word["size"] for word in words}
    for text in ("Barely", "burns:", "knuckle", "(0.5", "Celery:", "chiller"):
        assert read[text] >= 8.49, text


def test_a_night_with_a_clock_change_names_the_zone_of_every_time() -> None:
    start = datetime(2026, 10, 31, 22, 0, tzinfo=UTC)  # 16:00 in Denver; clocks go back at 02:00 on 1 November
    shift = start - batch_sheet().start_at
    sheet = replace(
        batch_sheet(),
        start_at=batch_sheet().start_at + shift,
        end_at=batch_sheet().end_at + shift,
        stages=tuple(
            replace(stage, start_at=stage.start_at + shift, end_at=stage.end_at + shift)
            for stage in batch_sheet().stages
        ),
    )
    text = printed(sheet)
    assert "16:00 MDT – Sun 10:15 MST" in text
    assert "Sun 01:30 MDT – 01:00 MST Draw off" in text  # half an hour, across the change
