"""Labels on sheets or from a roll: every line is broken here, so that a label either holds its text or is refused."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import TYPE_CHECKING

from production.documents.barcodes import Symbol, data_matrix
from production.documents.words import Units
from production.domain.errors import DoesNotFit
from production.domain.sheets.label_sizes import LabelSize, label_size
from production.domain.sheets.labels import contains_statement, gs1_elements, ingredient_list
from production.drawing.typeface import text_width_px, wrap

if TYPE_CHECKING:
    from production.domain.sheets import Label, LabelSheet
    from production.drawing.typeface import Weight

PAD_MM = 2.5
GAP_MM = 2.0
LINE = 1.16  # height of a line, of the size of its type
X_HEIGHT = 0.486  # of the bundled type
LARGEST_MM = 4.2
STEP_MM = 0.05
# Height of a small x: Regulation (EU) 1169/2011 Art. 13(2), 1.2 mm; 21 CFR 101.2(c), 1/16 inch. Both from memory.
LEAST_X_MM = {"eu": 1.2, "us": 25.4 / 16.0, "both": 25.4 / 16.0}
CODE_TEXT_MM = 2.0  # the characters of the square code in plain, for when no scanner reads it


@dataclass(frozen=True, slots=True)
class Piece:
    """Words of one line in one weight."""

    text: str
    strong: bool


@dataclass(frozen=True, slots=True)
class Line:
    """One line of a label; sizes in mm."""

    pieces: tuple[Piece, ...]
    size_mm: float
    y_mm: float


@dataclass(frozen=True, slots=True)
class LaidOut:
    """A label with every line in its place."""

    lines: tuple[Line, ...]
    symbol: Symbol
    size_mm: float  # of the type of its text


@dataclass(frozen=True, slots=True)
class _Block:
    """Words that follow each other; `scale` is their size against that of the text."""

    pieces: tuple[Piece, ...]
    scale: float = 1.0
    space: float = 0.0  # above, in lines of text


def label_sheet_view(sheet: LabelSheet) -> dict[str, object]:
    """Everything the template needs: labels by sheet, with corners in mm."""
    size = label_size(sheet.size)
    laid = [(label_laid_out(each.label, size), each.copies) for each in sheet.labels]
    places: list[tuple[LaidOut, int]] = []
    at = sheet.first_place - 1
    for label, copies in laid:
        for _ in range(copies):
            places.append((label, at))
            at += 1
    return {
        "title": f"Labels {sheet.key}",
        "size": size,
        "sheets": [
            [(label, *size.corner_mm(place % size.places)) for label, place in places if place // size.places == number]
            for number in range(-(-at // size.places))
        ],
        "pad_mm": PAD_MM,
    }


def label_laid_out(label: Label, size: LabelSize) -> LaidOut:
    """The label in the largest type that its size holds, refused where that is smaller than the law allows."""
    symbol = symbol_of(label)
    foot = (Piece(gs1_elements(label) or f"Lot {label.lot}", strong=False),)
    least = LEAST_X_MM[label.law] / X_HEIGHT
    type_mm = LARGEST_MM
    while type_mm >= least - 1e-9:
        lines = _lines(list(_blocks(label)), size, symbol, type_mm)
        if lines is not None:
            foot_y = size.height_mm - PAD_MM - CODE_TEXT_MM * LINE
            return LaidOut((*lines, Line(foot, _foot_size(foot, size), foot_y)), symbol, type_mm)
        type_mm -= STEP_MM
    raise DoesNotFit(
        f"The text of {label.name} does not fit a label of {size.width_mm:g} × {size.height_mm:g} mm in type that may "
        f"still be printed (small letters {LEAST_X_MM[label.law]:.1f} mm high).",
        code="label-too-small",
        numbers={"width_mm": size.width_mm, "height_mm": size.height_mm},
        remedy="Choose a larger label.",
    )


def symbol_of(label: Label) -> Symbol:
    """The square code: a GS1 element string where the product has an article number, else the lot alone."""
    elements = gs1_elements(label)
    if elements:
        return data_matrix(elements, gs1=True, says=f"Code for scanners: {elements}")
    return data_matrix(label.lot, gs1=False, says=f"Code for scanners: {label.lot}")


def _foot_size(foot: tuple[Piece, ...], size: LabelSize) -> float:
    room = size.width_mm - 2.0 * PAD_MM
    return min(CODE_TEXT_MM, CODE_TEXT_MM * room / text_width_px(foot[0].text, CODE_TEXT_MM))


def _blocks(label: Label) -> Iterator[_Block]:
    yield _Block((Piece(label.name, strong=True),), scale=1.35)
    yield _Block(
        (Piece("Ingredients: ", strong=False), *(Piece(each.text, each.strong) for each in ingredient_list(label))),
        space=0.15,
    )
    contains = contains_statement(label)
    if contains:
        yield _Block((Piece(contains, strong=True),))
    word = "Best before" if label.frozen else "Use by"
    yield _Block((Piece(f"{word} {day_on_label(label.use_by, label)}", strong=True),), scale=1.2, space=0.25)
    yield _Block((Piece(f"{keep_text(label)}. Net {net_text(label)}", strong=False),))
    yield _Block((Piece(f"Made {day_on_label(label.made_on, label)}. Lot {label.lot}", strong=False),))
    yield _Block((Piece(label.kitchen, strong=False),))
    for each in label.cautions:
        yield _Block((Piece(each, strong=False),))


def day_on_label(day: date, label: Label) -> str:
    """A day that nobody reads the wrong way round: the month is a word."""
    if label.law == "us":
        return f"{day:%b} {day.day}, {day.year}"
    return f"{day.day} {day:%b} {day.year}"


def keep_text(label: Label) -> str:
    """How it is kept."""
    temp = f"{label.keep_temp.normalize():f} °{label.keep_unit}".replace("-", "−")
    return f"Keep frozen, {temp} or colder" if label.frozen else f"Keep at {temp} or colder"


def net_text(label: Label) -> str:
    """How much is in it: in the kitchen's units, and both ways where the law of the United States is named."""
    metric = Units("metric").text(float(label.net_l), "L")
    pieces = f", {label.pieces} cubes" if label.pieces else ""
    if label.law == "eu" and label.units != "us":
        return metric + pieces
    return f"{fluid_ounces(label.net_l)} ({metric}){pieces}"


