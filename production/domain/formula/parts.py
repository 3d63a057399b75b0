"""The parts of a formula with their coefficients, per kilogram of solids."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass

from production.domain.formula.setting import Setting
from production.domain.kitchen import Addition, Ingredient, Solid
from production.domain.parameters import Material
from production.domain.thermal.extraction import corrected_t90_h, extracted_share, extraction_rate_factor

T90_REFERENCE_C = 95.0  # temperature for which the extraction times are given (own definition)
T90_SHARE = 0.9  # the soluble share of a material is what is out after its t90 (own definition)


@dataclass(frozen=True, slots=True)
class Part:
    """A solid or addition with its coefficients, per kilogram of solids."""

    key: str  # the ingredient's code, numbered where a formula uses it more than once
    ingredient: Ingredient
    material: Material
    share: float
    what: str
    role: str
    minutes_before_end: int | None
    cook_minutes: int
    soluble_share: float  # at this run's time and temperature

    @property
    def is_loaded(self) -> bool:
        """Whether it goes in cold, with the load."""
        return self.what == "solids"


def parts_of(setting: Setting, simmer_h: float) -> tuple[Part, ...]:
    """What goes into the pot, with what each part gives at this simmer.

    Equation: soluble share x extracted share / 0.9 for solids, since coefficients are what is out after t90; additions
        give their soluble share.
    Units: setting (record), simmer_h [h]; returns Parts with kg per kg of solids.
    Valid: a week that passed its reader.
    Errors: UnknownParameter for an unknown material; OutOfRange where a working does not cover the simmer.
    Source: thermal.extraction and its sources.
    """
    parameters, formula = setting.parameters, setting.formula
    ingredients = {each.code: each for each in setting.week.ingredients}
    factor = setting.sheet.add(
        "extraction_rate_factor",
        extraction_rate_factor,
        ("extraction.activation_kj_mol",),
        temp_c=setting.simmer_c,
        reference_c=T90_REFERENCE_C,
        activation_kj_mol=parameters.value("extraction.activation_kj_mol"),
    )
    keys = _keys([*(each.ingredient for each in formula.solids), *(each.ingredient for each in formula.additions)])
    time_h = setting.simmering_h(simmer_h)
    return (
        *(_solid(setting, each, ingredients[each.ingredient], next(keys), factor, time_h) for each in formula.solids),
        *(_addition(setting, each, ingredients[each.ingredient], next(keys)) for each in formula.additions),
    )


def _keys(ingredients: Iterable[str]) -> Iterator[str]:
    used: Counter[str] = Counter()
    for code in ingredients:
        used[code] += 1
        yield code if used[code] == 1 else f"{code}.{used[code]}"


def _solid(setting: Setting, solid: Solid, ingredient: Ingredient, key: str, rate_factor: float, time_h: float) -> Part:
    material = setting.parameters.material(ingredient.material)
    out = setting.sheet.add(
        f"extracted_share.{key}",
        extracted_share,
        (f"material.{material.code}.t90_h",),
        time_h=time_h,
        t90_h=corrected_t90_h(t90_h=material.t90_h, rate_factor=rate_factor),
    )
    return Part(
        key=key,
        ingredient=ingredient,
        material=material,
        share=solid.share,
        what="solids",
        role=solid.role,
        minutes_before_end=None,
        cook_minutes=0,
        soluble_share=material.soluble_share * out / T90_SHARE,
    )


def _addition(setting: Setting, addition: Addition, ingredient: Ingredient, key: str) -> Part:
    material = setting.parameters.material(ingredient.material)
    return Part(
        key=key,
        ingredient=ingredient,
        material=material,
        share=addition.kg_per_kg_solids,
        what=addition.kind,
        role="",
        minutes_before_end=addition.minutes_before_end,
        cook_minutes=addition.cook_minutes,
        soluble_share=material.soluble_share,
    )


def weighted(parts: Iterable[Part], value: Callable[[Part], float]) -> float:
    """A value of the parts for each kilogram of solids.

    Equation: sum of share x value.
    Units: parts (records), value [any] of one part; returns [the same, per kg of solids].
    Valid: any parts.
    Errors: none.
    Source: own definition.
    """
    return sum(part.share * value(part) for part in parts)


def litres_per_kg_solids(parts: Iterable[Part]) -> float:
    """Volume of the parts themselves, without the gaps between them.

    Equation: sum of share / density.
    Units: parts (records; density [kg/m3]); returns [L/kg].
    Valid: any parts.
    Errors: none.
    Source: geometry.
    """
    return weighted(parts, lambda part: 1000.0 / part.material.density_kg_m3)


def coefficients(parts: Iterable[Part], *names: str) -> tuple[str, ...]:
    """Codes of the materials' coefficients that a figure rests on, each once.

    Equation: material.<code>.<name> in the order of the parts.
    Units: no quantities; returns codes.
    Valid: any parts.
    Errors: none.
    Source: own definition.
    """
    return tuple(dict.fromkeys(f"material.{part.material.code}.{name}" for part in parts for name in names))
