"""How wide a text is drawn, its lines, and places for labels that touch nothing.

A picture does not know the reader's font. Widths are those of DejaVu Sans, the widest of the fonts that `svg.FONT`
names, so that a text that fits with it fits with the others. Sizes and widths are in units of the drawing.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import NamedTuple

# Advance widths of DejaVu Sans from the space to the tilde, in thousandths of the size; tests hold them to the font.
_ADVANCES = (
    *(318, 401, 460, 838, 636, 950, 780, 275, 390, 390, 500, 838, 318, 361, 318, 337, 636, 636, 636, 636),
    *(636, 636, 636, 636, 636, 636, 337, 337, 838, 838, 838, 531, 1000, 684, 686, 698, 770, 632, 575, 775),
    *(752, 295, 295, 656, 557, 863, 748, 787, 603, 787, 695, 635, 611, 732, 684, 989, 685, 611, 685, 390),
    *(337, 390, 838, 500, 500, 613, 635, 550, 635, 615, 352, 635, 634, 278, 278, 579, 278, 974, 634, 612),
    *(635, 635, 411, 521, 392, 634, 592, 818, 592, 592, 525, 636, 337, 636, 838),
)
_OTHER_ADVANCE = 1100  # as wide as the widest of the common alphabets, an ideograph among them
_BOLD = 1.13  # DejaVu Sans Bold to DejaVu Sans, over a line of words
ASCENT, DESCENT = 0.76, 0.24  # of the size, above and below the baseline


def text_width(text: str, size: float, bold: bool = False) -> float:
    """Width of one line at a font size, not less than it is drawn with any of the fonts named."""
    thousandths = sum(_ADVANCES[ord(c) - 32] if 32 <= ord(c) < 127 else _OTHER_ADVANCE for c in text)
    return thousandths * size / 1000 * (_BOLD if bold else 1.0)


def wrapped_lines(text: str, width: float, size: float, bold: bool = False) -> list[str]:
    """The text in lines no wider than `width`; a word that is wider by itself is broken where it must be."""
    lines: list[str] = []
    for paragraph in text.split("\n"):
        line = ""
        for word in paragraph.split():
            longer = f"{line} {word}" if line else word
            if text_width(longer, size, bold) <= width:
                line = longer
                continue
            if line:
                lines.append(line)
            *whole, line = _pieces(word, width, size, bold)
            lines += whole
        if line:
            lines.append(line)
    return lines


def _pieces(word: str, width: float, size: float, bold: bool) -> list[str]:
    pieces = [""]
    for letter in word:
        if pieces[-1] and text_width(pieces[-1] + letter, size, bold) > width:
            pieces.append("")
        pieces[-1] += letter
    return pieces


class Box(NamedTuple):
    """A rectangle that something takes up."""

    left: float
    top: float
    right: float
    bottom: float

    def touches(self, other: Box) -> bool:
        """Whether the two share any area."""
        across = self.left < other.right and other.left < self.right
        return across and self.top < other.bottom and other.top < self.bottom

    def within(self, other: Box) -> bool:
        """Whether all of this one lies inside the other."""
        across = other.left <= self.left and self.right <= other.right
        return across and other.top <= self.top and self.bottom <= other.bottom


def text_box(x: float, y: float, text: str, size: float, anchor: str = "start", bold: bool = False) -> Box:
    """What a line takes up whose baseline is at y and whose start, middle or end is at x."""
    width = text_width(text, size, bold)
    left = x - width * {"start": 0.0, "middle": 0.5, "end": 1.0}[anchor]
    return Box(left, y - ASCENT * size, left + width, y + DESCENT * size)


class Place(NamedTuple):
    """A place for a label: its anchor point on the baseline."""

    x: float
    y: float
    anchor: str


class Labels:
    """Finds places for labels inside an area so that none touches another or what is kept clear."""

    def __init__(self, area: Box, kept: Iterable[Box] = ()) -> None:
        self.area = area
        self._taken = list(kept)

    def keep(self, box: Box) -> None:
        """Keep a rectangle clear of labels."""
        self._taken.append(box)

    def place(self, text: str, size: float, places: Sequence[Place], bold: bool = False) -> Place | None:
        """The first of the places that is free, which the label then takes; None where none is."""
        for place in places:
            box = text_box(place.x, place.y, text, size, place.anchor, bold)
            if box.within(self.area) and not any(box.touches(other) for other in self._taken):
                self._taken.append(box)
                return place
        return None
