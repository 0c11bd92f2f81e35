"""SVG without a library: small, the same bytes each time, and complete under a strict Content-Security-Policy.

Colours are roles. Each role has a light and a dark value: the light one stands in presentation
attributes, so that a picture needs no style sheet; the dark one comes from `style_sheet`, which a
file carries itself and a page carries once. No style attribute is ever written.

Frame is a pair of axes for ordinary charts: lines, bands, a legend, units on both axes.

Every chart is WIDTH units wide and no text in it is smaller than TEXT, so that on a telephone, where a picture is
about 360 px wide, letters are at least 11 px high.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from functools import lru_cache
from html import escape
from typing import NamedTuple

from sunsched.base.plain_text import clean
from sunsched.base.text_digest import with_digest_line
from sunsched.report.pictures.lettering import Box, Labels, Place, text_width, wrapped_lines

# role: (light, dark). Chosen for order in lightness first, so that grey print keeps it; the two lines of the door are
# blue and orange, which the common kinds of colour blindness tell apart, and differ in dash as well.
ROLES: dict[str, tuple[str, str]] = {
    "paper": ("#ffffff", "#14161b"),
    "ink": ("#16181d", "#eceef2"),
    "quiet": ("#4a4f5a", "#b6bcc8"),
    "faint": ("#c3c7d0", "#4b515d"),
    "day": ("#ffffff", "#59606f"),
    "civil": ("#e4e6ee", "#454b58"),
    "nautical": ("#c6cad8", "#333844"),
    "astronomical": ("#a7adc1", "#232731"),
    "night": ("#8990a8", "#14161b"),
    "close": ("#123f8c", "#8ab8ff"),
    "open": ("#a34700", "#ffb25c"),
    "third": ("#3b6b35", "#9ed191"),
    "fourth": ("#7a2d6d", "#e3a1d8"),
    # the three ways of deciding: three steps of lightness, so that they differ in grey and for colour-blind eyes
    "by_light": ("#c25100", "#e8902a"),
    "by_clock": ("#1f4fc4", "#6f8bea"),
    "by_both": ("#2b0a24", "#e2fbff"),
    "halo": ("#ffffff", "#0c0e12"),
    "alarm": ("#a3122f", "#ff9aa8"),
    "band": ("#eef0f5", "#262a33"),
}
WIDTH, MARGIN = 460.0, 14.0
TEXT, HEAD = 14.5, 16.0  # font sizes: axes, labels and words; the finding above a chart
FONT = "system-ui, 'Segoe UI', 'DejaVu Sans', sans-serif"
_PAINTS = ("fill", "stroke")
Attribute = str | float | None


@lru_cache(maxsize=8192)
def number(value: float) -> str:
    """A coordinate with at most two decimals: 0.01 of a unit is finer than any screen or printer.

    Kept for a while: the rows of a map bear the same heights in each of its bands and lines.
    """
    # first to six decimals: the last bit of a sum must not decide a tie
    text = f"{round(value, 6):.2f}".rstrip("0").rstrip(".")
    return "0" if text in ("-0", "") else text


def style_sheet() -> str:
    """The rules that turn every role dark on a dark screen; print stays light."""
    rules = "".join(f".{paint[0]}-{role}{{{paint}:{dark}}}" for role, (_, dark) in ROLES.items() for paint in _PAINTS)
    return f"@media screen and (prefers-color-scheme:dark){{{rules}}}"


def attributes_text(attributes: dict[str, Attribute]) -> str:
    """Attributes as they stand in a tag; a role given as fill or stroke becomes its light colour and its class."""
    classes = [str(attributes["class_"])] if attributes.get("class_") else []
    written = []
    for name, value in attributes.items():
        if value is None or name == "class_":
            continue
        if name in _PAINTS and value in ROLES:
            classes.append(f"{name[0]}-{value}")
            value = ROLES[str(value)][0]
        text = value if isinstance(value, str) else number(value)
        written.append(f' {name.rstrip("_").replace("_", "-")}="{escape(clean(text))}"')
    if classes:
        written.append(f' class="{escape(clean(" ".join(classes)))}"')
    return "".join(written)


def stairs(points: Sequence[tuple[float, float, float]]) -> str:
    """A path that stands at x from y to y2 for each (x, y, y2), joined sideways: one step a day, nothing smoothed."""
    parts = []
    for k, (x, y, y2) in enumerate(points):
        parts.append(f"M{number(x)} {number(y)}" if k == 0 else f"H{number(x)}")
        parts.append(f"V{number(y2)}")
    return "".join(parts)


def polyline(points: Sequence[tuple[float, float]], closed: bool = False) -> str:
    """A path through points."""
    text = "L".join(f"{number(x)} {number(y)}" for x, y in points)
    return f"M{text}{'Z' if closed else ''}" if points else ""


class Drawing:
    """One picture, `width` by `height` units, with the title and description for screen readers.

    `ident` begins every id in the picture, so that many pictures stand in one page.
    """

    def __init__(self, width: float, height: float, title: str, description: str, ident: str) -> None:
        self.width, self.height = width, height
        self.title, self.description, self.ident = title, description, ident
        self._parts: list[str] = []
        self._definitions: list[str] = []

    def add(self, tag: str, **attributes: Attribute) -> None:
        """Add one element. `fill` and `stroke` take roles, `class_` a class; an underscore is written as a hyphen.

        `content` is the element's text and is escaped.
        """
        content = attributes.pop("content", None)
        head = f"<{tag}{attributes_text(attributes)}"
        inside = "" if content is None else escape(clean(str(content)), quote=False)
        self._parts.append(f"{head}/>" if content is None else f"{head}>{inside}</{tag}>")

    @contextmanager
    def group(self, **attributes: Attribute) -> Iterator[None]:
        """What is added inside belongs to one group and inherits its attributes."""
        self._parts.append(f"<g{attributes_text(attributes)}>")
        yield
        self._parts.append("</g>")

    def text(self, x: float, y: float, content: str, **attributes: Attribute) -> None:
        """Text with its baseline at y."""
        self.add("text", **{"content": content, "x": x, "y": y, "fill": "ink", **attributes})

    def line(self, x: float, y: float, x2: float, y2: float, **attributes: Attribute) -> None:
        """A straight line."""
        self.add("line", **{"x1": x, "y1": y, "x2": x2, "y2": y2, "stroke": "ink", **attributes})

    def rect(self, x: float, y: float, width: float, height: float, **attributes: Attribute) -> None:
        """A rectangle."""
        self.add("rect", x=x, y=y, width=width, height=height, **attributes)

    def path(self, d: str, **attributes: Attribute) -> None:
        """A path; filled only if `fill` is given."""
        if d:
            self.add("path", **{"d": d, "fill": "none", **attributes})

    def mark(self, shape: str, x: float, y: float, radius: float, **attributes: Attribute) -> None:
        """A mark of a value: a circle, a square, or a triangle that points up, its middle at (x, y)."""
        if shape == "circle":
            self.add("circle", **{"cx": x, "cy": y, "r": radius, **attributes})
        elif shape == "square":
            self.rect(x - radius, y - radius, 2 * radius, 2 * radius, **attributes)
        else:
            corners = [(x, y - 1.2 * radius), (x + 1.15 * radius, y + radius), (x - 1.15 * radius, y + radius)]
            self.path(polyline(corners, closed=True), **attributes)

    def lines(self, y: float, words: str, size: float = TEXT, **attributes: Attribute) -> float:
        """Words in as many lines as they need over the drawing's width, the first baseline at y; the next baseline."""
        bold = attributes.get("font_weight") is not None
        for line in wrapped_lines(words, self.width - 2 * MARGIN, size, bold):
            self.text(MARGIN, y, line, font_size=size, **attributes)
            y += round(1.28 * size, 1)
        return y

    def heading(self, name: str, findings: Sequence[str]) -> float:
        """What the picture is of, and under it what it shows; returns the y below both."""
        y = self.lines(22.0, name, fill="quiet")
        for finding in findings:
            y = self.lines(y + 3.0, finding, HEAD, font_weight="600")
        return y - 10.0

    def key(self, entries: Sequence[Entry], y: float) -> float:
        """A legend: samples, each 24 wide and drawn by a function of its left and baseline, and their words.

        As many stand in a line as there is room for, and words that are longer go on below. Returns the y below it.
        """
        left, right, gap = MARGIN, self.width - MARGIN, 31.0
        x, height = left, 20.0
        for sample, words in entries:
            wide = text_width(words, TEXT) + gap
            if x > left and x + wide > right:
                x, y = left, y + height
            sample(x, y)
            for number, line in enumerate(wrapped_lines(words, right - x - gap, TEXT)):
                y += height if number else 0.0
                self.text(x + gap, y, line, font_size=TEXT)
            x += wide + 16.0
        return y + height if entries else y

    def stroke_sample(self, **look: Attribute) -> Callable[[float, float], None]:
        """The sample of a line for `key`."""
        return lambda x, y: self.line(x, y - 4.5, x + 24, y - 4.5, **look)

    def patch_sample(self, fill: str, over: str = "", **look: Attribute) -> Callable[[float, float], None]:
        """The sample of an area for `key`, with a pattern over its fill if given."""

        def sample(x: float, y: float) -> None:
            self.rect(x, y - 11, 24, 13, **{"fill": fill, "stroke": "quiet", "stroke_width": 0.7, **look})
            if over:
                self.rect(x, y - 11, 24, 13, fill=over)

        return sample

    def hatch(self, name: str, role: str, gap: float, turn_deg: float, width: float = 1.0) -> str:
        """A pattern of parallel lines `gap` apart, turned by `turn_deg`; returns the value for `fill`."""
        line = attributes_text({"x1": 0, "y1": 0, "x2": 0, "y2": gap, "stroke": role, "stroke_width": width})
        self._pattern(name, gap, f"<line{line}/>", turn_deg)
        return f"url(#{self.ident}-{name})"

    def dots(self, name: str, role: str, gap: float, radius: float) -> str:
        """A pattern of dots; returns the value for `fill`."""
        dot = attributes_text({"cx": gap / 2, "cy": gap / 2, "r": radius, "fill": role})
        self._pattern(name, gap, f"<circle{dot}/>", 0)
        return f"url(#{self.ident}-{name})"

    def _pattern(self, name: str, gap: float, inside: str, turn_deg: float) -> None:
        head: dict[str, Attribute] = {"id": f"{self.ident}-{name}", "patternUnits": "userSpaceOnUse"}
        head |= {"width": gap, "height": gap}
        head["patternTransform"] = f"rotate({number(turn_deg)})" if turn_deg else None
        self._definitions.append(f"<pattern{attributes_text(head)}>{inside}</pattern>")

    def inline(self) -> str:
        """The picture for a page, which carries `style_sheet` itself."""
        return self._svg("", "")

    def file_text(self, origin: str = "") -> str:
        """The picture as a file of its own, with its style sheet, its paper and, if given, its origin."""
        paper = f"<rect{attributes_text({'width': self.width, 'height': self.height, 'fill': 'paper'})}/>"
        made = f"<metadata>{escape(clean(origin), quote=False)}</metadata>" if origin else ""
        return with_digest_line(self._svg(f"{made}<style>{style_sheet()}</style>", paper) + "\n", "<!-- {} -->")

    def _svg(self, style: str, paper: str) -> str:
        size = f"0 0 {number(self.width)} {number(self.height)}"
        head: dict[str, Attribute] = {"xmlns": "http://www.w3.org/2000/svg", "viewBox": size}
        if style:
            head |= {"width": self.width, "height": self.height}
        names = {"title": f"{self.ident}-title", "desc": f"{self.ident}-desc"}
        head |= {"id": self.ident, "role": "img", "aria-labelledby": " ".join(names.values())}
        head |= {"font-family": FONT, "font-size": 14}
        description = "".join(
            f'<{tag} id="{names[tag]}">{escape(clean(words), quote=False)}</{tag}>'
            for tag, words in (("title", self.title), ("desc", self.description))
        )
        definitions = f"<defs>{''.join(self._definitions)}</defs>" if self._definitions else ""
        body = "\n".join(self._parts)
        return f"<svg{attributes_text(head)}>{description}{style}{definitions}{paper}\n{body}\n</svg>"


