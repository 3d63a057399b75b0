"""Read a drawing as a browser would: elements, coordinates, words."""

from dataclasses import dataclass
from xml.etree import ElementTree as ET

SVG = "{http://www.w3.org/2000/svg}"


@dataclass(frozen=True, slots=True)
class Drawn:
    root: ET.Element

    @property
    def title(self) -> str:
        return self.root.findtext(f"{SVG}title") or ""

    @property
    def description(self) -> str:
        return self.root.findtext(f"{SVG}desc") or ""

    @property
    def width_px(self) -> float:
        return float(self.root.attrib["width"])

    @property
    def height_px(self) -> float:
        return float(self.root.attrib["height"])

    def all(self, tag: str) -> list[ET.Element]:
        return self.root.findall(f".//{SVG}{tag}")

    def words(self) -> list[str]:
        return [element.text or "" for element in self.all("text")]

    def word(self, text: str) -> ET.Element:
        """The one text element that says this."""
        found = [element for element in self.all("text") if element.text == text]
        assert len(found) == 1, (text, self.words())
        return found[0]

    def levels(self, colour: str) -> list[tuple[float, float, float]]:
        """Level lines of a colour as (y, left, right)."""
        found = []
        for line in self.all("line"):
            y1, y2 = float(line.attrib["y1"]), float(line.attrib["y2"])
            if line.attrib["stroke"] == colour and y1 == y2:
                found.append((y1, float(line.attrib["x1"]), float(line.attrib["x2"])))
        return found


def read(svg: str) -> Drawn:
    return Drawn(ET.fromstring(svg))


def points(element: ET.Element) -> list[tuple[float, float]]:
    pairs = (pair.split(",") for pair in element.attrib["points"].split())
    return [(float(x), float(y)) for x, y in pairs]
