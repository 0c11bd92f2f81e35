"""Every text of a picture with its size and the room it takes, by the metrics of a real font.

The font is DejaVu Sans, which comes with matplotlib: the widest of those that the pictures name.
"""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET
from functools import lru_cache
from importlib.util import find_spec
from pathlib import Path
from typing import NamedTuple

from fontTools.ttLib import TTFont  # type: ignore[import-untyped]

from sunsched.report.pictures.lettering import Box
from tests.report.drawn import SVG
from tests.support.known import known

TELEPHONE_PX, LEAST_PX = 390.0, 11.0


class Written(NamedTuple):
    """One text: its words, its size in units and the rectangle that it takes."""

    words: str
    size: float
    box: Box


class Metrics(NamedTuple):
    """Advance widths by character, and the heights above and below the baseline of common letters, over the size."""

    advances: dict[int, float]
    above: float
    below: float

    def width(self, words: str, size: float) -> float:
        """Width of a line."""
        return sum(self.advances.get(ord(letter), 1.0) for letter in words) * size


@lru_cache
def metrics(bold: bool) -> Metrics:
    """The font's own figures."""
    home = Path(known(known(find_spec("matplotlib")).origin)).parent / "mpl-data" / "fonts" / "ttf"
    font = TTFont(home / f"DejaVuSans{'-Bold' if bold else ''}.ttf")
    unit = font["head"].unitsPerEm
    advances = {code: font["hmtx"][name][0] / unit for code, name in font.getBestCmap().items()}
    glyphs = font["glyf"]
    return Metrics(advances, glyphs["l"].yMax / unit, -glyphs["p"].yMin / unit)


def written(root: ET.Element) -> list[Written]:
    """Every text of a picture."""
    found: list[Written] = []
    _gather(root, {}, found)
    return found


def _gather(element: ET.Element, above: dict[str, str], found: list[Written]) -> None:
    look = {**above, **{k: v for k, v in element.attrib.items() if k in ("font-size", "font-weight", "text-anchor")}}
    if element.tag == f"{SVG}text" and element.text:
        found.append(_written(element, look))
    for child in element:
        _gather(child, look, found)


def _written(text: ET.Element, look: dict[str, str]) -> Written:
    size, bold = float(look["font-size"]), look.get("font-weight", "400") in ("600", "700", "bold")
    font, words = metrics(bold), known(text.text)
    x, y, width = float(text.attrib["x"]), float(text.attrib["y"]), font.width(words, size)
    left = x - {"start": 0.0, "middle": 0.5, "end": 1.0}[look.get("text-anchor", "start")] * width
    box = Box(left, y - font.above * size, left + width, y + font.below * size)
    if "transform" not in text.attrib:
        return Written(words, size, box)
    turned = known(re.fullmatch(r"rotate\(90 ([\d.]+) ([\d.]+)\)", text.attrib["transform"]))
    cx, cy = (float(part) for part in turned.groups())
    # A quarter turn clockwise takes (dx, dy) to (-dy, dx).
    return Written(
        words, size, Box(cx - (box.bottom - cy), cy + box.left - cx, cx - (box.top - cy), cy + box.right - cx)
    )


def check_letters(root: ET.Element) -> None:
    """No text is too small on a telephone, beyond the picture's edge, or on another text."""
    width, height = (float(part) for part in root.attrib["viewBox"].split()[2:])
    texts = written(root)
    assert texts
    for words, size, _ in texts:
        assert size * TELEPHONE_PX / width >= LEAST_PX, (words, size, width)
    for words, _, box in texts:
        assert box.within(Box(0.0, 0.0, width, height)), (words, box)
    for number, (words, _, box) in enumerate(texts):
        for other, _, taken in texts[number + 1 :]:
            assert not box.touches(taken), (words, other)


def whole_words(root: ET.Element) -> str:
    """All texts of a picture in a row, as a reader meets them."""
    return " ".join(words for words, *_ in written(root))
