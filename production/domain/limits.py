"""Cooling rules as data, each with its source, and the margins that a predicted cooling curve leaves under them."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from decimal import Decimal
from types import MappingProxyType
from typing import Literal

from production.domain.errors import OutOfRange, UnknownParameter

TempUnit = Literal["F", "C"]
Clock = Literal["from_start", "from_stage", "from_event", "no_limit"]
Mark = Literal["read", "read in part", "memory"]
Confidence = Literal["high", "medium", "low"]


@dataclass(frozen=True, slots=True)
class Stage:
    """One limit: down to `to_temp` within `max_minutes` of its clock."""

    number: int
    from_temp: Decimal | None
    to_temp: Decimal | None
    unit: TempUnit
    max_minutes: int | None
    clock: Clock
    final_target: bool
    strict: bool = False
    note: str = ""

    @property
    def from_c(self) -> float | None:
        """Start of the stage in Celsius, for predictions only."""
        return None if self.from_temp is None else float(to_celsius(self.from_temp, self.unit))

    @property
    def to_c(self) -> float | None:
        """Target of the stage in Celsius, for predictions only."""
        return None if self.to_temp is None else float(to_celsius(self.to_temp, self.unit))


@dataclass(frozen=True, slots=True)
class CoolingRule:
    """One published rule; the kitchen chooses which one is in force."""

    code: str
    title: str
    jurisdiction: str
    legal_status: str
    applies_to: str
    stages: tuple[Stage, ...]
    source: str
    mark: Mark
    confidence: Confidence
    event: str = ""
    note: str = ""
    unfit: str = ""  # why a cooked broth cannot be planned by it; empty where it can


@dataclass(frozen=True, slots=True)
class StagePrediction:
    """What a predicted curve does under one stage; None where the stage sets no number of minutes."""

    stage: Stage
    limit_min: int | None
    predicted_min: float
    margin_min: float | None

    @property
    def within(self) -> bool:
        """Whether the stage is predicted to be met."""
        if self.margin_min is None:
            return math.isfinite(self.predicted_min)
        return self.margin_min > 0.0 if self.stage.strict else self.margin_min >= 0.0


def to_celsius(value: Decimal, unit: TempUnit) -> Decimal:
    """Convert a legal limit to Celsius without rounding first.

    Equation: (F - 32) x 5 / 9 for F, unchanged for C.
    Units: value [F or C as unit says], unit [no quantities]; returns [degC].
    Valid: every temperature.
    Errors: none.
    Source: exact definition.
    """
    return (value - 32) * 5 / 9 if unit == "F" else value


def _stage(
    number: int,
    from_temp: str | None,
    to_temp: str | None,
    unit: TempUnit,
    minutes: int | None,
    clock: Clock,
    *,
    final: bool = False,
    strict: bool = False,
    note: str = "",
) -> Stage:
    start = None if from_temp is None else Decimal(from_temp)
    target = None if to_temp is None else Decimal(to_temp)
    return Stage(number, start, target, unit, minutes, clock, final, strict, note)


_MODEL = "model code, law where a state adopts it"
_US = "United States"
_COOKED = "cooked food that needs time and temperature control"

_ALL: tuple[CoolingRule, ...] = (
    CoolingRule(
        "FDA_A", "Two stages, Fahrenheit", _US, _MODEL, _COOKED,
        (
            _stage(1, "135", "70", "F", 120, "from_start"),
            _stage(2, "135", "41", "F", 360, "from_start", final=True,
                   note="total time: what stage 1 saves, stage 2 may use"),
        ),
        "FDA Food Code 2022 3-501.14(A); text read in 16 Del. Admin. Code 3-501.14 (2014)", "read", "high",
    ),
    CoolingRule(
        "FDA_A_C", "Two stages, printed Celsius pair", _US, _MODEL, _COOKED,
        (
            _stage(1, "57", "21", "C", 120, "from_start", note="21 C is 69.8 F, stricter than 70 F"),
            _stage(2, "57", "5", "C", 360, "from_start", final=True),
        ),
        "FDA Food Code 2022 3-501.14(A), printed Celsius pair", "read", "high",
        note="for kitchens whose thermometers read Celsius",
    ),
    CoolingRule(
        "FDA_B", "From ambient ingredients", _US, _MODEL, "food made from ingredients at room temperature",
        (_stage(1, None, "41", "F", 240, "from_event", final=True),),
        "FDA Food Code 2022 3-501.14(B); read in 16 Del. Admin. Code 3-501.14", "read", "high",
        event="preparation", note="Celsius limit 5", unfit="it is for food that was never hot",
    ),
    CoolingRule(
        "FDA_C", "Received warm", _US, _MODEL, "food lawfully received above 41 F",
        (_stage(1, None, "41", "F", 240, "from_event", final=True),),
        "FDA Food Code 2022 3-501.14(C); read in 16 Del. Admin. Code 3-501.14", "read", "high",
        event="receipt", note="Celsius limit 5", unfit="it is for food that was received warm",
    ),
    CoolingRule(
        "US_MD_SCHED", "Two stages, each on its own", "United States, Maryland", "law", _COOKED,
        (
            _stage(1, "135", "70", "F", 120, "from_start"),
            _stage(2, "70", "41", "F", 240, "from_stage", final=True, note="an additional 4 h"),
        ),
        "COMAR 10.15.03.11 A(1)", "read", "high",
    ),
    CoolingRule(
        "US_140_OLD", "Two stages from 140 F", "United States, places on the text of 1999", "law", _COOKED,
        (
            _stage(1, "140", "70", "F", 120, "from_start"),
            _stage(2, "70", "41", "F", 240, "from_stage", final=True, note="or 45 F where the rule says so"),
        ),
        "Maine C.M.R. 01-001 ch. 346 s. 3-12; South Dakota 44:02:07:32 (both in the 2024 text)", "read", "high",
    ),
    CoolingRule(
        "FSIS_B_OPT1", "Stabilization, option 1", "United States, federally inspected meat and poultry",
        "guidance (safe harbour)", "cooked meat and poultry of any kind",
        (
            _stage(1, "130", "80", "F", 90, "from_start"),
            _stage(2, "80", "40", "F", 300, "from_stage", final=True),
        ),
        "USDA FSIS Appendix B 1999 paragraph 1 (read); same numbers in FSIS-GD-2021-13 option 1 (from memory)",
        "read in part", "high", note="the warmest point governs",
    ),
    CoolingRule(
        "FSIS_B_OPT2", "Stabilization, option 2", "United States, federally inspected meat and poultry",
        "guidance (safe harbour)", "cooked meat and poultry, slow start",
        (
            _stage(1, "120", "80", "F", 60, "from_start", note="chilling begins within 90 min after cooking"),
            _stage(2, "80", "55", "F", 300, "from_stage"),
            _stage(3, "55", "40", "F", None, "no_limit", final=True, note="continuous; not shipped before"),
        ),
        "USDA FSIS Appendix B 1999 paragraph 2 as amended 5/99 (read); FSIS-GD-2021-13 option 2 (from memory)",
        "read in part", "medium",
    ),
    CoolingRule(
        "FSIS_B_OPT3", "Stabilization, option 3", "United States, federally inspected meat and poultry",
        "guidance (safe harbour)", "cured product with at least 100 ppm ingoing nitrite, not for broth",
        (
            _stage(1, "130", "80", "F", 300, "from_start"),
            _stage(2, "80", "45", "F", 600, "from_stage", final=True, note="one summary says 40 F"),
        ),
        "USDA FSIS Appendix B 1999 paragraph 3, from memory", "memory", "medium",
        unfit="it is for cured products with nitrite",
    ),
    CoolingRule(
        "AU_322", "Two stages, each on its own", "Australia", "law", "cooked potentially hazardous food",
        (
            _stage(1, "60", "21", "C", 120, "from_start"),
            _stage(2, "21", "5", "C", 240, "from_stage", final=True, note="a further 4 h"),
        ),
        "Food Standards Code, Standard 3.2.2 clause 7(3), quoted in state guidance", "read", "high",
        note="or a demonstrated safe alternative",
    ),
    CoolingRule(
        "NZ_FCP", "Two stages, each on its own", "New Zealand", "food control plan template", "freshly cooked food",
        (
            _stage(1, "60", "21", "C", 120, "from_start", note="or room temperature if that is colder"),
            _stage(2, "21", "5", "C", 240, "from_stage", final=True),
        ),
        "Ministry for Primary Industries food control plan template, from memory", "memory", "medium",
    ),
    CoolingRule(
        "CA_RETAIL", "Two stages, each on its own", "Canada", "model code", "cooked potentially hazardous food",
        (
            _stage(1, "60", "20", "C", 120, "from_start"),
            _stage(2, "20", "4", "C", 240, "from_stage", final=True),
        ),
        "Food Retail and Food Services Code, February 2016, section not seen, from memory", "memory", "medium",
        note="provincial rules govern",
    ),
    CoolingRule(
        "HK_CFS", "Two stages, each on its own", "Hong Kong", "guidance", "cooked food",
        (
            _stage(1, "60", "20", "C", 120, "from_start"),
            _stage(2, "20", "4", "C", 240, "from_stage", final=True),
        ),
        "Centre for Food Safety guideline, from memory", "memory", "low",
    ),
    CoolingRule(
        "FR_2009", "One stage, strictly", "France", "law", "culinary preparations delivered cold",
        (_stage(1, "63", "10", "C", 120, "from_start", final=True, strict=True, note="less than 2 h, then 3 C"),),
        "Arrete du 21 decembre 2009 annexe IV, read in a press summary", "read in part", "high",
        note="other limits where a hazard analysis justifies them",
    ),
    CoolingRule(
        "IE_GN15", "Cook-chill", "Ireland", "guidance", "cook-chill food service",
        (_stage(1, None, "3", "C", 150, "from_event", final=True),),
        "Food Safety Authority of Ireland, Guidance Note 15 (2018, abstract)", "read", "high",
        event="end of cooking", note="older practice: start within 30 min and chill within 90 to 120 min",
    ),
    CoolingRule(
        "UK_CC89", "Cook-chill", "United Kingdom", "guidance", "cook-chill catering",
        (_stage(1, None, "3", "C", 90, "from_event", final=True),),
        "Department of Health, Chilled and Frozen guidelines, 1989, from memory", "memory", "medium",
        event="start of chilling", note="chilling starts within 30 min after cooking",
    ),
    CoolingRule(
        "UK_CF89", "Cook-freeze", "United Kingdom", "guidance", "cook-freeze catering",
        (_stage(1, None, "-5", "C", 90, "from_event", note="then to -18 C"),),
        "Department of Health, Chilled and Frozen guidelines, 1989, from memory", "memory", "medium",
        event="start of chilling", unfit="it asks for freezing within its minutes, which is not worked out here",
    ),
    CoolingRule(
        "UK_GEN", "General catering", "United Kingdom", "guidance", "general catering",
        (_stage(1, "63", "8", "C", 90, "from_start", final=True),),
        "industry guides, from memory; the law gives no minutes (852/2004 Annex II chapter IX paragraph 6)",
        "memory", "low", note="law: as quickly as possible; 8 C is the chill limit",
    ),
    CoolingRule(
        "EU_852", "As quickly as possible", "European Union", "law", "food held cold after heat processing",
        (_stage(1, None, None, "C", None, "no_limit", final=True),),
        "Regulation (EC) 852/2004 Annex II chapter IX paragraph 6, from memory", "memory", "high",
        note="no numbers: the kitchen enters those of its member state or of its own plan",
        unfit="it states no minutes",
    ),
    CoolingRule(
        "CODEX_39", "One stage", "Codex Alimentarius", "code of practice", "mass catering cook-chill",
        (_stage(1, "60", "10", "C", 120, "from_start", note="then store at 4 C"),),
        "CAC/RCP 39-1993 section 7, clause not seen, from memory", "memory", "medium",
    ),
)  # fmt: skip

RULES: Mapping[str, CoolingRule] = MappingProxyType({each.code: each for each in _ALL})


def rule(code: str) -> CoolingRule:
    """The cooling rule with this code.

    Equation: look-up in RULES.
    Units: code [no quantities]; returns [no quantities].
    Valid: the codes of RULES.
    Errors: UnknownParameter when there is no such rule.
    Source: each rule names its own.
    """
    if code not in RULES:
        raise UnknownParameter(
            f"There is no cooling rule {code!r}.",
            code="unknown-rule",
            numbers={"rule": code},
            remedy="Use one of: " + ", ".join(RULES) + ".",
        )
    return RULES[code]


def predict_verdict(
    rule: CoolingRule, minutes_at: Callable[[float], float], *, since_event_min: float = 0.0
) -> list[StagePrediction]:
    """Minutes and margin of every stage on a predicted, falling curve; a forecast, never a verdict on a record.

    Equation: predicted = minutes at the target - minutes at the clock's start; margin = limit - predicted. The clock
        starts at the rule's first temperature (from_start), at the target before (from_stage), or at the event.
    Units: rule [as stored], minutes_at [degC] -> [min] after draw-off (0 if already colder, infinity if never),
        since_event_min [min] from the rule's event to draw-off; returns [min] per stage.
    Valid: curves that only fall; food drawn below the start temperature is counted from draw-off.
    Errors: OutOfRange when the curve rises; otherwise none.
    Source: own definition after the text of the rules.
    """
    found: list[StagePrediction] = []
    before = 0.0
    start_c = rule.stages[0].from_c
    start = -since_event_min if start_c is None else minutes_at(start_c)
    for stage in rule.stages:
        if stage.to_c is None:
            found.append(StagePrediction(stage, None, 0.0, None))
            continue
        reached = minutes_at(stage.to_c)
        if reached < before:
            raise OutOfRange(
                "The predicted curve rises.",
                code="curve-rises",
                numbers={"stage": stage.number, "reached_min": reached, "before_min": before},
                remedy="Give a curve that only falls.",
            )
        begun = before if stage.clock in ("from_stage", "no_limit") else start
        # A target before that is never reached leaves infinity on both sides: still never.
        elapsed = reached - begun if math.isfinite(reached) else math.inf
        margin = None if stage.max_minutes is None else stage.max_minutes - elapsed
        found.append(StagePrediction(stage, stage.max_minutes, elapsed, margin))
        before = reached
    return found


def smallest_margin_min(predictions: list[StagePrediction]) -> float | None:
    """The margin of the stage that is nearest to its limit.

    Equation: minimum of the margins.
    Units: predictions [min]; returns [min], None when no stage sets a number of minutes.
    Valid: predictions of one rule.
    Errors: none.
    Source: own definition.
    """
    margins = [each.margin_min for each in predictions if each.margin_min is not None]
    return min(margins, default=None)


def needed_rate_per_h(rule: CoolingRule, *, sink_c: float, drawn_c: float) -> float | None:
    """First-order cooling rate that just meets every stage in a steady sink.

    Equation: the largest ln[(T0 - Ts) / (T1 - Ts)] / t over the stages, T0 where that stage's clock starts.
    Units: rule [as stored], sink_c [degC], drawn_c [degC] at the event of a from_event rule; returns [1/h],
        None when no stage sets a number of minutes.
    Valid: sink colder than every target.
    Errors: OutOfRange when the sink is not colder than a target.
    Source: first-order cooling.
    """
    rates: list[float] = []
    start_c = rule.stages[0].from_c
    first_c = drawn_c if start_c is None else start_c
    before_c = first_c
    for stage in rule.stages:
        if stage.to_c is None or stage.max_minutes is None:
            continue
        if sink_c >= stage.to_c:
            raise OutOfRange(
                f"A sink of {sink_c:.1f} degC never reaches {stage.to_c:.1f} degC.",
                code="sink-too-warm",
                numbers={"sink_c": sink_c, "target_c": stage.to_c},
                remedy="Use a colder sink.",
            )
        from_c = before_c if stage.clock == "from_stage" else first_c
        rates.append(math.log((from_c - sink_c) / (stage.to_c - sink_c)) / (stage.max_minutes / 60.0))
        before_c = stage.to_c
    return max(rates, default=None)
