"""How the three ways of deciding look in every picture: each has a lightness, a shape and a dash of its own."""

from __future__ import annotations

from typing import NamedTuple

from sunsched.report.pictures.svg import Attribute, Drawing
from sunsched.study.settings import Strategy


class Look(NamedTuple):
    """One strategy's colour role, dash and mark."""

    role: str
    dash: str | None
    shape: str

    def line(self) -> dict[str, Attribute]:
        """The attributes of its line."""
        return {"stroke": self.role, "stroke_width": 2.2, "stroke_dasharray": self.dash}

    def mark(self, drawing: Drawing, x: float, y: float, radius: float = 3.6, **more: Attribute) -> None:
        """Its mark at a place."""
        look: dict[str, Attribute] = {"fill": self.role, "stroke": "halo", "stroke_width": 0.8, **more}
        drawing.mark(self.shape, x, y, radius, **look)

    def sample(self, drawing: Drawing, x: float, y: float) -> None:
        """Its line with its mark, for a legend."""
        drawing.line(x, y - 4.5, x + 26, y - 4.5, **self.line())
        self.mark(drawing, x + 13, y - 4.5, 4.2)


LOOKS: dict[Strategy, Look] = {
    "light": Look("by_light", "7 4", "circle"),
    "clock": Look("by_clock", None, "square"),
    "both": Look("by_both", "2 3", "triangle"),
}
