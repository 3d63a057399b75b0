"""The lot thread: every knot and amount is told in words, and the start stands out without colour."""

from __future__ import annotations

from production.drawing.canvas import Size
from production.drawing.lot_thread import (
    MOST_ROWS,
    Column,
    Knot,
    Line,
    LotThread,
    lot_thread,
    lot_thread_height,
    lot_thread_narrow,
    thread_facts,
)
from tests.drawing.reading import read


def a_thread(lots: int = 2) -> LotThread:
    knots = tuple(Knot(key=f"lot/{n}", title=f"LOT{n}", note="Broth", href=f"/of/{n}") for n in range(lots))
    return LotThread(
        name="R01",
        columns=(
            Column(title="Runs", total="1", knots=(Knot(key="run", title="R01", is_start=True),)),
            Column(title="Lots", total=f"{lots}, 20 containers", knots=knots),
        ),
        lines=tuple(Line(source="run", target=knot.key, label=f"{n + 5}") for n, knot in enumerate(knots)),
    )


def drawn(thread: LotThread) -> str:
    return lot_thread(thread, Size(width_px=700, height_px=lot_thread_height(thread)))


def test_words_carry_every_knot_and_amount() -> None:
    facts = thread_facts(a_thread())
    assert "Lots: 2, 20 containers." in facts
    assert "R01 went into LOT1, 6." in facts


def test_knots_are_links_and_amounts_stand_on_the_lines() -> None:
    svg = drawn(a_thread())
    assert {"R01", "LOT0", "LOT1", "5", "6"} <= set(read(svg).words())
    assert svg.count("<a href=") == 2


def test_the_start_has_a_thicker_frame_than_the_rest() -> None:
    frames = read(drawn(a_thread())).all("rect")
    widths = sorted(float(each.get("stroke-width", "0")) for each in frames if each.get("stroke") != "none")
    assert widths[-1] > widths[-2]


def test_a_long_column_is_cut_and_says_how_much_is_left_out() -> None:
    svg = drawn(a_thread(lots=40))
    words = read(svg).words()
    assert f"and {40 - MOST_ROWS + 1} more" in words
    assert lot_thread_height(a_thread(lots=40)) == lot_thread_height(a_thread(lots=MOST_ROWS))


def test_on_a_phone_each_column_is_one_box_with_its_sum() -> None:
    words = read(lot_thread_narrow(a_thread())).words()
    assert "Lots: 2, 20 containers" in words
    assert "LOT0, LOT1" in words
