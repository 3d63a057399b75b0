"""Which pots can make a formula, and how much."""

from __future__ import annotations

from functools import lru_cache

from production.domain.errors import OutOfRange
from production.domain.formula.content import PotRange
from production.domain.formula.heat import simmer_kw
from production.domain.formula.parts import parts_of
from production.domain.formula.setting import Setting, setting_of
from production.domain.formula.solids import drawn_l_of_solids, largest_solids_kg, smallest_solids_kg
from production.domain.kitchen import Formula, Pot, Week
from production.domain.parameters import ParameterSet


def pot_allowed(*, formula: Formula, pot: Pot) -> bool:
    """Whether a formula may be cooked in a pot.

    Equation: a pot that names no formulas takes all of them.
    Units: no quantities; formula, pot (records); returns a yes or no.
    Valid: every pot.
    Errors: none.
    Source: own definition.
    """
    return not pot.formulas or formula.code in pot.formulas


def pot_ranges(*, week: Week, parameters: ParameterSet, formula: Formula) -> tuple[PotRange, ...]:
    """Litres of first draw that each allowed pot can make, smallest pot first.

    Equation: largest: water and solids stand at the freeboard at the boil, drawn after the longest simmer; smallest:
        least fill of the pot, drawn after the shortest simmer. Reduction pans make no stock. A pot is left out where
        nothing lies between the two, where its heat source does not hold the simmer, or where a working does not
        cover the charge.
    Units: week, formula (records); parameters (record); returns litres [L], cold.
    Valid: a week that passed its reader.
    Errors: UnknownParameter for an unknown material.
    Source: geometry and mass balance; freeboard is common practice, no source.
    """
    return _pot_ranges(week, parameters, formula)


@lru_cache(maxsize=128)
def _pot_ranges(week: Week, parameters: ParameterSet, formula: Formula) -> tuple[PotRange, ...]:
    """Kept, since planning asks for the same formula again and again."""
    found = []
    for pot in week.pots:
        if pot.reduction_pan or not pot_allowed(formula=formula, pot=pot):
            continue
        try:
            setting = setting_of(week, parameters, formula, pot)
            smallest, largest = _drawn_range_l(setting)
            held = simmer_kw(setting, setting.brim_l) <= setting.source.input_kw
        except OutOfRange:  # a simmer or a charge that the workings do not cover
            continue
        if 0.0 < smallest <= largest and held:
            found.append(PotRange(pot=pot.code, smallest_l=smallest, largest_l=largest))
    return tuple(sorted(found, key=lambda each: (each.largest_l, each.pot)))


def _drawn_range_l(setting: Setting) -> tuple[float, float]:
    formula = setting.formula
    at_most = parts_of(setting, formula.simmer_max_h)
    at_least = parts_of(setting, formula.simmer_min_h)
    largest = drawn_l_of_solids(setting, at_most, largest_solids_kg(setting, at_most), formula.simmer_max_h)
    smallest = drawn_l_of_solids(setting, at_least, smallest_solids_kg(setting, at_least), formula.simmer_min_h)
    return smallest, largest
