"""The type: widths of labels, and the font files as a style sheet that carries them."""

import json
from base64 import b64encode
from functools import cache
from importlib.resources import files
from typing import Literal

SANS = "Potwright Sans"
MONO = "Potwright Mono"

Weight = Literal[400, 600]

FONT_FILES: tuple[tuple[str, Weight, str], ...] = (
    (SANS, 400, "potwright-sans-400.woff2"),
    (SANS, 600, "potwright-sans-600.woff2"),
    (MONO, 400, "potwright-mono-400.woff2"),
)


@cache
def _advances() -> dict[Weight, dict[str, int]]:
    table = json.loads((files("production.drawing") / "fonts" / "advances.json").read_text(encoding="utf-8"))
    return {400: table["400"], 600: table["600"]}


def text_width_px(text: str, size_px: float, weight: Weight = 400) -> float:
    """Width of a line of text in the sans family; a character the font lacks counts as a full em."""
    advances = _advances()[weight]
    return sum(advances.get(character, 1000) for character in text) * size_px / 1000


def shorten(text: str, room_px: float, size_px: float, weight: Weight = 400) -> str:
    """The text if it fits the room, else its beginning with an ellipsis, else nothing."""
    if text_width_px(text, size_px, weight) <= room_px:
        return text
    for end in range(len(text) - 1, 1, -1):
        candidate = text[:end].rstrip() + "…"
        if text_width_px(candidate, size_px, weight) <= room_px:
            return candidate
    return ""


def day_text(label: str, room_px: float, size_px: float) -> str:
    """The label of a day, or its first word (the weekday) where there is no room for more."""
    if text_width_px(label, size_px, 600) <= room_px:
        return label
    return shorten(label.split(" ", maxsplit=1)[0], room_px, size_px, 600)


def wrap(text: str, room_px: float, size_px: float, weight: Weight = 400) -> tuple[str, ...]:
    """Break a label at plain spaces, and inside a word only where the word alone is wider than the room."""
    lines: list[str] = []
    line = ""
    for word in text.split(" "):
        candidate = f"{line} {word}".strip()
        if text_width_px(candidate, size_px, weight) <= room_px:
            line = candidate
            continue
        if line:
            lines.append(line)
        line = word
        while text_width_px(line, size_px, weight) > room_px:
            head = _head(line, room_px, size_px, weight)
            lines.append(head)
            line = line[len(head.rstrip("-")) :]
    return (*lines, line) if line else tuple(lines)


def _head(word: str, room_px: float, size_px: float, weight: Weight) -> str:
    for end in range(len(word) - 1, 1, -1):
        if text_width_px(word[:end] + "-", size_px, weight) <= room_px:
            return word[:end] + "-"
    return word[:1]


@cache
def font_face_css() -> str:
    """The @font-face rules with the files inside, for documents that may not read other files."""
    rules = []
    for family, weight, name in FONT_FILES:
        data = b64encode((files("production.drawing") / "fonts" / name).read_bytes()).decode("ascii")
        rules.append(
            f'@font-face {{ font-family: "{family}"; font-weight: {weight}; font-style: normal; '
            f'src: url("data:font/woff2;base64,{data}") format("woff2"); }}'
        )
    return "\n".join(rules)
