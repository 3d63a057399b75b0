"""The colours, the three meanings and the stage patterns; the style sheets repeat the same values."""

from typing import Literal

INK = "#16212b"
PAPER = "#fdfdfc"
GREY = "#4a5661"
HAIRLINE = "#c8cfd5"
ACCENT = "#0f3f8c"
WITHIN = "#14532d"
NEAR = "#6a4300"
PAST = "#8c1210"

Meaning = Literal["within", "near", "past", "open"]

MEANING_COLOUR: dict[Meaning, str] = {"within": WITHIN, "near": NEAR, "past": PAST, "open": GREY}
MEANING_WORDS: dict[Meaning, str] = {
    "within": "within the limit",
    "near": "near the limit",
    "past": "past the limit",
    "open": "not shown yet",
}
# Line styles repeat the meaning where colour is lost: (width in px, dash pattern).
MEANING_LINE: dict[Meaning, tuple[float, str]] = {
    "within": (1.5, ""),
    "near": (2.0, "6 3"),
    "past": (3.5, ""),
    "open": (1.0, "1.5 3"),
}

StageKind = Literal[
    "load",
    "heat-up",
    "skim",
    "simmer",
    "additions",
    "draw-off",
    "refill",
    "reduce",
    "portion",
    "chill",
    "freeze",
    "clean",
    "hold",
]
Pattern = Literal["solid", "plain", "rising", "falling", "crossed", "level", "upright", "dots"]
PATTERN_WORDS: dict[Pattern, str] = {
    "solid": "Full",
    "plain": "Empty",
    "rising": "Lines rising",
    "falling": "Lines falling",
    "crossed": "Lines crossed",
    "level": "Lines level",
    "upright": "Lines upright",
    "dots": "Dots",
}

# Solid: a cook stands at the pot. Hatched: heat goes in or out. Plain: it looks after itself.
STAGE_PATTERN: dict[StageKind, Pattern] = {
    "load": "solid",
    "heat-up": "rising",
    "skim": "solid",
    "simmer": "plain",
    "additions": "solid",
    "draw-off": "solid",
    "refill": "solid",
    "reduce": "crossed",
    "portion": "solid",
    "chill": "level",
    "freeze": "upright",
    "clean": "dots",
    "hold": "falling",
}
STAGE_WORDS: dict[StageKind, str] = {
    "load": "Load",
    "heat-up": "Heat up",
    "skim": "Skim",
    "simmer": "Simmer",
    "additions": "Additions",
    "draw-off": "Draw off",
    "refill": "Refill",
    "reduce": "Reduce",
    "portion": "Portion",
    "chill": "Chill",
    "freeze": "Freeze",
    "clean": "Clean",
    "hold": "Hold hot",
}
