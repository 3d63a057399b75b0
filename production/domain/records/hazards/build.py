"""A hazard plan from formula, rule and settings."""

from __future__ import annotations

from collections.abc import Iterable

from production.domain.records.hazards.content import ControlPoint, HazardPlan, PlanFacts, Step
from production.domain.records.hazards.points import boiling, cooling, prerequisites
from production.domain.records.hazards.table import hazards_of

FRAME = "Codex CXC 1-1969 (2020): hazard analysis in seven principles; from memory"
SOURCES = (
    FRAME,
    "21 CFR 117.130 and 117.135 (hazards and preventive controls); from memory",
    "9 CFR 417.2 (hazard analysis and plan), 417.3 (corrective action), 417.5 (records); 417.3 and 417.5 read in part",
    "FDA Food Code 2022, sections as named at each line; read as adopted by single states, else from memory",
)


def hazard_plan(*, facts: PlanFacts) -> HazardPlan:
    """The hazard table and the control points of a formula.

    Equation: steps that the formula and its products have; hazards of these steps; critical control points: boiling,
        and cooling under the kitchen's rule; prerequisites with the kitchen's limits.
    Units: facts (record; every field names its unit); returns a record.
    Valid: formulas whose ingredients are all in the facts; a draft, to be judged by the kitchen's food-safety team.
    Errors: none.
    Source: Codex CXC 1-1969 principles 1 to 7 (from memory); each line names its own.
    """
    formula = facts.formula
    return HazardPlan(
        formula=formula.name,
        formula_code=formula.code,
        formula_version=formula.version,
        kitchen=facts.kitchen,
        rule=facts.rule.code,
        rule_title=facts.rule.title,
        jurisdiction=facts.rule.jurisdiction,
        products=tuple(f"{each.name} ({each.storage})" for each in facts.products),
        ingredients=tuple(each.name for each in facts.used),
        allergens=facts.allergens,
        steps=steps_of(facts=facts),
        hazards=hazards_of(facts=facts),
        points=_points(facts),
        prerequisites=prerequisites(facts=facts),
        cautions=tuple(_cautions(facts)),
        sources=SOURCES,
    )


def _points(facts: PlanFacts) -> tuple[ControlPoint, ...]:
    return boiling(facts=facts), cooling(facts=facts)


def steps_of(*, facts: PlanFacts) -> tuple[Step, ...]:
    """The flow: only the steps that this formula and its products have.

    Equation: the house's order of work, without second draw, reduction and cubes where there are none.
    Units: facts (record) [no quantities]; returns records.
    Valid: every formula.
    Errors: none.
    Source: own definition.
    """
    has = {
        "second": facts.formula.second_draw is not None,
        "reduce": facts.formula.reduction_bx is not None,
        "cubes": facts.makes("cubes"),
    }
    flow = [
        ("receive", "Receiving"),
        ("store", "Storing ingredients"),
        ("weigh", "Weighing"),
        ("fill", "Filling with water"),
        ("boil", "Heating to the boil, skimming"),
        ("simmer", "Simmering"),
        ("add", "Additions"),
        ("draw", "Drawing off and straining"),
        ("second", "Second draw: refill, boil, simmer"),
        ("reduce", "Boiling down"),
        ("cool", "Cooling"),
        ("cubes", "Cubes: trays and freezing"),
        ("pack", "Packing and labelling"),
        ("keep", "Cold storage"),
        ("send", "Dispatch"),
        ("clean", "Cleaning pots, pans and tools"),
    ]
    kept = [(code, name) for code, name in flow if has.get(code, True) and (code != "add" or facts.formula.additions)]
    return tuple(Step(number=n, code=code, name=name) for n, (code, name) in enumerate(kept, 1))


def _cautions(facts: PlanFacts) -> Iterable[str]:
    yield (
        "Made from formula, rule and settings as a draft: the kitchen's food-safety team has to judge it against its "
        "own rooms, tools, suppliers and people; the local authority's code goes before everything that stands here."
    )
    if facts.rule.unfit:
        yield f"Rule {facts.rule.code} is not for cooked broth: {facts.rule.unfit}. Choose another rule before use."
    if not any(stage.max_minutes for stage in facts.rule.stages):
        yield (
            f"Rule {facts.rule.code} states no minutes: without limits of the kitchen's own, cooling cannot be "
            "monitored, and this plan is not complete."
        )
    if facts.rule.mark != "read":
        known = "from memory" if facts.rule.mark == "memory" else "from a part of the text"
        yield f"The limits of rule {facts.rule.code} are known {known}: compare them with the law."
    if facts.reheats:
        yield "Re-heating after slow cooling is guidance, not law: ask the authority whether it allows it."
    longest = max((each.shelf_life_days for each in facts.products if each.storage == "chilled"), default=0)
    if longest > MOST_CHILLED_DAYS:
        yield (
            f"A chilled product is kept {longest} days: the Food Code's date marking allows {MOST_CHILLED_DAYS}, the "
            "day of cooking being day 1 (3-501.17). More needs the authority's agreement."
        )
    yield (
        "Food sealed hot or without air is reduced-oxygen packaging (Food Code 3-502.11 and .12: Clostridium "
        "botulinum, Listeria). It needs a plan of its own, which this one is not."
    )
    yield "Allergens are those of the catalogue: the supplier's specification decides, and celery is one in the EU."


MOST_CHILLED_DAYS = 7
