"""One run as a line: stages to scale, names legible."""

from dataclasses import replace

import pytest

from production.drawing.canvas import Medium, Size
from production.drawing.extraction_line import ExtractionLine, LineAddition, LineStage, extraction_line, stage_key
from production.drawing.palette import INK, STAGE_WORDS
from production.drawing.typeface import text_width_px
from tests.drawing.reading import read

LINE = ExtractionLine(
    run_name="run 7",
    stages=(
        LineStage(kind="load", start_min=0, end_min=30, start_label="06:00"),
        LineStage(kind="heat-up", start_min=30, end_min=110, start_label="06:30"),
        LineStage(kind="simmer", start_min=110, end_min=400, start_label="07:50", name="Simmer under the lid"),
        LineStage(kind="draw-off", start_min=400, end_min=420, start_label="12:40"),
    ),
    end_label="13:00",
    additions=(
        LineAddition(at_min=200, at_label="09:20", name="mirepoix 6.4 kg"),
        LineAddition(at_min=210, at_label="09:30", name="Rinderkraftbrühenwürzgemüse"),
    ),
    now_min=150,
    now_label="08:30",
)


@pytest.mark.parametrize("width_px", [340.0, 900.0])
def test_stages_are_as_wide_as_their_time(width_px: float) -> None:
    drawn = read(extraction_line(LINE, Size(width_px=width_px, height_px=0)))
    frames = [rect for rect in drawn.all("rect") if rect.attrib["stroke"] == INK]
    per_min = (width_px - 20) / 420
    assert [float(rect.attrib["width"]) for rect in frames] == pytest.approx(
        [30 * per_min, 80 * per_min, 290 * per_min, 20 * per_min], abs=0.02
    )


def test_now_is_a_plumb_line_at_its_minute() -> None:
    drawn = read(extraction_line(LINE, Size(width_px=860, height_px=0)))
    plumb = [line for line in drawn.all("line") if line.attrib["stroke-width"] == "2.5"]
    assert [float(line.attrib["x1"]) for line in plumb] == pytest.approx([10 + 150 * 2])
    assert plumb[0].attrib["x1"] == plumb[0].attrib["x2"]


def test_without_now_there_is_no_plumb_line() -> None:
    drawn = read(extraction_line(replace(LINE, now_min=None), Size(width_px=860, height_px=0)))
    assert not [line for line in drawn.all("line") if line.attrib["stroke-width"] == "2.5"]
    assert "Now" not in drawn.description


def test_the_description_carries_stages_additions_and_now() -> None:
    description = read(extraction_line(LINE, Size(width_px=860, height_px=0))).description
    for fact in (
        "06:30 Heat up, 1 h 20 min.",
        "07:50 Simmer under the lid, 4 h 50 min.",
        "Ends 13:00.",
        "09:20 add mirepoix 6.4 kg.",
        "Now 08:30.",
    ):
        assert fact in description


@pytest.mark.parametrize("width_px", [340.0, 480.0, 900.0])
@pytest.mark.parametrize("medium", ["page", "print"])
def test_no_name_covers_another(width_px: float, medium: Medium) -> None:
    drawn = read(extraction_line(LINE, Size(width_px=width_px, height_px=0, medium=medium)))
    boxes = []
    for text in drawn.all("text"):
        size = float(text.attrib["font-size"])
        width = text_width_px(text.text or "", size)
        x = float(text.attrib["x"])
        left = x - {"start": 0.0, "middle": width / 2, "end": width}[text.attrib.get("text-anchor", "start")]
        boxes.append((left, float(text.attrib["y"]), width, size, text.text))
        assert left >= -0.5
        assert left + width <= width_px + 0.5
        assert 0 < float(text.attrib["y"]) <= drawn.height_px
    for index, (left, y, _, size, name) in enumerate(boxes):
        for other_left, other_y, other_width, _, other in boxes[:index]:
            apart = left >= other_left + other_width or other_left >= left + boxes[index][2] or abs(y - other_y) >= size
            assert apart, (name, other)


def test_the_key_names_every_stage_once() -> None:
    drawn = read(stage_key(Size(width_px=340, height_px=0), tuple(STAGE_WORDS)))
    shown = " ".join(drawn.words())
    for words in STAGE_WORDS.values():
        assert shown.count(words) == 1
        assert words in drawn.description