def fluid_ounces(net_l: Decimal) -> str:
    """US fluid ounces, with quarts and pints left to the reader: 1 fl oz = 29.5735295625 mL exactly."""
    ounces = net_l * 1000 / Decimal("29.5735295625")
    return f"{ounces.quantize(Decimal('0.1'))} fl oz"


def _lines(blocks: list[_Block], size: LabelSize, symbol: Symbol, type_mm: float) -> tuple[Line, ...] | None:
    """All lines in their places, or nothing where they do not fit."""
    bottom = size.height_mm - PAD_MM - CODE_TEXT_MM * LINE - 0.4
    beside = PAD_MM + symbol.side_mm + 0.5  # above this the square code takes its part of the width
    whole = size.width_mm - 2.0 * PAD_MM
    y, lines = PAD_MM, []
    for block in blocks:
        y += block.space * type_mm
        left = list(block.pieces)
        while left:
            mm = type_mm * block.scale
            room = whole - symbol.side_mm - GAP_MM if y < beside else whole
            head, left = _broken(left, room, mm)
            lines.append(Line(tuple(head), mm, y))
            y += mm * LINE
            if y > bottom:
                return None
    return tuple(lines)


def _broken(pieces: list[Piece], room: float, size_mm: float) -> tuple[list[Piece], list[Piece]]:
    """The first line of the pieces, and what is left of them; a word wider than the room is broken inside."""
    words = [(word, piece.strong) for piece in pieces for word in _words(piece.text)]
    used, count = 0.0, 0
    for word, strong in words:
        wide = _width(word.rstrip() if word.rstrip() else word, size_mm, strong)
        if count and used + wide > room and word.strip():
            break
        used += _width(word, size_mm, strong)
        count += 1
    head, rest = words[:count], words[count:]
    if count == 1 and used > room:
        first, *more = wrap(head[0][0], room, size_mm, 600 if head[0][1] else 400)
        head, rest = [(first, head[0][1])], [("".join(more), head[0][1]), *rest]
    return _joined(head, last=True), _joined(rest, last=False)


def _words(text: str) -> Iterable[str]:
    """Words with the blank behind them, so that pieces that touch stay together on paper."""
    begin = 0
    for place, letter in enumerate(text):
        if letter == " ":
            yield text[begin : place + 1]
            begin = place + 1
    if begin < len(text):
        yield text[begin:]


def _joined(words: list[tuple[str, bool]], *, last: bool) -> list[Piece]:
    pieces: list[Piece] = []
    for word, strong in words:
        if pieces and pieces[-1].strong == strong:
            pieces[-1] = Piece(pieces[-1].text + word, strong)
        elif word:
            pieces.append(Piece(word, strong))
    if last and pieces:
        pieces[-1] = Piece(pieces[-1].text.rstrip(), pieces[-1].strong)
    return [piece for piece in pieces if piece.text]


def _width(text: str, size_mm: float, strong: bool) -> float:
    weight: Weight = 600 if strong else 400
    return text_width_px(text, size_mm, weight)
