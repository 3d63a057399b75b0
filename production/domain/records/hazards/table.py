"""The hazard table: what can go wrong at each step of a formula, and what stands against it."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from types import MappingProxyType

from production.domain.records.hazards.content import Hazard, HazardKind, PlanFacts

CCP_BOIL, CCP_COOL = "CCP 1", "CCP 2"
_B, _C, _P, _A = HazardKind.BIOLOGICAL, HazardKind.CHEMICAL, HazardKind.PHYSICAL, HazardKind.ALLERGEN
_PRACTICE = "common practice, no source"
Applies = Callable[[PlanFacts], bool]


@dataclass(frozen=True, slots=True)
class _Line:
    step: str
    kind: HazardKind
    what: str
    why: str
    control: str
    point: str
    source: str
    mark: str
    applies: Applies = lambda facts: True


def _has_second(facts: PlanFacts) -> bool:
    return facts.formula.second_draw is not None


def _has_reduction(facts: PlanFacts) -> bool:
    return facts.formula.reduction_bx is not None


_LINES: tuple[_Line, ...] = (
    _Line(
        "receive", _B, "Salmonella, Campylobacter, Listeria, E. coli on raw bones, meat and poultry",
        "Raw animal food carries them; they grow when it came too warm.",
        "Known suppliers; cold when taken in; boiling kills them later.", "P 1",
        "Food Code 3-202.11; 9 CFR 417.2(a)(3)", "memory",
        lambda facts: not facts.is_of("fish") or facts.is_of("veal", "beef", "pork", "poultry", "meat"),
    ),
    _Line(
        "receive", _B, "Spores of Clostridium perfringens, Clostridium botulinum and Bacillus cereus",
        "Soil and gut; on bones, vegetables and spices. Boiling does not kill them.",
        "Nothing here removes them: cooling keeps them from growing.", CCP_COOL,
        "FSIS-GD-2021-13 (stabilization)", "memory",
    ),
    _Line(
        "receive", _C, "Histamine in fish that was kept warm",
        "Formed in tuna, mackerel and their kin before the kitchen; boiling does not destroy it.",
        "Fish from suppliers who keep it on ice; temperature when taken in.", "P 1",
        "FDA Fish and Fishery Products Hazards and Controls Guidance, chapter 7", "memory",
        lambda facts: facts.is_of("fish"),
    ),
    _Line(
        "receive", _C, "Specified risk material in cattle bones (skull, spine of older animals)",
        "Agents of BSE withstand boiling.", "Bones only from inspected sources that have removed it.", "P 1",
        "9 CFR 310.22; Regulation (EC) 999/2001 Annex V", "memory",
        lambda facts: facts.is_of("beef", "cattle"),
    ),
    _Line(
        "receive", _C, "Residues of medicines, pesticides; lead and other metals in bone",
        "Long boiling draws them into the broth.", "Suppliers under inspection; their specification on file.", "P 1",
        "21 CFR 117.130(b)(1)(ii)", "memory",
    ),
    _Line(
        "receive", _P, "Bone splinters, clips, string, plastic of packs", "They come with bones and cut meat.",
        "Looked at when opened; the strainer at the draw.", "", _PRACTICE, "common practice",
    ),
    _Line(
        "store", _B, "Growth on raw bones and trim, drip onto other food", "Too warm, too long, or above other food.",
        "Cold store; raw below cooked; first expired first.", "P 2", "Food Code 3-302.11 and 3-501.16", "memory",
    ),
    _Line(
        "weigh", _A, "Another ingredient than the formula's", "A stand-in can bring an allergen the label lacks.",
        "Lot named at each weighing; label from what was weighed.", "P 3", "21 CFR 117.135(c)(2)", "memory",
    ),
    _Line(
        "fill", _C, "Water that is not fit to drink; metals from first water of the tap",
        "All of it stays in the food.", "Drinking water only; let it run first.", "", "Food Code 5-102.11", "memory",
    ),
    _Line(
        "boil", _B, "Growth and toxins while a big pot heats up slowly",
        "Toxins of Staphylococcus aureus and of Bacillus cereus withstand boiling.",
        "Cold ingredients, enough heat: from 5 to 57 °C in less than 4 h.", CCP_BOIL,
        "Food Code 3-501.19 (4 h), applied with care", "read in part",
    ),
    _Line(
        "boil", _B, "Living bacteria survive", "Parts that do not get hot: a clump of frozen bones, a dead corner.",
        "The whole pot boils, is stirred and skimmed.", CCP_BOIL, "Food Code 3-401.11(A)(3)", "memory",
    ),
    _Line(
        "simmer", _B, "Spores grow when the heat is lost", "Below 57 °C (135 °F) for hours, for instance at night.",
        "Simmer held; temperature when people leave and come back.", CCP_BOIL,
        "Food Code 3-501.16(A)(1), read as adopted in Delaware", "read",
    ),
    _Line(
        "add", _A, "Celery, wine, soy and others in what goes in late",
        "Allergens in the EU; sulphites in wine and vinegar.", "They stand in the formula and on the label.", "P 3",
        "Regulation (EU) 1169/2011 Annex II", "read in part",
    ),
    _Line(
        "add", _B, "Spores of herbs, spices and roots", "They go in late and are not boiled long.",
        "Back to the boil; cooling.", CCP_COOL, "FSIS-GD-2021-13 (stabilization)", "memory",
    ),
    _Line(
        "draw", _P, "Bone splinters, metal of strainers and brushes", "Bones break in long simmers.",
        "Fine strainer, whole, looked at before and after; nothing is pressed through.", "", _PRACTICE,
        "common practice",
    ),
    _Line(
        "draw", _B, "Contamination by hoses, ladles, hands", "Cooked broth is not boiled again.",
        "Clean tools; drawn hot.", "P 5", "Food Code 4-601.11", "memory",
    ),
    _Line(
        "second", _B, "Growth while the bones stand warm between draws", "Refilled with cold water they are lukewarm.",
        "Refill at once and boil again.", CCP_BOIL, "Food Code 3-501.19 (4 h), applied with care", "read in part",
        _has_second,
    ),
    _Line(
        "reduce", _C, "Salt, sulphites and metals become more", "Water leaves, they stay.",
        "Judge the finished reduction, not the broth.", "P 3", "mass balance", "own", _has_reduction,
    ),
    _Line(
        "reduce", _A, "Allergens of the runs that are poured together", "A reduction holds all that its guests held.",
        "Label from all runs in the pan.", "P 3", "21 CFR 117.135(c)(2)", "memory", _has_reduction,
    ),
    _Line(
        "cool", _B, "Spores of Clostridium perfringens and Bacillus cereus grow",
        "Large volumes stay warm for hours, in the middle longest.",
        "Small or shallow vessels, ice bath, stirring, chiller; times and temperatures taken.", CCP_COOL,
        "Food Code 3-501.14 and 3-501.15, read as adopted in Delaware and Wisconsin", "read",
    ),
    _Line(
        "cool", _B, "Contamination by ice, bath water, air", "Open vessels beside water and ice.",
        "Drinking-water ice; bath below the rim; covered loosely.", "P 5", "Food Code 3-501.15(B), read in Wisconsin",
        "read",
    ),
    _Line(
        "cubes", _B, "Listeria and Staphylococcus aureus from hands and trays", "Cold broth is handled after cooling.",
        "Clean trays, clean hands, straight into the freezer.", "P 5", "Food Code 2-301.11 and 4-601.11", "memory",
        lambda facts: facts.makes("cubes"),
    ),
    _Line(
        "pack", _B, "Contamination when packed; growth in packs without air",
        "What is packed hot or without air can grow Clostridium botulinum.",
        "Packed cold, in clean containers with air; nothing sealed hot without a plan of its own.", "P 3",
        "Food Code 3-502.11 and 3-502.12, read in parts", "read in part",
    ),
    _Line(
        "pack", _A, "Wrong or missing allergens on the label", "Labels of other lots, stand-ins, pooled draws.",
        "Label from the weighings, looked at before the first pack.", "P 3", "21 CFR 117.135(c)(2)", "memory",
    ),
    _Line(
        "pack", _P, "Pieces of lids, glass, pens", "Things break where people pack.",
        "No glass at the packing table; broken things are looked for.", "", _PRACTICE, "common practice",
    ),
    _Line(
        "keep", _B, "Listeria and spores grow in the store", "Too warm or too long.",
        "Store temperature; last day on each lot.", "P 2",
        "Food Code 3-501.16 and 3-501.17, read as adopted in Delaware and Minnesota", "read",
    ),
    _Line(
        "send", _B, "Growth on the way", "Open doors, warm vehicles, waiting.",
        "Cold when handed over; temperature on the dispatch note.", "P 2", "Food Code 3-501.16", "read in part",
    ),
    _Line(
        "clean", _A, "Allergens left in a pot for the next formula", "Fish or celery carried into a broth without.",
        "Washed between formulas; order of the day.", "P 5", "21 CFR 117.135(c)(2)", "memory",
    ),
    _Line(
        "clean", _C, "Cleaning agents left in pots and taps", "Not rinsed.", "Rinsed with drinking water.", "P 5",
        "Food Code 4-603.16 and 7-202.12", "memory",
    ),
)  # fmt: skip

STEPS_ONLY_SOMETIMES: Mapping[str, Applies] = MappingProxyType({"add": lambda facts: bool(facts.formula.additions)})


def hazards_of(*, facts: PlanFacts) -> tuple[Hazard, ...]:
    """The lines of the table that fit the formula, and one line for its own allergens.

    Equation: lines whose condition holds, in the order of the flow.
    Units: facts (record) [no quantities]; returns records.
    Valid: every formula; the list is a beginning, not the end of a hazard analysis.
    Errors: none.
    Source: each line names its own.
    """
    found: list[Hazard] = []
    for line in _LINES:
        if line.applies(facts) and STEPS_ONLY_SOMETIMES.get(line.step, line.applies)(facts):
            found.append(_told(line))
            if line.step == "receive" and line.kind is _P and facts.allergens:
                found.append(_allergens(facts))
    return tuple(found)


def _told(line: _Line) -> Hazard:
    return Hazard(
        step=line.step,
        kind=line.kind,
        what=line.what,
        why=line.why,
        control=line.control,
        point=line.point,
        source=line.source,
        mark=line.mark,
    )


def _allergens(facts: PlanFacts) -> Hazard:
    carriers = [each.name for each in facts.used if each.allergens]
    return Hazard(
        step="receive",
        kind=_A,
        what=f"{', '.join(facts.allergens)} in {', '.join(carriers)}".capitalize(),
        why="They belong to the formula; straining and boiling do not remove them.",
        control="On every label; kept apart in the store.",
        point="P 3",
        source="FALCPA 2004 and FASTER Act 2021; Regulation (EU) 1169/2011 Annex II",
        mark="read",
    )
