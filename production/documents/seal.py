"""The seal of a paper: the checkpoint of the book in words and as a square code."""

from __future__ import annotations

from production.documents.barcodes import qr_code


def seal_view(text: str) -> dict[str, object]:
    """What the template sets at the end of a sealed paper."""
    return {"lines": text.strip().split("\n"), "code": qr_code(text, says="The checkpoint beside it, as a code").svg}
