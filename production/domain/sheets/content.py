"""The content of the papers, frozen when they are made."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from typing import Literal

from production.domain.sheets.batch_record import CompletedBatchRecord
from production.domain.sheets.heading import Heading


@dataclass(frozen=True, slots=True, kw_only=True)
class PotFill:
    """The pot in cross-section, for the drawing and the fill mark."""

    pot: str
    heat_source: str
    inner_diameter_mm: float
    inner_height_mm: float
    brim_l: float
    solids_l: float
    water_l: float
    cold_fill_l: float  # solids and water together, cold
    fill_mark_mm: float  # cold surface below the rim
    hot_mark_mm: float  # surface below the rim at the boil, bubbles included
    freeboard_mm: float  # least distance wanted at the boil


@dataclass(frozen=True, slots=True, kw_only=True)
class ChargeLine:
    """One weighing, in the order of use."""

    order: int
    name: str
    what: str  # solids, water, mirepoix, aromatics
    role: str
    mass_kg: float
    volume_l: float | None  # water only
    from_bank_kg: float
    add_at: datetime | None  # None = with the load
    allergens: tuple[str, ...]
    figure: str  # key of the figure that says how the mass came about


@dataclass(frozen=True, slots=True, kw_only=True)
class StageLine:
    """One line of the stage table."""

    kind: str
    title: str
    start_at: datetime
    end_at: datetime
    do: str
    record: str
    caution: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Filled:
    """So many containers of a product."""

    product: str
    container: str
    containers: int
    net_l: float
    pieces: int | None  # cubes


@dataclass(frozen=True, slots=True, kw_only=True)
class ExpectedDraw:
    """What a draw should give, and where it goes."""

    name: str
    at: datetime
    mass_kg: float
    cold_l: float
    hot_l: float
    hot_temp_c: float
    solids_bx: float
    filled: tuple[Filled, ...]
    cooled_in: str
    ice_kg: float
    log_key: str


@dataclass(frozen=True, slots=True, kw_only=True)
class BatchSheet:
    """One run in one pot, for the cook."""

    kind: str
    key: str
    heading: Heading
    run: str
    formula: str
    formula_version: int
    start_at: datetime
    end_at: datetime
    fill: PotFill
    charge: tuple[ChargeLine, ...]
    stages: tuple[StageLine, ...]
    draws: tuple[ExpectedDraw, ...]
    boil_temp_c: float
    simmer_temp_c: float
    evaporation_kg_h: float
    allergens: tuple[str, ...]
    cautions: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class LimitLine:
    """One critical limit with what is predicted against it."""

    stage: int
    from_temp: Decimal | None
    to_temp: Decimal
    temp_unit: str  # C or F, as the rule prints it
    limit_min: int
    counted_from: str
    inclusive: bool
    predicted_min: float
    margin_min: float


@dataclass(frozen=True, slots=True, kw_only=True)
class CurvePoint:
    """A point of a predicted cooling curve."""

    minute: float
    temp_c: float


@dataclass(frozen=True, slots=True, kw_only=True)
class CoolingLog:
    """The blank cooling log of one draw in one device."""

    kind: str
    key: str
    heading: Heading
    run: str
    draw: str
    formula: str
    products: tuple[Filled, ...]
    device: str
    vessel: str
    vessels: int
    litres: float  # in this device
    draw_litres: float  # of the whole draw
    fill_l: float
    depth_mm: float
    ice_kg: float
    start_at: datetime
    start_temp_c: float
    rule: str
    jurisdiction: str
    rule_source: str
    limits: tuple[LimitLine, ...]
    notes: tuple[str, ...]  # what the rule adds to its limits
    clock_starts: str
    expected: tuple[CurvePoint, ...]
    slow: tuple[CurvePoint, ...]
    reading_minutes: tuple[int, ...]  # suggested times of readings after the start
    corrective: tuple[str, ...]
    cautions: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class PurchaseLine:
    """So many packs of an ingredient."""

    ingredient: str
    packs: int
    pack_kg: float
    mass_kg: float
    needed_kg: float  # as bought, after stock and bank
    price: Decimal
    cost: Decimal
    needed_by: datetime
    for_runs: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class PurchaseList:
    """What is ordered from one supplier for one delivery."""

    kind: str
    key: str
    heading: Heading
    supplier: str
    contact: str
    order_by: datetime
    delivery_at: datetime
    currency: str
    lines: tuple[PurchaseLine, ...]
    total: Decimal


@dataclass(frozen=True, slots=True, kw_only=True)
class InPot:
    """A run, or the reduction of one or several, from the first hand on it until the vessel is washed."""

    run: str
    formula: str
    start_at: datetime
    end_at: datetime
    reduces: tuple[str, ...]  # runs whose second draws are reduced here; none where stock is made
    is_late: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class PotWeek:
    """What stands in a pot or pan, in the order of time."""

    pot: str
    runs: tuple[InPot, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class OnDuty:
    """A person's working time."""

    person: str
    start_at: datetime
    end_at: datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class Leaving:
    """All that leaves for one outlet at one time."""

    at: datetime
    outlet: str
    containers: int  # as ordered
    unserved: int  # of them, those that the plan cannot serve


