"""The comparison's picture: birds shut out against minutes open after the last bird.

One panel stands under another for each share of the birds' habit that follows the light. A panel has the curves of
the three strategies with the configuration's own point ringed and named, and under it what the other strategies would
shut out at those same minutes, as a difference from it.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import partial

from sunsched import __version__
from sunsched.base.errors import UsageError
from sunsched.config.configuration import Configuration
from sunsched.hardware.figures import number
from sunsched.job.comparison import Comparison
from sunsched.report.page.html import one_line
from sunsched.report.pictures.lettering import Box, Labels, Place
from sunsched.report.pictures.picture_file import picture
from sunsched.report.pictures.strategies import LOOKS
from sunsched.report.pictures.svg import HALO, MARGIN, TEXT, WIDTH, Attribute, Drawing, Entry, Frame, Scale
from sunsched.study import tally
from sunsched.study.limits_of_mean import TELLING_ERRORS
from sunsched.study.settings import IN_WORDS, Strategy
from sunsched.study.tally import Difference

LEFT, PLOT_HEIGHT = 56.0, 250.0
LEAST_BIRDS = 0.5  # below half a bird a year the axis ends
NOTE = "Simulated; birds compare settings and are no forecast. Validated on one June and one late-summer week only."
_LEAST_MIN = 0.01  # a minute's hundredth: an axis of powers has no place for none
_DIFFERENCE_WIDTH = 190.0
Points = Sequence["TradeOffPoint"]


@dataclass(frozen=True)
class TradeOffPoint:
    """One setting for one share of followers: figures a year, and what a tenth of the years lie below and above."""

    strategy: Strategy
    label: str
    open_min: float
    birds: float
    birds_low: float
    birds_high: float
    yours: bool
    on_curve: bool


@dataclass(frozen=True)
class TradeOff:
    """All points for one share of followers.

    beside   birds a year that another strategy shuts out less the own one, at the minutes of the own one; None where
      no setting of that strategy reaches these minutes
    """

    follow_light: float
    points: tuple[TradeOffPoint, ...]
    beside: tuple[tuple[Strategy, Difference | None], ...] = ()

    @property
    def yours(self) -> TradeOffPoint | None:
        """The configuration's own point."""
        return next((point for point in self.points if point.yours), None)


def comparison_finding(panels: Sequence[TradeOff]) -> str:
    """What the configuration's own setting costs, over all shares of followers; empty where no panel holds it."""
    own = [panel.yours for panel in panels if panel.yours]
    if not own:
        return ""
    birds, minutes = (_reach([p.birds for p in own]), _reach([p.open_min for p in own]))
    plural = "" if birds == "1" else "s"
    return f"Yours shuts out {birds} bird{plural} a year and stands open {minutes} min after the last bird"


def _reach(values: Sequence[float]) -> str:
    low, high = (f"{number(end)}" for end in (min(values), max(values)))
    return low if low == high else f"{low} to {high}"


def habit_words(follow: float) -> str:
    """A share of followers as a heading."""
    return f"{100 * follow:.3g} % of the birds' habit follows the light"


def trade_off_chart(panels: Sequence[TradeOff], site_name: str, words: str, ident: str = "tradeoff") -> Drawing:
    """The picture; `words` says under it what it rests on, and a `site_name` of none is left out.

    Points at or below half a bird stand on the lower edge.
    """
    of = f"{one_line(site_name, 40)}: birds" if site_name else "Birds"
    name = f"{of} shut out against minutes open"
    found = comparison_finding(panels)
    drawing = Drawing(WIDTH, 0.0, ". ".join(part for part in (name, found) if part), _described(panels), ident)
    y = drawing.heading(name, [found] if found else [])
    every = [point for panel in panels for point in panel.points]
    minutes = [p.open_min for p in every if p.open_min > _LEAST_MIN]
    across = Scale(min(minutes, default=1.0) / 1.5, max(minutes, default=10.0) * 1.5, LEFT, WIDTH - MARGIN, True)
    most = max(max((p.birds_high if p.yours else p.birds for p in every), default=1.0) * 1.5, 10 * LEAST_BIRDS)
    for panel in panels:
        y = _panel(drawing, panel, across, most, y + 30.0)
    drawing.height = _foot(drawing, panels, words, y + 30.0)
    return drawing


def _panel(drawing: Drawing, panel: TradeOff, across: Scale, most: float, y: float) -> float:
    """One share of followers from its heading down to its differences; returns the y below it."""
    y = drawing.lines(y, habit_words(panel.follow_light), font_weight="600")
    if panel.yours:
        birds, minutes = number(panel.yours.birds), number(panel.yours.open_min)
        y = drawing.lines(y, f"Yours, {panel.yours.label}: {birds} birds out, {minutes} min open")
    top = y + 24.0
    frame = Frame(drawing, across, Scale(LEAST_BIRDS, most, top + PLOT_HEIGHT, top, True))
    _axes(frame)
    curves = {strategy: _curve_points(panel.points, strategy) for strategy in LOOKS}
    labels = Labels(frame.inside)
    for points in curves.values():
        frame.keep_line(labels, [p.open_min for p in points], [_shown(p.birds) for p in points], 5.0)
    for strategy, points in curves.items():
        _curve(frame, strategy, points, any(p.yours for p in panel.points if p.strategy == strategy))
    _ring(frame, labels, panel)
    for strategy, points in curves.items():
        for point in points[:: max(len(points) - 1, 1)]:
            if not point.yours:
                _named(frame, labels, point, point.label.split(",")[0].split(" within")[0], LOOKS[strategy].role)
    return _differences(drawing, panel, top + PLOT_HEIGHT + 62.0)


