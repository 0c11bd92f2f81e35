"""A frame with two axes, for ordinary charts: lines, bands, a legend, units on both axes."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import NamedTuple

from sunsched.report.svg import Attribute, Drawing, polyline

DASHES = {"close": None, "open": "7 4", "third": "2 3", "fourth": "10 3 2 3"}


class Scale(NamedTuple):
    """Values from `low` to `high` laid over units from `start` to `end`; logarithmic if told."""

    low: float
    high: float
    start: float
    end: float
    logarithmic: bool = False

    def at(self, value: float) -> float:
        """The unit at which a value lies."""
        turn: Callable[[float], float] = math.log10 if self.logarithmic else float
        share = (turn(value) - turn(self.low)) / (turn(self.high) - turn(self.low))
        return self.start + share * (self.end - self.start)

    def value(self, unit: float) -> float:
        """The value that lies at a unit."""
        share = (unit - self.start) / (self.end - self.start)
        if self.logarithmic:
            return float(10 ** (math.log10(self.low) + share * (math.log10(self.high) - math.log10(self.low))))
        return self.low + share * (self.high - self.low)


def round_steps(low: float, high: float, about: int = 5) -> list[float]:
    """Round values from `low` to `high`, about as many as asked for: steps of 1, 2 or 5 times a power of ten."""
    rough = max(high - low, 1e-9) / max(about, 1)
    power = 10.0 ** math.floor(math.log10(rough))
    step = next(power * k for k in (1, 2, 5, 10) if power * k >= rough * 0.999)
    first, last = math.ceil(low / step - 1e-9), math.floor(high / step + 1e-9)
    return [k * step for k in range(first, last + 1)]


@dataclass(frozen=True, slots=True)
class Frame:
    """A plot's rectangle in a drawing, with its two scales; x.start, x.end, y.end and y.start are its edges."""

    drawing: Drawing
    x: Scale
    y: Scale

    def axes(
        self,
        x_ticks: Sequence[tuple[float, str]],
        y_ticks: Sequence[tuple[float, str]],
        x_title: str,
        y_title: str,
    ) -> None:
        """Grid lines, tick labels and both titles with their units."""
        d, x, y = self.drawing, self.x, self.y
        with d.group(stroke="faint", stroke_width=1):
            for value, _ in y_ticks:
                d.line(x.start, y.at(value), x.end, y.at(value), stroke=None)
            for value, _ in x_ticks:
                d.line(x.at(value), y.start, x.at(value), y.start + 5, stroke=None)
        with d.group(font_size=13, class_="tick"):
            for value, label in y_ticks:
                d.text(x.start - 7, y.at(value) + 4.5, label, text_anchor="end", fill="quiet")
            for value, label in x_ticks:
                d.text(x.at(value), y.start + 19, label, text_anchor="middle", fill="quiet")
        d.line(x.start, y.start, x.end, y.start, stroke="quiet")
        d.text((x.start + x.end) / 2, y.start + 38, x_title, text_anchor="middle", font_size=13, class_="tick")
        d.text(x.start - 40, y.end - 12, y_title, font_size=13, class_="tick")

    def line(self, xs: Sequence[float], ys: Sequence[float], role: str, **attributes: Attribute) -> None:
        """A line through values, broken where a value is not a number; its dash tells it apart in grey print."""
        runs: list[list[tuple[float, float]]] = [[]]
        for a, b in zip(xs, ys, strict=True):
            if math.isfinite(a) and math.isfinite(b):
                runs[-1].append((self.x.at(a), self.y.at(b)))
            elif runs[-1]:
                runs.append([])
        look = {"stroke": role, "stroke_width": 2.2, "stroke_dasharray": DASHES.get(role), **attributes}
        self.drawing.path("".join(polyline(run) for run in runs if run), **look)

    def band(self, low_x: float, high_x: float, fill: str) -> None:
        """An upright band from one x to another, over the plot's whole height."""
        left, right = self.x.at(max(low_x, self.x.low)), self.x.at(min(high_x, self.x.high))
        if right > left:
            self.drawing.rect(left, self.y.end, right - left, self.y.start - self.y.end, fill=fill)

    def upright(self, at_x: float, **attributes: Attribute) -> None:
        """An upright line over the plot's whole height."""
        if self.x.low <= at_x <= self.x.high:
            self.drawing.line(self.x.at(at_x), self.y.end, self.x.at(at_x), self.y.start, **attributes)

    def level(self, at_y: float, **attributes: Attribute) -> None:
        """A level line over the plot's whole width."""
        self.drawing.line(self.x.start, self.y.at(at_y), self.x.end, self.y.at(at_y), **attributes)

    def legend(self, entries: Sequence[tuple[str, str]], x: float, y: float, gap: float = 19) -> None:
        """Samples of lines with their words, one below the other: (role, words)."""
        for k, (role, words) in enumerate(entries):
            at = y + k * gap
            look: dict[str, Attribute] = {"stroke": role, "stroke_width": 2.2, "stroke_dasharray": DASHES.get(role)}
            self.drawing.line(x, at - 4.5, x + 30, at - 4.5, **look)
            self.drawing.text(x + 37, at, words, font_size=13, class_="tick")
