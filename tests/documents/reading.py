"""Render a content once for all tests, and read the paper back."""

from __future__ import annotations

import io
from functools import cache

import pdfplumber

from production.documents.render import Content, Paper, RenderedPdf, render_document


@cache
def rendered(content: Content | tuple[Content, ...], paper: Paper = "a4") -> RenderedPdf:
    return render_document(content, paper=paper)


def words_of(pdf: bytes) -> str:
    """What is printed, in the order it is set, each run of white space as one space."""
    with pdfplumber.open(io.BytesIO(pdf)) as document:
        text = " ".join(page.extract_text(use_text_flow=True, x_tolerance=1) for page in document.pages)
    return " ".join(text.split())


@cache
def printed(content: Content | tuple[Content, ...], paper: Paper = "a4") -> str:
    return words_of(rendered(content, paper).pdf)
