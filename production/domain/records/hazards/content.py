"""What a hazard plan is made of and from: text and whole numbers only, so that the book can keep it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum

from production.domain.kitchen import Formula, Ingredient, Product
from production.domain.limits import CoolingRule


class HazardKind(StrEnum):
    BIOLOGICAL = "biological"
    CHEMICAL = "chemical"
    PHYSICAL = "physical"
    ALLERGEN = "allergen"


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """A step of the flow, from the delivery to the dispatch."""

    number: int
    code: str
    name: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Hazard:
    """One line of the hazard table."""

    step: str  # code of the step
    kind: HazardKind
    what: str
    why: str
    control: str
    point: str  # CCP 1, CCP 2 or a prerequisite: P 1 …; nothing where good practice does it
    source: str
    mark: str  # read, read in part, memory, common practice


@dataclass(frozen=True, slots=True, kw_only=True)
class Remedy:
    """What is done when a limit is not kept."""

    when: str
    sentence: str
    source: str
    mark: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ControlPoint:
    """A critical control point, or a prerequisite that has a limit of its own."""

    code: str
    name: str
    step: str
    hazard: str
    limits: tuple[str, ...]
    what: str
    how: str
    when: str
    who: str
    remedies: tuple[Remedy, ...]
    verification: str
    record: str
    source: str
    mark: str


@dataclass(frozen=True, slots=True, kw_only=True)
class HazardPlan:
    """The plan of one formula under one rule: a draft for the kitchen's food-safety team."""

    formula: str
    formula_code: str
    formula_version: int
    kitchen: str
    rule: str
    rule_title: str
    jurisdiction: str
    products: tuple[str, ...]
    ingredients: tuple[str, ...]
    allergens: tuple[str, ...]
    steps: tuple[Step, ...]
    hazards: tuple[Hazard, ...]
    points: tuple[ControlPoint, ...]
    prerequisites: tuple[ControlPoint, ...]
    cautions: tuple[str, ...]
    sources: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanFacts:
    """What the plan is built from: the formula, the rule, and what the kitchen's settings say."""

    kitchen: str
    formula: Formula
    ingredients: Mapping[str, Ingredient]
    products: tuple[Product, ...]
    rule: CoolingRule
    reheats: int  # how often a cooling may be begun anew by re-heating
    review_days: int
    second_person: bool
    unattended: bool  # the pot may simmer while nobody is there
    receive_chilled_c: Decimal
    receive_frozen_c: Decimal
    store_chilled_c: Decimal
    store_frozen_c: Decimal
    store_every_h: int
    check_every_days: int

    @property
    def used(self) -> tuple[Ingredient, ...]:
        """Every ingredient of the formula once, in the order of use."""
        named = [each.ingredient for each in self.formula.solids]
        named += [each.ingredient for each in self.formula.additions]
        return tuple(self.ingredients[code] for code in dict.fromkeys(named))

    @property
    def allergens(self) -> tuple[str, ...]:
        return tuple(sorted({name for each in self.used for name in each.allergens}))

    def kept(self, storage: str) -> bool:
        return any(each.storage == storage for each in self.products)

    def makes(self, kind: str) -> bool:
        return any(each.kind == kind for each in self.products)

    def is_of(self, *words: str) -> bool:
        """Whether an ingredient is of one of these animals, by the name of its material."""
        return any(word in each.material for each in self.used for word in words)
