"""The page of parts, and a drawing on paper."""

from io import BytesIO

import pikepdf
import pytest
from django.http import Http404
from django.test import RequestFactory
from pytest_django.fixtures import Settings
from weasyprint import HTML
from weasyprint.urls import URLFetcher

from production.drawing.canvas import Size
from production.drawing.pot_section import pot_section
from production.drawing.typeface import font_face_css
from production.web.views.parts import parts
from tests.drawing.test_pot_section import POT


def test_the_page_of_parts_shows_every_component_and_drawing(rf: RequestFactory, settings: Settings) -> None:
    settings.DEBUG = True
    page = parts(rf.get("/parts/")).content.decode()
    for heading in ("Verdicts", "Refused input", "Pot section", "Cooling corridor", "Week strip", "Plan timeline"):
        assert f"<h2>{heading}</h2>" in page
    assert page.count("<svg") > 20
    assert 'value="812"' in page


def test_the_page_of_parts_is_nowhere_in_use(rf: RequestFactory, settings: Settings) -> None:
    settings.DEBUG = False
    with pytest.raises(Http404):
        parts(rf.get("/parts/"))


def test_a_printed_drawing_embeds_the_fonts_and_reads_no_other_file() -> None:
    svg = pot_section(POT, Size(width_px=330, height_px=230, medium="print"))
    style = f"<style>{font_face_css()} body {{ font-family: 'Potwright Sans' }}</style>"
    html = f"<html lang=en>{style}<body>{svg}</body></html>"
    pdf = HTML(string=html, url_fetcher=URLFetcher(allowed_protocols={"data"})).write_pdf()
    with pikepdf.open(BytesIO(pdf)) as document:
        fonts = document.pages[0].Resources.Font
        names = {str(font.BaseFont) for font in fonts.values()}
        embedded = [
            {"/FontFile2", "/FontFile3"} & set(font.DescendantFonts[0].FontDescriptor.keys()) for font in fonts.values()
        ]
    assert len(names) == 2
    assert all("Potwright" in name for name in names)
    assert all(embedded)