def _axes(frame: Frame) -> None:
    steps = [10.0**power * digit for power in range(-2, 4) for digit in (1, 2, 5)]
    ticks = [(value, f"{value:g}") for value in steps if frame.x.low <= value <= frame.x.high]
    decades = [10.0**power * digit for power in range(-1, 6) for digit in (1, 3)]
    levels = [(value, f"{value:g}") for value in decades if LEAST_BIRDS <= value <= frame.y.high]
    frame.axes(ticks, levels, "minutes open after the last bird", "birds out a year")


def _shown(birds: float) -> float:
    return max(birds, LEAST_BIRDS)


def _curve_points(points: Points, strategy: Strategy) -> list[TradeOffPoint]:
    inside = [p for p in points if p.strategy == strategy and p.on_curve and p.open_min > _LEAST_MIN]
    return sorted(inside, key=lambda p: p.open_min)


def _curve(frame: Frame, strategy: Strategy, points: Points, own: bool) -> None:
    """A strategy's line and marks; of the own one also what the middle years come to."""
    if not points:
        return
    look, minutes = LOOKS[strategy], [p.open_min for p in points]
    if own:
        lows, highs = (
            [_shown(b) for b in ends] for ends in zip(*((p.birds_low, p.birds_high) for p in points), strict=True)
        )
        frame.spread(minutes, lows, highs, fill=look.role, fill_opacity=0.12)
    frame.line(minutes, [_shown(p.birds) for p in points], look.role, stroke_dasharray=look.dash)
    with frame.drawing.group(class_=f"points-{strategy}"):
        for point in points:
            look.mark(frame.drawing, frame.x.at(point.open_min), frame.y.at(_shown(point.birds)))


def _ring(frame: Frame, labels: Labels, panel: TradeOff) -> None:
    point = panel.yours
    if point is None or point.open_min <= _LEAST_MIN:
        return
    at = {"cx": frame.x.at(point.open_min), "cy": frame.y.at(_shown(point.birds))}
    labels.keep(Box(at["cx"] - 9, at["cy"] - 9, at["cx"] + 9, at["cy"] + 9))
    frame.drawing.add("circle", fill="none", stroke="ink", stroke_width=2, r=8, class_="yours", **at)
    if not point.on_curve:
        LOOKS[point.strategy].mark(frame.drawing, at["cx"], at["cy"])
    _named(frame, labels, point, "yours", "ink")


def _named(frame: Frame, labels: Labels, point: TradeOffPoint, words: str, role: str) -> None:
    """A point's words beside it, or further off with a line to it where others are in the way."""
    x, y = frame.x.at(point.open_min), frame.y.at(_shown(point.birds))
    for away in (14.0, 24.0, 40.0, 60.0, 85.0, 115.0):
        places = list(_around(x, y, away))
        place = labels.place(words, TEXT, places)
        if place:
            if away > 14.0:
                end = {"start": place.x - 2, "end": place.x + 2, "middle": place.x}[place.anchor]
                below = 3.0 if place.y < y else -TEXT * 0.8
                middle = place.y + (below if place.anchor == "middle" else -0.3 * TEXT)
                frame.drawing.line(x, y, end, middle, stroke="quiet", stroke_width=0.9)
            look: dict[str, Attribute] = {"text_anchor": place.anchor, "font_size": TEXT, **HALO}
            if words == "yours":
                look["font_weight"] = "700"
            frame.drawing.text(place.x, place.y, words, fill=role, class_="name", **look)
            return


def _around(x: float, y: float, away: float) -> Iterator[Place]:
    level = y + 0.36 * TEXT
    for across, down in ((1.0, 0.0), (-1.0, 0.0), (0.75, -0.75), (-0.75, 0.75), (0.75, 0.75), (-0.75, -0.75)):
        yield Place(x + across * away, level + down * away, "start" if across > 0 else "end")
    yield Place(x, y - away + 2.0, "middle")
    yield Place(x, y + away + 0.5 * TEXT, "middle")


