"""The control points: limits, monitoring, what is done when a limit is missed, verification and record."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import UTC, datetime, timedelta
from decimal import Decimal

from production.domain.limits import CoolingRule, Stage
from production.domain.records.actions import Reheats, allowed_actions
from production.domain.records.hazards.content import ControlPoint, PlanFacts, Remedy
from production.domain.records.readings import exact_f
from production.domain.records.receiving import RECEIVING
from production.domain.records.storage_temps import STORING
from production.domain.records.verdicts import StageVerdict, State, Verdict

COOK = "the cook at the pot"
_AT = datetime(2000, 1, 1, tzinfo=UTC)  # any moment: the sentences name none
_REVIEWED = "21 CFR 117.165(a)(4)(i): 7 working days; from memory"


def boiling(*, facts: PlanFacts) -> ControlPoint:
    """CCP 1: everything in the pot boils or simmers.

    Equation: 74 degC (165 F) for 15 s in all parts; the boil is hotter at every altitude where people cook.
    Units: facts (record) [no quantities]; returns a record.
    Valid: every formula.
    Errors: none.
    Source: FDA Food Code 3-401.11(A)(3), from memory; 3-501.16(A)(1), read as adopted in Delaware.
    """
    ways = "second draws and reductions as well" if facts.formula.second_draw else "the whole charge"
    return ControlPoint(
        code="CCP 1",
        name="Boiling",
        step="boil",
        hazard="Living bacteria of raw bones, meat, fish and vegetables survive",
        limits=(
            f"All of it, {ways}: 74 °C (165 °F) or hotter for 15 s or longer, shown by the boil.",
            "From then until it is drawn off: 57 °C (135 °F) or hotter.",
        ),
        what="That the whole pot boils; later the temperature of the simmer",
        how="Seen and stirred; thermometer in the middle and at the rim where the boil is not seen",
        when="At each boil, at draw-off, and "
        + ("before nobody is there and as soon as somebody is back" if facts.unattended else "once an hour between"),
        who=COOK,
        remedies=(
            Remedy(
                when="It does not boil",
                sentence="Go on heating until it does; look at the burner; record the time.",
                source="CXC 1-1969 principle 5",
                mark="memory",
            ),
            Remedy(
                when="It was between 5 and 57 °C (41 and 135 °F) for more than 4 h, heating up or with the heat lost",
                sentence="Keep it apart and tell the manager; discard it when in doubt: boiling does not undo toxins "
                "of Staphylococcus aureus and Bacillus cereus.",
                source="Food Code 3-501.19: 4 h where time is the control; applied here with care",
                mark="read in part",
            ),
        ),
        verification=f"Batch record reviewed by the manager within {facts.review_days} working days; thermometers P 4",
        record="Run page: boil reached, temperatures, draw; each an entry of the book",
        source="Food Code 3-401.11(A)(3) (165 °F, 15 s); 3-501.16(A)(1) (135 °F)",
        mark="read in part",
    )


def cooling(*, facts: PlanFacts) -> ControlPoint:
    """CCP 2: cooling under the kitchen's rule; limits are those of the rule, actions those that the house allows.

    Equation: one sentence for each stage of the rule; remedies as allowed_actions gives them for each state of a log.
    Units: facts (record) [no quantities]; returns a record.
    Valid: every rule; one that states no minutes gives no limit.
    Errors: none.
    Source: the rule's own.
    """
    rule = facts.rule
    return ControlPoint(
        code="CCP 2",
        name="Cooling",
        step="cool",
        hazard="Spores of Clostridium perfringens and Bacillus cereus, which survive boiling, grow while it is warm",
        limits=tuple(limits_of(rule=rule)),
        what="Temperature of the warmest point: the middle of the largest vessel of each group",
        how="Checked thermometer, stirred or in the core; probes where there are any",
        when="At the start, at each limit, and at least once an hour; more often while it is above the first target",
        who=f"{COOK}; whoever is on duty until the log is closed",
        remedies=tuple(_remedies(facts)),
        verification=f"Each log is reviewed and signed within {facts.review_days} working days by somebody who did not "
        "record in it; thermometers P 4; a forecast helps, but is no verdict"
        + ("; a reading is set aside only by a second person" if facts.second_person else ""),
        record="Cooling log: vessel, depth, method, every reading with time, person and thermometer, verdict, "
        "corrective action; entries of the book",
        source=rule.source,
        mark=rule.mark,
    )


def limits_of(*, rule: CoolingRule) -> Iterable[str]:
    """The critical limits of a rule, stage by stage, in words.

    Equation: from, to, minutes, and where they are counted from, as the rule states them.
    Units: rule [as stored]; returns sentences.
    Valid: every rule.
    Errors: none.
    Source: the rule's own.
    """
    for stage in rule.stages:
        if stage.to_temp is None:
            yield "As quickly as possible; the rule states no temperature and no minutes."
        elif stage.max_minutes is None:
            yield f"Stage {stage.number}: then without a break to {_temp(stage.to_temp, stage)}."
        else:
            within = "in less than" if stage.strict else "within"
            yield (
                f"Stage {stage.number}: to {_temp(stage.to_temp, stage)} or colder {within} {_minutes(stage)} "
                f"{_counted(rule, stage)}."
            )


def _temp(temp: Decimal, stage: Stage) -> str:
    return f"{temp} °{stage.unit}"


def _minutes(stage: Stage) -> str:
    hours, rest = divmod(stage.max_minutes or 0, 60)
    return f"{hours} h" if not rest else f"{stage.max_minutes} min"


def _counted(rule: CoolingRule, stage: Stage) -> str:
    if stage.clock == "from_stage":
        return f"after stage {stage.number - 1}"
    if stage.clock == "from_event":
        return f"after the {rule.event}"
    first = rule.stages[0]
    return f"after it passes {first.from_temp} °{first.unit}"


def _remedies(facts: PlanFacts) -> Iterable[Remedy]:
    reheats = Reheats(allowed=facts.reheats > 0, most=facts.reheats)
    states = (
        ("While the limit can still be kept", _verdict(State.RUNNING), 1),
        ("When a limit is breached", _verdict(State.BREACHED), 1),
        ("When the readings do not show it", _verdict(State.NOT_SHOWN), 1),
        ("When nobody knows how long it was warm", _verdict(State.NOT_SHOWN, known=False), 1),
        ("When it is breached again after a re-heat", _verdict(State.BREACHED), 2),
    )
    for when, verdict, attempt in states:
        for action in allowed_actions(rule=facts.rule, verdict=verdict, now=_AT, attempt=attempt, reheats=reheats):
            yield Remedy(when=when, sentence=action.sentence, source=action.source, mark=action.mark)
    yield Remedy(
        when="After every deviation",
        sentence="Find and remove the cause, bring cooling back under control, see to it that it does not happen "
        "again, and let nothing unsafe leave; all of it in writing.",
        source="9 CFR 417.3(a)",
        mark="read",
    )


def _verdict(state: State, *, known: bool = True) -> Verdict:
    """A log in this state; its times are not told."""
    start = _AT if known else None
    stage = StageVerdict(
        number=1,
        state=state,
        reasons=(),
        start_at=start,
        latest_start_at=start,
        reached_at=None,
        worst_elapsed=None,
        best_elapsed=None,
        deadline_at=_AT + timedelta(hours=2),
    )
    return Verdict(state, (), (stage,), (), None)


# --- prerequisites ----------------------------------------------------------------------------------------------------


def prerequisites(*, facts: PlanFacts) -> tuple[ControlPoint, ...]:
    """Programmes that the plan rests on and that have limits of their own.

    Equation: the kitchen's settings, in both scales.
    Units: facts (record; temperatures in degC); returns records.
    Valid: every kitchen.
    Errors: none.
    Source: each its own.
    """
    found = [_receiving(facts), _storing(facts), _labels(facts), _thermometers(facts), _cleaning()]
    return tuple(found)


def _both(temp_c: Decimal) -> str:
    fahrenheit = exact_f(temp_c, "C").quantize(Decimal("0.1")).normalize()
    return f"{temp_c.normalize():f} °C ({fahrenheit:f} °F)".replace("-", "−")


def _fix(sentence: str, source: str, mark: str, when: str = "Otherwise") -> tuple[Remedy, ...]:
    return (Remedy(when=when, sentence=sentence, source=source, mark=mark),)


def _receiving(facts: PlanFacts) -> ControlPoint:
    return ControlPoint(
        code="P 1",
        name="Receiving",
        step="receive",
        hazard="Growth before the kitchen; unknown source",
        limits=(
            f"Chilled: {_both(facts.receive_chilled_c)} or colder.",
            f"Frozen: hard, {_both(facts.receive_frozen_c)} or colder.",
            "Packs sound, in date, the supplier's lot written down.",
        ),
        what="Temperature, packs, dates, lot",
        how="Thermometer between packs or in the goods",
        when="Every delivery, before it is put away",
        who="whoever takes it in",
        remedies=_fix("Send it back. Only a manager may take it all the same, with the reason.", "own rule", "own"),
        verification="Manager looks at refusals and exceptions every week",
        record="Receipt: an entry of the book; the lot that runs name when they weigh",
        source=f"{RECEIVING['chilled'].source}; {RECEIVING['frozen'].source}",
        mark="memory",
    )


def _storing(facts: PlanFacts) -> ControlPoint:
    limits = [f"Chilled: {_both(facts.store_chilled_c)} or colder."]
    if facts.kept("frozen"):
        limits.append(f"Frozen: {_both(facts.store_frozen_c)} or colder.")
    longest = max((each.shelf_life_days for each in facts.products if each.storage == "chilled"), default=0)
    if longest:
        limits.append(f"Chilled products: {longest} days at most, the day of cooking being day 1.")
    return ControlPoint(
        code="P 2",
        name="Cold storage",
        step="keep",
        hazard="Listeria and spores grow in the cold store when it is too warm or too long",
        limits=tuple(limits),
        what="Air and food of each store; dates of lots",
        how="Thermometer or probe",
        when=f"At least every {facts.store_every_h} h",
        who="whoever is on duty",
        remedies=_fix(
            "Move the food, find the cause; food that was too warm for more than 4 h, or for a time nobody knows, is "
            "held and judged, else thrown away.",
            "Food Code 3-501.16 and 3-501.19, read as adopted in Delaware",
            "read in part",
        ),
        verification="Manager reviews excursions; the store's own thermometer is compared once a month",
        record="Store temperatures and excursions: entries of the book",
        source=f"{STORING['chilled'].source}; dates: Food Code 3-501.17(A), read as adopted in Minnesota",
        mark="read in part",
    )


def _labels(facts: PlanFacts) -> ControlPoint:
    names = ", ".join(facts.allergens) or "none of the catalogue's ingredients brings one"
    return ControlPoint(
        code="P 3",
        name="Allergens and labels",
        step="pack",
        hazard="Somebody eats an allergen that the label does not name",
        limits=(f"The label names every allergen that went in: {names}.", "Lot, last day and storage on each pack."),
        what="Ingredients as weighed, against the formula and the label",
        how="Label made from the weighings; looked at before the first pack",
        when="Every lot",
        who="whoever packs",
        remedies=_fix(
            "Hold the lot, label it anew; call back what has left.", "21 CFR 117.135(c)(2)", "memory", "Wrong label"
        ),
        verification="Manager compares a label with its batch record every week",
        record="Lot with its label; labels printed: entries of the book",
        source="21 CFR 117.135(c)(2); Regulation (EU) 1169/2011 Annex II",
        mark="read in part",
    )


def _thermometers(facts: PlanFacts) -> ControlPoint:
    return ControlPoint(
        code="P 4",
        name="Thermometers",
        step="cool",
        hazard="A wrong thermometer hides a missed limit",
        limits=("Celsius or both scales: ± 1 °C. Fahrenheit only: ± 2 °F.",),
        what="What it shows in ice water, or at the boil for the altitude",
        how="Crushed ice and water, stirred",
        when=f"Every {facts.check_every_days} days, after a fall, and when new",
        who="the manager or whom the manager names",
        remedies=_fix(
            "Set it right or take it out of use; judge all logs anew that were read with it since the last good check.",
            "21 CFR 117.165 and 9 CFR 417.5; from memory",
            "memory",
            "Out of tolerance",
        ),
        verification="Overdue checks are shown at every reading",
        record="Thermometer checks: entries of the book",
        source="Food Code 4-203.11, read as adopted in California; interval: the kitchen's own",
        mark="read in part",
    )


def _cleaning() -> ControlPoint:
    return ControlPoint(
        code="P 5",
        name="Cleaning",
        step="clean",
        hazard="Bacteria, allergens and cleaning agents carried over from pot to pot",
        limits=("Clean to the eye and the hand; rinsed; dry.",),
        what="Pots, pans, strainers, vessels, trays, ice scoops",
        how="Looked at; test strips for the sanitizer",
        when="Before each use; between formulas with other allergens",
        who=COOK,
        remedies=_fix("Clean it again before use.", "common practice, no source", "common practice"),
        verification="Manager looks in once a week",
        record="Run page: washed; the kitchen's own cleaning list",
        source="Food Code 4-601.11 and 4-702.11",
        mark="memory",
    )
