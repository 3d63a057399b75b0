"""Square codes for scanners, drawn to an exact size."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from production.drawing.canvas import Svg, number

MODULE_MM = 0.5  # side of one dot; GS1 General Specifications ask for at least 0.375 mm here, from memory
PX_PER_MM = 96.0 / 25.4
QUIET_MODULES = 1  # ISO/IEC 16022: a white border of one dot all around, from memory
QR_QUIET_MODULES = 4  # ISO/IEC 18004: a white border of four dots, from memory


@dataclass(frozen=True, slots=True)
class Symbol:
    """A finished code with the side of its square, border included."""

    svg: Svg
    side_mm: float


def data_matrix(text: str, *, gs1: bool, says: str) -> Symbol:
    """A DataMatrix of plain text, or of a GS1 element string with brackets round its identifiers."""
    import zxingcpp

    made = zxingcpp.create_barcode(text, zxingcpp.BarcodeFormat.DataMatrix, gs1=gs1, force_square=True)
    return _drawn(made, QUIET_MODULES, says)


def qr_code(text: str, *, says: str) -> Symbol:
    """A QR code of plain text."""
    import zxingcpp

    made = zxingcpp.create_barcode(text, zxingcpp.BarcodeFormat.QRCode, ec_level="M")
    return _drawn(made, QR_QUIET_MODULES, says)


def _drawn(made: Any, quiet: int, says: str) -> Symbol:
    image: Any = made.to_image(scale=1, add_quiet_zones=False)
    dots_of: Any = memoryview(image)
    rows: list[list[int]] = dots_of.tolist()
    side = len(rows) + 2 * quiet
    dots = "".join(_row(row, place, quiet) for place, row in enumerate(rows))
    side_mm = side * MODULE_MM
    px = number(side_mm * PX_PER_MM)
    svg = (
        f'<svg xmlns="http://www.w3.org/2000/svg" role="img" aria-label="{says}" width="{px}" '
        f'height="{px}" viewBox="0 0 {side} {side}" shape-rendering="crispEdges">'
        f'<g fill="#000">{dots}</g></svg>'
    )
    return Symbol(Svg(svg), side_mm)


def _row(row: list[int], place: int, quiet: int) -> str:
    """Black stretches of a row as one rectangle each."""
    parts, start = [], None
    for column, value in enumerate([*row, 255]):
        if value == 0 and start is None:
            start = column
        elif value != 0 and start is not None:
            x, y = start + quiet, place + quiet
            parts.append(f'<rect x="{x}" y="{y}" width="{column - start}" height="1"/>')
            start = None
    return "".join(parts)