Entry = tuple[Callable[[float, float], None], str]  # of a legend: what draws its sample, and its words
DASHES = {"close": None, "open": "7 4", "third": "2 3", "fourth": "10 3 2 3"}
# What a text is drawn over shines through nowhere near its letters.
HALO: dict[str, Attribute] = {"stroke": "halo", "stroke_width": 4, "paint_order": "stroke", "stroke_linejoin": "round"}


class Scale(NamedTuple):
    """Values from `low` to `high` laid over units from `start` to `end`, linear or logarithmic."""

    low: float
    high: float
    start: float
    end: float
    logarithmic: bool = False

    def at(self, value: float) -> float:
        """The unit at which a value lies."""
        if self.logarithmic:
            low = math.log10(self.low)
            share = (math.log10(value) - low) / (math.log10(self.high) - low)
        else:
            share = (float(value) - self.low) / (self.high - self.low)
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
        """Grid lines, tick labels and both titles with their units; an empty title is left out."""
        d, x, y = self.drawing, self.x, self.y
        with d.group(stroke="faint", stroke_width=1):
            for value, _ in y_ticks:
                d.line(x.start, y.at(value), x.end, y.at(value), stroke=None)
            for value, _ in x_ticks:
                d.line(x.at(value), y.start, x.at(value), y.start + 5, stroke=None)
        with d.group(font_size=TEXT):
            for value, label in y_ticks:
                d.text(x.start - 7, y.at(value) + 4.5, label, text_anchor="end", fill="quiet")
            for value, label in x_ticks:
                d.text(x.at(value), y.start + 19, label, text_anchor="middle", fill="quiet")
        d.line(x.start, y.start, x.end, y.start, stroke="quiet")
        if x_title:
            d.text((x.start + x.end) / 2, y.start + 38, x_title, text_anchor="middle", font_size=TEXT)
        if y_title:
            d.text(MARGIN, y.end - 12, y_title, font_size=TEXT)

    def line(self, xs: Sequence[float], ys: Sequence[float], role: str, **attributes: Attribute) -> None:
        """A line through values, broken where a value is not a number; its dash distinguishes it in grey print."""
        runs: list[list[tuple[float, float]]] = [[]]
        for a, b in zip(xs, ys, strict=True):
            if math.isfinite(a) and math.isfinite(b):
                runs[-1].append((self.x.at(a), self.y.at(b)))
            elif runs[-1]:
                runs.append([])
        look = {"stroke": role, "stroke_width": 2.2, "stroke_dasharray": DASHES.get(role), **attributes}
        self.drawing.path("".join(polyline(run) for run in runs if run), **look)

    @property
    def inside(self) -> Box:
        """The plot's rectangle."""
        return Box(self.x.start, self.y.end, self.x.end, self.y.start)

    def spread(
        self, xs: Sequence[float], lows: Sequence[float], highs: Sequence[float], **attributes: Attribute
    ) -> None:
        """The area between two lines over the same values."""
        edge = [*zip(xs, highs, strict=True), *zip(reversed(xs), reversed(lows), strict=True)]
        points = [(self.x.at(a), self.y.at(b)) for a, b in edge]
        self.drawing.path(polyline(points, closed=True), **attributes)

    def keep_line(self, labels: Labels, xs: Sequence[float], ys: Sequence[float], clear: float = 3.0) -> None:
        """Keep labels off a line through values."""
        points = [(self.x.at(a), self.y.at(b)) for a, b in zip(xs, ys, strict=True) if math.isfinite(a + b)]
        for (left, one), (right, other) in itertools.pairwise(points):
            parts = max(1, round(abs(other - one) / 6), round(abs(right - left) / 12))
            x, y = left, one
            for k in range(1, parts + 1):
                x2, y2 = left + (right - left) * k / parts, one + (other - one) * k / parts
                across, down = (x, x2) if x < x2 else (x2, x), (y, y2) if y < y2 else (y2, y)
                labels.keep(Box(across[0] - 1, down[0] - clear, across[1] + 1, down[1] + clear))
                x, y = x2, y2

    def name_line(
        self,
        labels: Labels,
        xs: Sequence[float],
        ys: Sequence[float],
        words: str,
        role: str,
        above: bool = True,
        near: int = 0,
    ) -> bool:
        """Words beside a line, at the free place that is closest to value `near`; whether there was one."""
        places: list[tuple[int, int, Place]] = []
        for k in range(0, len(xs), max(1, len(xs) // 60)):
            if not math.isfinite(ys[k]):
                continue
            x, y = self.x.at(xs[k]) + 4.0, self.y.at(ys[k])
            up, down = y - 8.0, y + 4.0 + 0.8 * TEXT
            order = (up, up - 10.0, down, down + 10.0) if above else (down, down + 10.0, up, up - 10.0)
            places += [(rank, abs(k - near), Place(x, at, "start")) for rank, at in enumerate(order)]
        ordered = [place for *_, place in sorted(places, key=lambda entry: entry[:2])]
        place = labels.place(words, TEXT, ordered, bold=True)
        if place:
            look: dict[str, Attribute] = {"font_size": TEXT, "font_weight": "600", **HALO}
            self.drawing.text(place.x, place.y, words, fill=role, **look)
        return place is not None

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
            self.drawing.text(x + 37, at, words, font_size=TEXT)