def _differences(drawing: Drawing, panel: TradeOff, y: float) -> float:
    """What the other strategies shut out at the own minutes, less what the own one does; returns the y below."""
    if not panel.beside:
        return y
    y = drawing.lines(y, "At your minutes, birds a year against yours:", fill="quiet")
    known = [one for _, one in panel.beside if one is not None]
    if known:
        ends = [one.mean + way * TELLING_ERRORS * one.error for one in known for way in (-1, 1)]
        low, high = min(0.0, *ends), max(0.0, *ends)
        room = 0.06 * (high - low or 1.0)
        scale = Scale(low - room, high + room, WIDTH - MARGIN - _DIFFERENCE_WIDTH, WIDTH - MARGIN)
        zero = scale.at(0.0)
        drawing.line(zero, y - 16.0, zero, y + 22.0 * len(panel.beside) - 10.0, stroke="ink", class_="zero")
    for strategy, one in panel.beside:
        look = LOOKS[strategy]
        look.mark(drawing, MARGIN + 6.0, y - 5.0, 4.2)
        words = difference_words(one)
        drawing.text(MARGIN + 18.0, y, f"{IN_WORDS[strategy]}: {words}", font_size=TEXT)
        if one is not None:
            reach = TELLING_ERRORS * one.error
            drawing.line(
                scale.at(one.mean - reach),
                y - 5.0,
                scale.at(one.mean + reach),
                y - 5.0,
                stroke=look.role,
                stroke_width=2,
            )
            with drawing.group(class_=f"beside-{strategy}"):
                look.mark(drawing, scale.at(one.mean), y - 5.0, 4.6)
        y += 22.0
    if known:
        drawing.text(min(zero, WIDTH - MARGIN - 20.0), y, "yours", font_size=TEXT, text_anchor="middle", fill="quiet")
    return y


def difference_words(one: Difference | None) -> str:
    """A difference of birds in words."""
    if one is None:
        return "not reached"
    if not one.significant:
        return tally.CANNOT_TELL
    return f"{number(abs(one.mean))} {'more' if one.mean > 0 else 'fewer'}"


def _foot(drawing: Drawing, panels: Sequence[TradeOff], words: str, y: float) -> float:
    """The legend, and what the picture rests on."""
    points = [p for panel in panels for p in panel.points]
    used = {p.strategy for p in points}
    entries: list[Entry] = [
        (partial(look.sample, drawing), IN_WORDS[strategy]) for strategy, look in LOOKS.items() if strategy in used
    ]
    y = drawing.key(entries, y)
    notes = ["Ringed: yours. Shaded: yours in the middle 80 % of the years."]
    if any(p.birds < LEAST_BIRDS for p in points):
        notes.append("On the lower edge: less than half a bird a year.")
    if any(panel.beside for panel in panels):
        notes.append("Lines beside a difference: its 95 % limits.")
    for note in (*notes, *words.split("\n")):
        y = drawing.lines(y, note, fill="quiet")
    return y


def _described(panels: Sequence[TradeOff]) -> str:
    parts = []
    for panel in panels:
        if panel.yours is None:
            continue
        said = (
            f"With {100 * panel.follow_light:.3g} % of the habit following the light, yours ({panel.yours.label}) "
            f"shuts out {panel.yours.birds:.1f} birds a year at {panel.yours.open_min:.1f} minutes"
        )
        others = [f"{IN_WORDS[strategy]}: {difference_words(one)}" for strategy, one in panel.beside]
        parts.append(f"{said}{'; at these minutes ' if others else ''}{', '.join(others)}.")
    return " ".join(parts)


def trade_offs(work: Comparison) -> list[TradeOff]:
    """The points of every setting, a panel for each share of followers."""
    panels = []
    for number_of, follow in enumerate(work.follow_light):
        points = []
        for row, setting in enumerate(work.settings):
            if setting.role == "device":
                continue
            birds = work.estimate(number_of, row, "birds_out")
            minutes = work.estimate(number_of, row, "open_after_dark_min").mean
            mine, curve = row == work.chosen.own_row, setting.on_curve
            points.append(
                TradeOffPoint(setting.strategy, setting.label, minutes, birds.mean, birds.low, birds.high, mine, curve)
            )
        panels.append(TradeOff(follow, tuple(points), _beside(work, number_of)))
    return panels


def _beside(work: Comparison, follow: int) -> tuple[tuple[Strategy, Difference | None], ...]:
    own = work.chosen.own_row
    minutes = work.estimate(follow, own, "open_after_dark_min").mean
    found = tally.matched(work.sums, work.settings, follow, minutes, own=own)
    mine = found[work.chosen.own_strategy]
    pairs: list[tuple[Strategy, Difference | None]] = []
    for strategy, other in found.items():
        if strategy != work.chosen.own_strategy:
            reached = None if mine is None or other is None else (other, mine)
            pairs.append((strategy, tally.matched_difference(work.sums, follow, *reached) if reached else None))
    return tuple(pairs)


def check_birds(configuration: Configuration) -> None:
    """Raise UsageError unless the flock has birds to draw."""
    if not configuration.flock.birds:
        raise UsageError("--chart: [flock] has no birds to draw; wanted birds = 1 or more")


def chart_of(work: Comparison, ending: str) -> bytes:
    """The picture as `.svg` or `.png`; raises UsageError for a flock of none."""
    check_birds(work.configuration)
    words = f"{work.year}, {work.sums.n_years} weather years, seed {work.seed}.\n{NOTE}"
    drawing = trade_off_chart(trade_offs(work), work.configuration.site.name, words)
    origin = f"GENERATED by sunsched {__version__} with tzdata {work.plan.tzdata}: sunsched compare --chart"
    return picture(drawing, ending, origin)
