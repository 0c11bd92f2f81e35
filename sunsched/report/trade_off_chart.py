"""Birds shut out against minutes open after the last bird: one panel for each share of birds that follow the light."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from sunsched.report.axes import DASHES, Frame, Scale
from sunsched.report.plain import one_line
from sunsched.report.svg import Attribute, Drawing, polyline

PANEL_WIDTH, HEIGHT, LEFT, FOOT, HEAD = 430.0, 620.0, 66.0, 128.0, 74.0
LEAST_BIRDS, MOST_LABELS = 0.5, 10  # below half a bird a year the axis ends
ROLES = {"light": "open", "clock": "close", "both": "third"}
# Where a point's label stands: curves of light and both lie close, so theirs go above and below, the clock's before.
LABELS = {"light": (6.0, -6.0, "start"), "clock": (-6.0, 10.0, "end"), "both": (7.0, 11.0, "start")}
Points = Sequence["TradeOffPoint"]


@dataclass(frozen=True)
class TradeOffPoint:
    """One setting for one share of followers: figures a year, and what a tenth of the years lie below and above."""

    strategy: str
    label: str
    open_min: float
    birds: float
    birds_low: float
    birds_high: float
    yours: bool
    on_curve: bool


@dataclass(frozen=True)
class TradeOff:
    """All points for one share of followers."""

    follow_light: float
    points: tuple[TradeOffPoint, ...]


def trade_off_chart(panels: Sequence[TradeOff], site_name: str, words: str, ident: str = "tradeoff") -> Drawing:
    """The picture; `words` says under it what it rests on. Points at or below half a bird stand on the lower edge."""
    title = f"{one_line(site_name, 40)}: birds shut out against minutes open"
    width = PANEL_WIDTH * len(panels) + 20
    drawing = Drawing(width, HEIGHT, title, _described(panels), ident)
    # One panel alone has no room for the site's name beside the words.
    heading = title if len(panels) > 1 else "Birds shut out against minutes open"
    drawing.text(14, 26, heading, font_size=16, font_weight="600")
    every = [point for panel in panels for point in panel.points]
    lows = [p.open_min for p in every if p.open_min > 0]
    least_min, most_min = min(lows, default=1.0) / 1.5, max(lows, default=10.0) * 1.4
    most_birds = max(max((p.birds_high for p in every), default=1.0) * 1.3, 10 * LEAST_BIRDS)
    for number, panel in enumerate(panels):
        left = number * PANEL_WIDTH
        x = Scale(least_min, most_min, left + LEFT, left + PANEL_WIDTH - 10, logarithmic=True)
        frame = Frame(drawing, x, Scale(LEAST_BIRDS, most_birds, HEIGHT - FOOT, HEAD, logarithmic=True))
        _axes(frame, panel.follow_light)
        for strategy in ROLES:
            _curve(frame, [p for p in panel.points if p.strategy == strategy])
    _legend(drawing, words)
    return drawing


def _axes(frame: Frame, follow: float) -> None:
    steps = [10.0**power * digit for power in range(-2, 4) for digit in (1, 2, 5)]
    ticks = [(value, f"{value:g}") for value in steps if frame.x.low <= value <= frame.x.high]
    decades = [10.0**power * digit for power in range(-1, 6) for digit in (1, 3)]
    levels = [(value, f"{value:g}") for value in decades if LEAST_BIRDS <= value <= frame.y.high]
    frame.axes(ticks, levels, "minutes open after the last bird", "birds out a year")
    words = f"{100 * follow:.0f} % follow the light"
    frame.drawing.text(frame.x.end, HEAD - 14, words, text_anchor="end", font_size=13, font_weight="600")


def _curve(frame: Frame, points: Points) -> None:
    if not points:
        return
    role = ROLES[points[0].strategy]
    ordered = sorted((p for p in points if p.on_curve), key=lambda p: p.open_min)

    def up(birds: float) -> float:
        return max(birds, LEAST_BIRDS)

    ordered = [p for p in ordered if p.open_min > 0]
    upper = [(frame.x.at(p.open_min), frame.y.at(up(p.birds_high))) for p in ordered]
    lower = [(frame.x.at(p.open_min), frame.y.at(up(p.birds_low))) for p in reversed(ordered)]
    frame.drawing.path(polyline([*upper, *lower], closed=True), fill=role, fill_opacity=0.12)
    frame.line([p.open_min for p in ordered], [up(p.birds) for p in ordered], role)
    step = max(1, -(-len(ordered) // MOST_LABELS))
    for number, point in enumerate(ordered):
        at = frame.x.at(point.open_min), frame.y.at(up(point.birds))
        frame.drawing.add("circle", cx=at[0], cy=at[1], r=2.6, fill=role)
        if number % step == 0 or point.yours:
            short, (right, down, anchor) = point.label.split(",")[0], LABELS[point.strategy]
            frame.drawing.text(at[0] + right, at[1] + down, short, font_size=10.5, fill=role, text_anchor=anchor)
    for point in points:
        if point.yours and point.open_min > 0:
            at = frame.x.at(point.open_min), frame.y.at(up(point.birds))
            frame.drawing.add("circle", cx=at[0], cy=at[1], r=7, fill="none", stroke="ink", stroke_width=2)


def _legend(drawing: Drawing, words: str) -> None:
    low = HEIGHT - 66
    named = (("light", "light alone"), ("clock", "clock alone"), ("both", "clock and light"))
    for number, (strategy, text) in enumerate(named):
        x = 20 + 135 * number
        role = ROLES[strategy]
        look: dict[str, Attribute] = {"stroke": role, "stroke_width": 2.2, "stroke_dasharray": DASHES.get(role)}
        drawing.line(x, low - 4.5, x + 30, low - 4.5, **look)
        drawing.text(x + 37, low, text, font_size=13, class_="tick")
    for number, line in enumerate(("Ringed: yours. Shaded: the middle 80 % of the years.", *words.split("\n"))):
        drawing.text(20, low + 20 + 17 * number, line, font_size=12, fill="quiet", class_="tick")


def _described(panels: Sequence[TradeOff]) -> str:
    parts = []
    for panel in panels:
        for point in panel.points:
            if point.yours:
                parts.append(
                    f"With {100 * panel.follow_light:.0f} % of the habit following the light, yours ({point.label}) "
                    f"shuts out {point.birds:.1f} birds a year at {point.open_min:.1f} minutes."
                )
    return " ".join(parts)
