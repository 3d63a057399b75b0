"""What a batch sheet says about each stage: what to do, what to record, what to mind."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from production.domain.formula import Draw, Reduction
from production.domain.quantities import rounded_text
from production.domain.schedule.result import POUR_OVER, Placed
from production.domain.sheets.page import Page

SPARE_L = 0.05  # less than this sticks to pot and ladle (own choice)
SALT_CAUTION_PERCENT = 1.2  # saltier than most people like a sauce (common practice, no source)
HOT_HOLD_C = 65.0  # above the start temperature of every rule in limits (63 is the highest); own choice

_UNATTENDED = "Nobody is in the kitchen for part of this time: follow the plan for unattended heat."
_SCALD = "Scald: dry gloves, clear floor; two people where a pot or a full vessel is lifted or tipped."
_HEAVY = "Heavy: lift with two, or in parts."
_STORE = "When the last limit of its log is met: fill, label, and into the store."
PAN_WASH = "pan_wash"
TITLES: Mapping[str, str] = {
    "load": "Load",
    "heat_up": "Heat up",
    "skim": "Skim",
    "simmer": "Simmer",
    "draw_off": "Draw off and strain",
    "refill": "Refill the bones",
    "second_heat_up": "Heat up again",
    "second_simmer": "Second simmer",
    "second_draw_off": "Second draw",
    "hot_hold": "Hold hot",
    POUR_OVER: "Pour over",
    "reduce": "Reduce",
    "finish": "Finish the reduction",
    "portion": "Portion",
    "wash": "Wash the pot",
    PAN_WASH: "Wash the pan",
}

Words = tuple[str, str, str]  # to do, to record, caution


def words_of(page: Page, stage: Placed) -> Words:
    """What to do, what to record and the caution of one stage.

    Equation: the words of the stage's kind, with the numbers of the run.
    Units: page, stage (records); quantities in the kitchen's units; returns sentences.
    Valid: stages of the run.
    Errors: none.
    Source: common practice, no source.
    """
    away = _UNATTENDED if page.is_unattended(stage) else ""
    words = {**_first_words(page), **_simmer_words(page, away), **_wash_words(page)}
    if page.liquor is not None:
        words |= _second_words(page, page.liquor)
    if page.run.charge.reduction is not None:
        words |= _reduction_words(page, page.run.charge.reduction)
    return words[stage.name]


def _first_words(page: Page) -> Mapping[str, Words]:
    charge, show = page.run.charge, page.show
    return {
        "load": (
            f"Weigh the solids, then fill with cold water to {page.from_rim(charge.fill_mark_mm)} below the rim.",
            "weights, fill mark",
            _load_caution(page),
        ),
        "heat_up": (
            f"Full heat to the boil ({show(charge.boil_c, 'degC')} here).",
            "time of first boil",
            "Gas on: ventilation on, never leave it." if page.is_on_gas else "Stay near while it comes to the boil.",
        ),
        "skim": ("Skim foam and fat, then turn down.", "how much was skimmed", "Foam rises fast: keep the freeboard."),
        "draw_off": (
            f"Draw and strain about {show(charge.first.hot_l, 'L')} hot.{_salt(page)} Cool at once. {_STORE}",
            "weight, or hot volume with its temperature",
            _SCALD,
        ),
    }


def _simmer_words(page: Page, away: str) -> Mapping[str, Words]:
    lid = {"open": "Lid off.", "ajar": "Lid ajar.", "on": "Lid on."}[page.formula.lid]
    simmer = f"Hold {page.show(page.run.charge.simmer_c, 'degC')}, a bare simmer. {lid}"
    record = "temperature each hour"
    if away:
        record = "temperature at the start, each hour while somebody is there, and on return"
    return dict.fromkeys(("simmer", "second_simmer"), (simmer, record, away))


def _second_words(page: Page, liquor: Draw) -> Mapping[str, Words]:
    show = page.show
    return {
        "refill": (
            f"Refill with {show(page.run.charge.refill_kg, 'kg')} cold water.",
            "weight",
            "Steam when cold water meets hot bones.",
        ),
        "second_heat_up": ("Full heat to the boil.", "time of boil", ""),
        "second_draw_off": (
            f"Draw about {show(liquor.hot_l, 'L')}, empty the bones, return the liquor.",
            "weight, Brix",
            _SCALD,
        ),
        "hot_hold": (f"Keep hot, above {show(HOT_HOLD_C, 'degC')}, until the reduction starts.", "temperature", ""),
        POUR_OVER: (_pour_words(page, liquor), "weight", _SCALD),
    }


def _pour_words(page: Page, liquor: Draw) -> str:
    pour = f"Pour the second draw, about {page.show(liquor.hot_l, 'L')}, over into {page.pan_name}."
    reduction = page.run.charge.reduction
    if reduction is None:
        return f"{pour} It is reduced there with run {page.run.batch.pours_into}, whose sheet goes on from here."
    if not page.guests:
        return pour
    others = ", ".join(f"{guest.code} from {page.pot_name(guest.pot)}" for guest in page.guests)
    return f"{pour} With it come {others}: about {page.show(reduction.liquor.hot_l, 'L')} in all."


def _reduction_words(page: Page, reduction: Reduction) -> Mapping[str, Words]:
    show = page.show
    return {
        "reduce": (_reduce_words(page, reduction), "weight or level, time", ""),
        "finish": (
            f"Stir, low heat, to {show(reduction.mass_kg, 'kg')} ({reduction.solids_bx:.0f} Brix).",
            "weight, Brix",
            "It catches: the last of it goes in minutes. Look every 5 minutes.",
        ),
        "portion": (
            f"Pour into the cooling vessels of its log, cool at once.{_spare(page, reduction)} {_portioned(page)}",
            "containers",
            "Sticky and hot: it burns deeper than water.",
        ),
    }


def _wash_words(page: Page) -> Mapping[str, Words]:
    return {
        "wash": ("Empty, wash and rinse the pot.", "done by", _wash_caution(page)),
        PAN_WASH: (f"Empty, wash and rinse {page.pan_name}.", "done by", _wash_caution(page)),
    }


def _reduce_words(page: Page, reduction: Reduction) -> str:
    start = f"Boil down from {page.show(reduction.liquor.mass_kg, 'kg')} to {page.show(reduction.mass_kg, 'kg')}. "
    smaller = min(page.plan.week.pots, key=lambda pot: pot.inner_diameter_mm)
    turn = f"At {page.show(reduction.scorch_from_kg, 'kg')} "
    if smaller.inner_diameter_mm < page.reduced_in.inner_diameter_mm:
        return start + turn + f"turn the heat down, or move to a pot as narrow as {smaller.name} if one is free."
    return start + turn + "turn the heat down."


def _salt(page: Page) -> str:
    """Salt goes into the drawn broth, never into the pot, whose bones may be drawn again and boiled down."""
    salt_kg = page.run.charge.salt_kg
    if not salt_kg:
        return ""
    weight = page.show(salt_kg, "kg") if page.is_us else f"{rounded_text(1000.0 * salt_kg, '5')} g"
    return f" Stir {weight} of salt into the drawn broth, not the pot."


def _portioned(page: Page) -> str:
    """What becomes of a cold reduction: cubes go through their trays first."""
    week = page.plan.week
    cubes = [portion for portion in page.run.batch.reduction if week.get("products", portion.product).cube_tray]
    if not cubes:
        return _STORE
    pieces = sum(
        portion.containers * (week.get("products", portion.product).cubes_per_container or 0) for portion in cubes
    )
    return f"When the last limit of its log is met: {pieces} cubes into trays, freeze, then bag; label everything."


def _spare(page: Page, reduction: Reduction) -> str:
    """What a reduction gives beyond the containers that are planned."""
    spare_l = reduction.litres - page.run.batch.reduction_l
    if spare_l < SPARE_L:
        return ""
    return f" About {page.show(spare_l, 'L')} more than planned: cool it with the rest and label it too."


def _load_caution(page: Page) -> str:
    charge = page.run.charge
    if charge.water_l < charge.water_to_cover_l:
        missing = page.show(charge.water_to_cover_l - charge.water_l, "L")
        return f"The water will not cover the solids (about {missing} short): break or press them. {_HEAVY}"
    return _HEAVY


def _wash_caution(page: Page) -> str:
    if not page.allergens:
        return ""
    return f"Allergens ({', '.join(page.allergens)}): clean by the allergen change-over before another formula."


def cautions_of(page: Page) -> Iterable[str]:
    """What a cook must mind over the whole run.

    Equation: salt of the reduction where it is too much, where the second draw goes, then what holds for every run.
    Units: page (record; [%]); returns sentences.
    Valid: every run.
    Errors: none.
    Source: common practice, no source.
    """
    reduction = page.run.charge.reduction
    if reduction is not None and reduction.salt_percent > SALT_CAUTION_PERCENT:
        yield (
            f"Salt in the pot would make the reduction {reduction.mass_factor:.0f} times as strong, "
            f"{reduction.salt_percent:.1f} %: keep it out of the pot and season the reduction at its end."
        )
    if page.guests:
        codes = ", ".join(guest.code for guest in page.guests)
        yield f"The reduction is made in {page.pan_name} together with the second draw of {codes}."
    elif page.run.batch.pours_into:
        yield f"The second draw goes into {page.pan_name} and is reduced with run {page.run.batch.pours_into}."
    elif page.run.placed.pan:
        yield f"The reduction is made in {page.pan_name}."
    yield "Cool through every limit of the cooling log. Never put a deep container of hot liquid into still cold air."
    yield "Do not seal hot broth in bags or airtight packs unless the kitchen's approved plan covers it."
    yield "When in doubt, hold the lot and ask; discard what cannot be shown to be safe."
    yield "Yields and times marked C in Workings are estimates until your own records replace them."
