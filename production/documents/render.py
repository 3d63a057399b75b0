"""From frozen content to PDF with WeasyPrint: tagged, fonts inside, nothing fetched, one process or several."""

from __future__ import annotations

import atexit
import hashlib
import multiprocessing
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from datetime import UTC, datetime
from functools import cache
from importlib.resources import files
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal, Self

from django.template import Context, Engine

from production.documents.batch_record import batch_record_view
from production.documents.batch_sheet import batch_sheet_view
from production.documents.cooling_log import cooling_log_view
from production.documents.cooling_record import cooling_record_view
from production.documents.dispatch_note import dispatch_note_view
from production.documents.hazard_plan import HazardPaper, hazard_plan_view
from production.documents.labels import label_sheet_view
from production.documents.purchase_list import nothing_to_buy_view, purchase_list_view
from production.documents.seal import seal_view
from production.documents.trace_report import trace_report_view
from production.documents.week_overview import week_overview_view
from production.domain.records.trace_report import TraceReport
from production.domain.sheets import (
    BatchSheet,
    CompletedBatchRecord,
    CompletedCoolingLog,
    CoolingLog,
    DispatchNote,
    Heading,
    LabelSheet,
    PurchaseList,
    WeekOverview,
)
from production.drawing.typeface import font_face_css

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence
    from types import TracebackType

Paper = Literal["a4", "letter"]
Room = Literal["roomy", "fair", "tight"]  # height of the rows that are written in
PAPERS: dict[Paper, str] = {"a4": "A4", "letter": "letter"}
ARCHIVE_VARIANT = "pdf/a-3b"  # with files attached; no validator has confirmed it
_EPOCH = datetime(
    2000, 1, 1, tzinfo=UTC
)  # attachments bear no time of their own, so that equal content gives equal bytes
VARIANT = "pdf/ua-1"  # tagged; no validator has confirmed it, so no document claims conformance in words


@dataclass(frozen=True, slots=True, kw_only=True)
class NothingToBuy:
    """Stands in for the purchase lists of a plan that buys nothing."""

    heading: Heading


Content = (
    BatchSheet
    | CoolingLog
    | PurchaseList
    | WeekOverview
    | LabelSheet
    | DispatchNote
    | CompletedCoolingLog
    | CompletedBatchRecord
    | NothingToBuy
    | TraceReport
    | HazardPaper
)


@dataclass(frozen=True, slots=True, kw_only=True)
class RenderedPdf:
    """A finished document."""

    pdf: bytes
    pages: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Sealed:
    """What a paper carries so that it can be checked alone: the text of its seal, and data attached to the PDF."""

    seal: str
    name: str
    data: bytes


@dataclass(frozen=True, slots=True)
class _Page:
    template: str
    view: dict[str, object]


def _page(content: Content) -> _Page:
    match content:
        case BatchSheet():
            return _Page("batch_sheet.html", batch_sheet_view(content))
        case CoolingLog():
            return _Page("cooling_log.html", cooling_log_view(content))
        case PurchaseList():
            return _Page("purchase_list.html", purchase_list_view(content))
        case WeekOverview():
            return _Page("week_overview.html", week_overview_view(content))
        case LabelSheet():
            return _Page("label_sheet.html", label_sheet_view(content))
        case DispatchNote():
            return _Page("dispatch_note.html", dispatch_note_view(content))
        case CompletedCoolingLog():
            return _Page("cooling_record.html", cooling_record_view(content))
        case HazardPaper():
            return _Page("hazard_plan.html", hazard_plan_view(content))
        case TraceReport():
            return _Page("trace_report.html", trace_report_view(content))
        case CompletedBatchRecord():
            return _Page("batch_record.html", batch_record_view(content))
        case NothingToBuy():
            return _Page("nothing_to_buy.html", nothing_to_buy_view(content.heading))


@cache
def _engine() -> Engine:
    return Engine(dirs=[str(Path(__file__).parent / "templates")], autoescape=True)


def document_html(contents: Sequence[Content], *, room: Room = "roomy", seal: str = "") -> str:
    """The document as HTML, each content on a page of its own."""
    pages = [_page(content) for content in contents]
    told = {"title": pages[0].view["title"], "pages": pages, "room": room, "seal": seal_view(seal) if seal else None}
    return _engine().get_template("base.html").render(Context(told))