@dataclass(frozen=True, slots=True, kw_only=True)
class Arriving:
    """A supplier's delivery."""

    at: datetime
    supplier: str
    items: int


@dataclass(frozen=True, slots=True, kw_only=True)
class WeekOverview:
    """A plan on one page, for the wall."""

    kind: str
    key: str
    heading: Heading
    days: tuple[date, ...]
    pots: tuple[PotWeek, ...]
    on_duty: tuple[OnDuty, ...]
    leaving: tuple[Leaving, ...]
    arriving: tuple[Arriving, ...]


LabelLaw = Literal["eu", "us", "both"]


@dataclass(frozen=True, slots=True, kw_only=True)
class LabelIngredient:
    """An ingredient of the list, with the allergens it brings."""

    name: str
    allergens: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Label:
    """One label, as it was when the lot was packed."""

    law: LabelLaw
    name: str
    ingredients: tuple[LabelIngredient, ...]  # heaviest first, as used
    allergens: tuple[str, ...]
    lot: str
    made_on: date  # day 1
    use_by: date
    frozen: bool  # then the date is a best-before
    keep_temp: Decimal
    keep_unit: Literal["C", "F"]
    net_l: Decimal
    pieces: int | None
    units: str  # metric or us
    kitchen: str
    gtin: str = ""
    sealed_hot: bool = False
    cautions: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class LabelCopies:
    """A label and how often it is printed."""

    label: Label
    copies: int


@dataclass(frozen=True, slots=True, kw_only=True)
class LabelSheet:
    """Labels on sheets or on a roll."""

    kind: str
    key: str
    heading: Heading
    size: str  # code of the sheet or roll
    first_place: int  # 1 = the first label of a new sheet
    labels: tuple[LabelCopies, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class NoteLot:
    """Containers of a lot on a dispatch note."""

    lot: str
    containers: int
    use_by: date
    frozen: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class NoteLine:
    """One order line on a dispatch note."""

    product: str
    container: str
    ordered: int
    allergens: tuple[str, ...]
    keep_temp: Decimal | None  # none where nothing has left
    keep_unit: str
    lots: tuple[NoteLot, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class DispatchNote:
    """What leaves for one outlet at one time."""

    kind: str
    key: str
    heading: Heading
    outlet: str
    contact: str
    dispatch_at: datetime
    lines: tuple[NoteLine, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class LoggedReading:
    """One reading: as the thermometer showed it and as it counts; struck through where it was set aside."""

    number: int  # of its entry in the kitchen's book
    measured_at: datetime
    entered_at: datetime
    shown: str  # as typed, with its unit
    counted: str  # with the thermometer's correction
    temp_c: float  # for the drawing
    thermometer: str
    by: str
    from_probe: bool
    notes: tuple[str, ...]
    struck: bool
    struck_why: str  # reason, by whom, when


@dataclass(frozen=True, slots=True, kw_only=True)
class LoggedAct:
    """Something that was done, or decided, besides measuring."""

    number: int
    at: datetime
    by: str
    words: str


@dataclass(frozen=True, slots=True, kw_only=True)
class LoggedStage:
    """One critical limit and what the readings show of it."""

    stage: int
    from_temp: Decimal | None
    to_temp: Decimal | None
    temp_unit: str
    limit_min: int | None
    inclusive: bool
    counted_from: str
    verdict: str  # met, breached, not_shown
    reasons: tuple[str, ...]
    start_at: datetime | None
    reached_at: datetime | None
    deadline_at: datetime | None
    to_c: float | None  # for the drawing


@dataclass(frozen=True, slots=True, kw_only=True)
class LoggedVerdict:
    """The verdict as it was written down, at closing or after an addition."""

    number: int
    at: datetime
    by: str
    verdict: str
    reasons: tuple[str, ...]
    added_later: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class CompletedCoolingLog:
    """The log of one group of containers, from the draw to its verdict."""

    kind: str
    key: str
    heading: Heading
    run: str
    draw: str
    formula: str
    products: tuple[Filled, ...]
    lots: tuple[str, ...]
    group: int
    attempt: int
    device: str
    method: str
    vessel: str
    vessels: int
    litres: float
    fill_l: float
    depth_mm: float
    ice_kg: float  # put in at the start, as planned
    rule: str
    jurisdiction: str
    rule_source: str
    clock_starts: str
    opened_at: datetime
    hot_fact_at: datetime | None
    event: str
    event_at: datetime | None
    closed_at: datetime
    verdict: str
    stages: tuple[LoggedStage, ...]
    readings: tuple[LoggedReading, ...]
    acts: tuple[LoggedAct, ...]
    verdicts: tuple[LoggedVerdict, ...]
    notes: tuple[str, ...]
    cautions: tuple[str, ...]
    book_first: int  # entries of the kitchen's book on which it rests
    book_last: int
    said: tuple[LoggedAct, ...] = ()  # signatures, questions, answers and refusals so far
    signed_by: str = ""  # whose signature stands


Content = (
    BatchSheet
    | CoolingLog
    | PurchaseList
    | WeekOverview
    | LabelSheet
    | DispatchNote
    | CompletedCoolingLog
    | CompletedBatchRecord
)
