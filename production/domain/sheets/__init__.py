"""What goes on paper, as frozen content: the batch sheet, the blank cooling log, the purchase list, the week."""

from production.domain.sheets.batch_record import CompletedBatchRecord
from production.domain.sheets.batch_sheet import batch_sheets
from production.domain.sheets.content import (
    Arriving,
    BatchSheet,
    ChargeLine,
    CompletedCoolingLog,
    Content,
    CoolingLog,
    CurvePoint,
    DispatchNote,
    ExpectedDraw,
    Filled,
    InPot,
    Label,
    LabelSheet,
    Leaving,
    LimitLine,
    OnDuty,
    PotFill,
    PotWeek,
    PurchaseLine,
    PurchaseList,
    StageLine,
    WeekOverview,
)
from production.domain.sheets.cooling_log import cooling_logs
from production.domain.sheets.file import content_from_json, content_to_json, issued
from production.domain.sheets.heading import Heading
from production.domain.sheets.purchase_list import purchase_lists
from production.domain.sheets.week_overview import week_overview

__all__ = [
    "Arriving",
    "BatchSheet",
    "ChargeLine",
    "CompletedBatchRecord",
    "CompletedCoolingLog",
    "Content",
    "CoolingLog",
    "CurvePoint",
    "DispatchNote",
    "ExpectedDraw",
    "Filled",
    "Heading",
    "InPot",
    "Label",
    "LabelSheet",
    "Leaving",
    "LimitLine",
    "OnDuty",
    "PotFill",
    "PotWeek",
    "PurchaseLine",
    "PurchaseList",
    "StageLine",
    "WeekOverview",
    "batch_sheets",
    "content_from_json",
    "content_to_json",
    "cooling_logs",
    "issued",
    "purchase_lists",
    "week_overview",
]
