"""Tokens, contrast and weight of the pages' own files."""

import gzip
import re
from pathlib import Path

import pytest

from production.drawing import palette

PRODUCTION = Path(__file__).resolve().parents[2] / "production"
TOKENS = (PRODUCTION / "web" / "static" / "css" / "tokens.css").read_text(encoding="utf-8")
TOKEN_COLOURS = dict(re.findall(r"--([a-z-]+): (#[0-9a-f]{6});", TOKENS))
TEMPLATES = sorted((PRODUCTION / "web" / "templates").rglob("*.html"))


def luminance(colour: str) -> float:
    """WCAG 2.2, relative luminance."""
    channels = [int(colour[at : at + 2], 16) / 255 for at in (1, 3, 5)]
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in channels]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(one: str, other: str) -> float:
    """WCAG 2.2, contrast ratio."""
    light, dark = sorted((luminance(one), luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def test_contrast_is_21_for_black_on_white() -> None:
    assert contrast("#000000", "#ffffff") == pytest.approx(21)


@pytest.mark.parametrize("name", ["ink", "grey", "accent", "within", "near", "past"])
def test_text_stands_out_seven_to_one(name: str) -> None:
    assert contrast(TOKEN_COLOURS[name], TOKEN_COLOURS["paper"]) >= 7


@pytest.mark.parametrize("name", ["ink", "paper", "grey", "hairline", "accent", "within", "near", "past"])
def test_pages_and_drawings_share_their_colours(name: str) -> None:
    assert TOKEN_COLOURS[name] == getattr(palette, name.upper())


def test_the_print_sheet_uses_no_colour_of_its_own() -> None:
    css = (PRODUCTION / "documents" / "paper.css").read_text(encoding="utf-8")
    assert set(re.findall(r"#[0-9a-f]{6}", css)) <= set(TOKEN_COLOURS.values())


def test_the_first_paint_stays_under_100_kb_of_own_files() -> None:
    web = PRODUCTION / "web" / "static"
    # The live settings send them compressed (whitenoise's CompressedManifestStaticFilesStorage); fonts are already.
    own = sum(len(gzip.compress(path.read_bytes())) for path in web.rglob("*") if path.is_file())
    fonts = sum(path.stat().st_size for path in (PRODUCTION / "drawing" / "fonts").glob("*.woff2"))
    assert own + fonts < 100_000


@pytest.mark.parametrize("path", TEMPLATES, ids=lambda path: path.name)
def test_templates_hold_no_inline_script_or_style(path: Path) -> None:
    text = re.sub(r"{%.*?%}", "", path.read_text(encoding="utf-8"))
    assert not re.search(r"<style|\sstyle=\"|\son[a-z]+=\"|<script(?![^>]*\ssrc=)", text)
