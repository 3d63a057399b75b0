"""What a label says: name, ingredients with their allergens, dates, lot, quantity, and the code a scanner reads."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from functools import cache
from typing import Any, Literal, cast

from pydantic import TypeAdapter

from production.domain.errors import OutOfRange
from production.domain.kitchen import ALLERGENS
from production.domain.limits import rule
from production.domain.sheets.content import Label, LabelCopies, LabelIngredient, LabelSheet
from production.domain.sheets.heading import Heading

MOST_LABELS = 600

# What the fourteen of Regulation (EU) 1169/2011 Annex II are called in a US "Contains" statement (FALCPA 2004, FASTER
# Act 2021, read): celery, mustard, lupin and molluscs are not on that list; of the gluten cereals only wheat is, and
# an ingredient says which cereal it is by its name. Sulphites are declared by 21 CFR 101.100(a)(4), from memory.
_US_NAMES: Mapping[str, str] = {
    "gluten cereals": "Wheat",
    "crustaceans": "Crustacean shellfish",
    "eggs": "Egg",
    "fish": "Fish",
    "peanuts": "Peanuts",
    "soybeans": "Soy",
    "milk": "Milk",
    "tree nuts": "Tree nuts",
    "sesame": "Sesame",
    "sulphites": "Sulfites",
}


@dataclass(frozen=True, slots=True)
class Emphasised:
    """A piece of the list of ingredients; allergens stand out."""

    text: str
    strong: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class UsedIngredient:
    """What went into the pot."""

    name: str
    mass_kg: Decimal
    allergens: tuple[str, ...]


def label_ingredients(used: Iterable[UsedIngredient]) -> tuple[LabelIngredient, ...]:
    """The list of ingredients in descending order of weight as they were used; the same name counts together.

    Equation: sum of mass by name, sorted by mass downwards, then by name.
    Units: used (records; mass [kg]); returns records.
    Valid: every charge; what is strained out again is named too, because it has given its taste and its allergens.
    Errors: none.
    Source: Regulation (EU) 1169/2011 Art. 18(1), and 21 CFR 101.4(a)(1), both from memory.
    """
    mass: dict[str, Decimal] = {}
    allergens: dict[str, set[str]] = {}
    for each in used:
        mass[each.name] = mass.get(each.name, Decimal(0)) + each.mass_kg
        allergens.setdefault(each.name, set()).update(each.allergens)
    order = sorted((name for name in mass if mass[name] > 0), key=lambda name: (-mass[name], name))
    return tuple(LabelIngredient(name=name, allergens=in_order(allergens[name])) for name in order)


def in_order(allergens: Iterable[str]) -> tuple[str, ...]:
    """Allergens in the order of the law's list, each once.

    Equation: the order of Annex II.
    Units: no quantities; allergens (words); returns words.
    Valid: the fourteen words of the catalogue.
    Errors: none.
    Source: Regulation (EU) 1169/2011 Annex II, read in reprints.
    """
    found = set(allergens)
    return tuple(each for each in ALLERGENS if each in found)


def ingredient_list(label: Label) -> tuple[Emphasised, ...]:
    """The list of ingredients in pieces: the words of an allergen stand out, in its name or in brackets behind it.

    Equation: name; an allergen whose word is in the name is emphasised there, any other follows in brackets.
    Units: no quantities; label (record); returns records.
    Valid: labels of every law; only those of the EU ask for the emphasis.
    Errors: none.
    Source: Regulation (EU) 1169/2011 Art. 21(1), read in reprints: by font, style or background.
    """
    pieces: list[Emphasised] = []
    for place, each in enumerate(label.ingredients):
        pieces.append(Emphasised(", " if place else "", strong=False))
        pieces.extend(_named(each) if label.law != "us" else [Emphasised(each.name, strong=False)])
    return tuple(piece for piece in pieces if piece.text)


def _named(each: LabelIngredient) -> Iterable[Emphasised]:
    said = [word for word in each.allergens if _stem(word) in each.name.lower()]
    if said:
        stem = _stem(said[0])
        begin = each.name.lower().index(stem)
        end = next((n for n in range(begin, len(each.name)) if not each.name[n].isalnum()), len(each.name))
        yield Emphasised(each.name[:begin], strong=False)
        yield Emphasised(each.name[begin:end], strong=True)
        yield Emphasised(each.name[end:], strong=False)
    else:
        yield Emphasised(each.name, strong=False)
    unsaid = [word for word in each.allergens if word not in said[:1]]
    for place, word in enumerate(unsaid):
        yield Emphasised(", " if place else " (", strong=False)
        yield Emphasised(word, strong=True)
    if unsaid:
        yield Emphasised(")", strong=False)


def _stem(allergen: str) -> str:
    """The word as it may stand in a name: egg in egg white."""
    return {"eggs": "egg", "soybeans": "soy", "peanuts": "peanut", "crustaceans": "crustacean"}.get(allergen, allergen)


def contains_statement(label: Label) -> str:
    """The US statement after the list; empty where the law of the label does not want it or nothing is in it.

    Equation: "Contains" and the major food allergens by the names of that law.
    Units: no quantities; label (record); returns text.
    Valid: labels of every law; species of fish, shellfish and nuts stand in the names of the ingredients.
    Errors: none.
    Source: 21 U.S.C. 343(w) (FALCPA 2004) and the FASTER Act 2021, read in summaries.
    """
    names = [_US_NAMES[each] for each in label.allergens if each in _US_NAMES]
    return f"Contains: {', '.join(names)}." if names and label.law != "eu" else ""


def keep_at(*, cooling_rule: str) -> tuple[Decimal, Literal["C", "F"]]:
    """The temperature at or below which chilled food of this kitchen is kept: the last target of its cooling rule.

    Equation: the lowest target of the rule.
    Units: cooling_rule [no quantities]; returns [degC or degF, as the rule says].
    Valid: rules of limits.rule.
    Errors: UnknownParameter for a rule that is not known.
    Source: the rule's own; FDA Food Code 3-501.16(A) keeps at the same 41 F (5 °C), read.
    """
    stages = [stage for stage in rule(cooling_rule).stages if stage.to_temp is not None]
    last = min(stages, key=lambda stage: cast(Decimal, stage.to_temp))
    return cast(Decimal, last.to_temp), last.unit


def gs1_elements(label: Label) -> str:
    """The GS1 element string: article, date, day of production, lot; nothing without an article number.

    Equation: (01) number padded to 14; (17) expiry, frozen (15) best before; (11) production; (10) lot, which comes
        last because its length varies.
    Units: no quantities; label (record); returns text with brackets round the identifiers.
    Valid: an article number with the right check digit.
    Errors: none.
    Source: GS1 General Specifications, list of application identifiers, read; order from memory.
    """
    if not label.gtin:
        return ""
    life = "15" if label.frozen else "17"
    return f"(01){label.gtin.zfill(14)}({life}){label.use_by:%y%m%d}(11){label.made_on:%y%m%d}(10){label.lot}"


def label_sheet(
    *, heading: Heading, key: str, size: str, first_place: int, places: int, labels: Sequence[LabelCopies]
) -> LabelSheet:
    """Labels put on sheets, beginning at a place of a sheet that has been used in part.

    Equation: copies one after the other from first_place on.
    Units: heading, labels (records), first_place, places (counts); returns a record.
    Valid: first_place from 1 to the places of a sheet; up to 600 labels.
    Errors: OutOfRange for a place that the sheet has not, or too many labels.
    Source: own definition.
    """
    if not 1 <= first_place <= places:
        raise OutOfRange(
            f"A sheet has {places} labels; there is no place {first_place}.",
            code="no-such-label-place",
            numbers={"first_place": first_place, "places": places},
            remedy="Count the places from the top left, row by row.",
        )
    wanted = sum(each.copies for each in labels)
    if not 1 <= wanted <= MOST_LABELS:
        raise OutOfRange(
            f"{wanted} labels cannot be printed at once; allowed are 1 to {MOST_LABELS}.",
            code="label-count-out-of-range",
            numbers={"labels": wanted, "most": MOST_LABELS},
            remedy="Print them in several goes.",
        )
    return LabelSheet(
        kind="label_sheet", key=key, heading=heading, size=size, first_place=first_place, labels=tuple(labels)
    )


@cache
def _adapter() -> TypeAdapter[Label]:
    return TypeAdapter(Label)


def label_to_json(label: Label) -> dict[str, Any]:
    """A label as plain values that a record can hold: decimals and days as text.

    Equation: fields as they are.
    Units: label (record); returns plain values.
    Valid: every label.
    Errors: none.
    Source: own format.
    """
    return cast(dict[str, Any], _adapter().dump_python(label, mode="json"))


def label_from_json(data: Mapping[str, Any]) -> Label:
    """Read a label back.

    Equation: the inverse of label_to_json.
    Units: data (plain values); returns a record.
    Valid: labels written by this version.
    Errors: pydantic's ValidationError for broken data.
    Source: own format.
    """
    return _adapter().validate_python(data)