@dataclass(frozen=True, slots=True)
class _Type:
    fonts: Any
    sheets: dict[Paper, list[Any]]
    fetcher: Any


@cache
def _type() -> _Type:
    """Fonts and style sheets, read once in a process."""
    from weasyprint import CSS
    from weasyprint.text.fonts import FontConfiguration
    from weasyprint.urls import URLFetcher

    fetcher = URLFetcher(allowed_protocols={"data"}, allow_redirects=False)
    fonts = FontConfiguration()
    style = (files("production.documents") / "paper.css").read_text(encoding="utf-8")
    common = CSS(string=font_face_css() + style, font_config=fonts, url_fetcher=fetcher)
    sheets = {
        paper: [
            common,
            CSS(
                string=f"@page {{ size: {size} portrait }} @page across {{ size: {size} landscape }}",
                font_config=fonts,
                url_fetcher=fetcher,
            ),
        ]
        for paper, size in PAPERS.items()
    }
    atexit.register(_type.cache_clear)  # the fonts must go before the library that closes them
    return _Type(fonts, sheets, fetcher)


def render_document(content: Content | Sequence[Content], *, paper: Paper, sealed: Sealed | None = None) -> RenderedPdf:
    """Render one content, or several of them one after the other, as one PDF; equal content gives equal bytes.

    Rows are as high as a hand needs, unless lower ones save a page; then they are as high as that page allows.
    What is sealed becomes a PDF/A-3 with its data attached.
    """
    seal = "" if sealed is None else sealed.seal
    contents = content if isinstance(content, list | tuple) else (content,)
    html, document = _laid_out(contents, "roomy", paper, seal)
    if len(document.pages) > len(contents) and not isinstance(contents[0], LabelSheet):
        tight = _laid_out(contents, "tight", paper, seal)
        if len(tight[1].pages) < len(document.pages):
            fair = _laid_out(contents, "fair", paper, seal)
            html, document = fair if len(fair[1].pages) == len(tight[1].pages) else tight
    name = hashlib.sha256(html.encode()).digest()[:16]
    if sealed is None:
        pdf = document.write_pdf(pdf_variant=VARIANT, pdf_identifier=name)
    else:
        pdf = document.write_pdf(
            pdf_variant=ARCHIVE_VARIANT, pdf_identifier=name, pdf_tags=True, attachments=[_attachment(sealed)]
        )
    return RenderedPdf(pdf=pdf, pages=len(document.pages))


def _attachment(sealed: Sealed) -> Any:
    from weasyprint import Attachment

    return Attachment(
        string=sealed.data,
        name=sealed.name,
        description="The records of this paper, with the proof of each",
        created=_EPOCH,
        modified=_EPOCH,
        relationship="Data",
    )


def _laid_out(contents: Sequence[Content], room: Room, paper: Paper, seal: str) -> tuple[str, Any]:
    from weasyprint import HTML

    kind = _type()
    html = document_html(contents, room=room, seal=seal)
    return html, HTML(string=html, url_fetcher=kind.fetcher).render(
        stylesheets=kind.sheets[paper], font_config=kind.fonts, pdf_variant=VARIANT
    )


def _warm() -> None:
    from weasyprint import HTML

    kind = _type()
    HTML(string="<p>warm</p>", url_fetcher=kind.fetcher).render(stylesheets=kind.sheets["a4"], font_config=kind.fonts)


def _render_job(job: tuple[Content | Sequence[Content], Paper]) -> RenderedPdf:
    return render_document(job[0], paper=job[1])


class Press:
    """Processes that render side by side; they warm up while the caller still plans."""

    def __init__(self, *, processes: int = 2) -> None:
        # spawn: a child shares no thread, lock or connection with the caller
        self._pool = ProcessPoolExecutor(processes, multiprocessing.get_context("spawn"))
        self._ready = [self._pool.submit(_warm) for _ in range(processes)]

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._pool.shutdown(cancel_futures=True)

    def render(self, contents: Sequence[Content | Sequence[Content]], *, paper: Paper) -> Iterator[RenderedPdf]:
        """One document after the other, in the order given, as they come off the press."""
        return self._pool.map(_render_job, [(content, paper) for content in contents], chunksize=2)
