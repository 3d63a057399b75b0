"""What goes on paper, as frozen content: the batch sheet, the blank cooling log, the purchase list."""

from production.domain.sheets.batch_sheet import batch_sheets
from production.domain.sheets.content import (
    BatchSheet,
    ChargeLine,
    Content,
    CoolingLog,
    CurvePoint,
    ExpectedDraw,
    Filled,
    Heading,
    LimitLine,
    PotFill,
    PurchaseLine,
    PurchaseList,
    StageLine,
)
from production.domain.sheets.cooling_log import cooling_logs
from production.domain.sheets.file import content_from_json, content_to_json, issued
from production.domain.sheets.purchase_list import purchase_lists

__all__ = [
    "BatchSheet",
    "ChargeLine",
    "Content",
    "CoolingLog",
    "CurvePoint",
    "ExpectedDraw",
    "Filled",
    "Heading",
    "LimitLine",
    "PotFill",
    "PurchaseLine",
    "PurchaseList",
    "StageLine",
    "batch_sheets",
    "content_from_json",
    "content_to_json",
    "cooling_logs",
    "issued",
    "purchase_lists",
]
