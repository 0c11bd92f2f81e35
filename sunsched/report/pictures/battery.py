"""The battery's charge from one midsummer to the next, and its winter enlarged.

Two weather years of the inputs as stated, the typical and the worst; around them what the inputs' ranges allow; and
the levels that matter: full, the depth limit, flat.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from sunsched.base.civil_time import MONTHS
from sunsched.hardware.battery_sums import BatterySums
from sunsched.hardware.figures import number
from sunsched.hardware.solar_input import month_of_row
from sunsched.job.drive_and_battery import BatteryYear
from sunsched.job.files import write_all
from sunsched.report.page.html import one_line
from sunsched.report.pictures.lettering import Labels
from sunsched.report.pictures.picture_file import checked_ending, origin_of, picture
from sunsched.report.pictures.svg import MARGIN, TEXT, WIDTH, Drawing, Entry, Frame, Scale, round_steps

LEFT, YEAR_HEIGHT, WINTER_HEIGHT = 52.0, 130.0, 250.0
RANGE_SHARES = (0.05, 0.95)  # of the winters with the inputs drawn from their ranges
Floats = NDArray[np.float64]


@dataclass(frozen=True)
class _Shown:
    """Days from midsummer on, and the lines over them [Ah]: name in the drawing, words, role, dash, values."""

    days: list[float]
    months: NDArray[np.int64]
    full_ah: float
    range_low: Floats
    range_high: Floats
    lines: tuple[tuple[str, str, str, str | None, Floats], ...]


def battery_finding(sums: BatterySums) -> tuple[str, str]:
    """What the winters came to: with the inputs as stated, and with the inputs drawn from their ranges."""
    n, stated, drawn = sums.stated.n_years, sums.stated, sums.drawn
    if stated.n_flat:
        found = f"Flat in {stated.n_flat} of {n} winters: the door stops"
    elif stated.n_over_limit:
        found = f"Past its depth limit in {stated.n_over_limit} of {n} winters, never flat"
    else:
        least = number(float(stated.outcome.lowest_ah.min()))
        found = f"Holds {least} Ah or more in all of {n} winters, above its depth limit"
    if drawn.n_over_limit or drawn.n_flat:
        ranges = f"past the limit in {drawn.n_over_limit}, flat in {drawn.n_flat}"
    else:
        ranges = "above the limit in all"
    return found, f"With the inputs anywhere in their ranges: {ranges}"


def battery_chart(sums: BatterySums, site_name: str, ident: str = "battery") -> Drawing:
    """The picture of the charge held at the end of each day, the whole year above and its winter below."""
    found = battery_finding(sums)
    name = f"{one_line(site_name, 40)}: charge of the battery, Ah"
    drawing = Drawing(WIDTH, 0.0, ". ".join((name, *found)), _words(sums), ident)
    shown, n_days = _shown(sums), len(sums.limit_held_ah)
    below = drawing.lines(drawing.heading(name, found[:1]) + 10.0, found[1])
    top = below + 4.0
    most = max(shown.full_ah, float(shown.range_high.max())) * 1.06
    right = WIDTH - MARGIN
    year = Frame(drawing, Scale(0.0, n_days - 1.0, LEFT, right), Scale(0.0, most, top + YEAR_HEIGHT, top))
    first, last = _winter(shown.months)
    drawing.rect(year.x.at(first), top, year.x.at(last) - year.x.at(first), YEAR_HEIGHT, fill="none", stroke="quiet")
    _panel(year, shown, "year", 0, n_days - 1)
    top += YEAR_HEIGHT + 82.0
    drawing.text(LEFT, top - 14.0, "The winter enlarged", font_size=TEXT, font_weight="600")
    low, high = _winter_span(shown, first, last)
    winter = Frame(drawing, Scale(float(first), float(last), LEFT, right), Scale(low, high, top + WINTER_HEIGHT, top))
    unnamed = _panel(winter, shown, "winter", first, last)
    drawing.height = _legend(drawing, shown, unnamed, top + WINTER_HEIGHT + 46.0)
    return drawing


def _shown(sums: BatterySums) -> _Shown:
    start = sums.start_row
    held = np.roll(sums.stated.years.end, -start, axis=1)
    low, high = np.quantile(np.roll(sums.drawn.years.end, -start, axis=1), RANGE_SHARES, axis=0)
    full_ah, n_days = float(sums.stated.years.start[0, start]), held.shape[1]
    lines = (
        ("full", f"full, {full_ah:g} Ah", "quiet", None, np.full(n_days, full_ah)),
        ("limit", "depth limit", "third", "2 3", np.roll(sums.limit_held_ah, -start)),
        ("flat", "flat", "alarm", "10 3 2 3", np.roll(sums.flat_held_ah, -start)),
        ("typical", "typical weather", "close", None, held[sums.typical]),
        ("worst", "worst weather", "open", "7 4", held[sums.worst]),
    )
    return _Shown(np.arange(float(n_days)).tolist(), np.roll(month_of_row(n_days), -start), full_ah, low, high, lines)


def _winter(months: NDArray[np.int64]) -> tuple[int, int]:
    """First and last day of the six whole months in the middle of what begins at midsummer."""
    firsts = [k for k in range(1, len(months)) if months[k] != months[k - 1]]
    return firsts[3], firsts[9]


def _winter_span(shown: _Shown, first: int, last: int) -> tuple[float, float]:
    """From the least charge to the greatest; down to the limits where these lie near."""
    span = slice(first, last + 1)
    values = [
        shown.range_low[span],
        shown.range_high[span],
        *(line[4][span] for line in shown.lines if line[0] != "flat"),
    ]
    low, high = min(float(v.min()) for v in values), max(float(v.max()) for v in values)
    flat = float(next(line[4] for line in shown.lines if line[0] == "flat")[span].min())
    low = min(low, flat) if low - flat < 0.5 * (high - low) else low
    span_ah = high - low or 1.0
    return max(low - 0.06 * span_ah, 0.0), high + 0.1 * span_ah  # above it stands the word "full"


def _panel(frame: Frame, shown: _Shown, name: str, first: int, last: int) -> list[str]:
    """Bands, lines and axes from one day to another; returns the words of those lines that found no place."""
    span, drawing = slice(first, last + 1), frame.drawing
    days = shown.days[span]
    frame.spread(
        days,
        shown.range_low[span].tolist(),
        shown.range_high[span].tolist(),
        fill="band",
        stroke="faint",
        id=f"{drawing.ident}-{name}-range",
    )
    firsts = [k for k in range(max(first, 1), last + 1) if shown.months[k] != shown.months[k - 1]]
    every = 1 if last - first < 200 else 2
    ticks = [(float(k), MONTHS[int(shown.months[k])]) for k in firsts[::every]]
    levels = [(level, f"{level:g}") for level in round_steps(frame.y.low, frame.y.high, 4 if name == "year" else 6)]
    frame.axes(ticks, levels, "", "")
    labels, unnamed = Labels(frame.inside), []
    inside = [line for line in shown.lines if line[4][span].max() >= frame.y.low]
    for key, _, role, dash, values in inside:
        within = np.where(values[span] < frame.y.low, np.nan, values[span]).tolist()
        frame.line(days, within, role, stroke_dasharray=dash, id=f"{drawing.ident}-{name}-{key}")
        if name == "winter":  # the year's panel has no words beside its lines
            frame.keep_line(labels, days, within)
    if name == "winter":
        for key, words, role, _, values in inside:
            within = np.where(values[span] < frame.y.low, np.nan, values[span]).tolist()
            lowest = int(np.argmin(values[span])) if key in ("typical", "worst") else 0
            if not frame.name_line(labels, days, within, words, role, above=key != "worst", near=lowest):
                unnamed.append(key)
    return unnamed


def _legend(drawing: Drawing, shown: _Shown, unnamed: list[str], y: float) -> float:
    """The band, and the lines that bear no name where they run."""
    entries: list[Entry] = [
        (drawing.patch_sample("band", stroke="faint"), "nine winters in ten, the inputs anywhere in their ranges")
    ]
    for key, words, role, dash, _ in shown.lines:
        if key in unnamed:
            entries.append((drawing.stroke_sample(stroke=role, stroke_width=2.2, stroke_dasharray=dash), words))
    return drawing.key(entries, y)


def _words(sums: BatterySums) -> str:
    outcome, n_years = sums.stated.outcome, sums.stated.n_years
    typical, worst = (number(float(outcome.lowest_ah[year])) for year in (sums.typical, sums.worst))
    return (
        f"Charge held from midsummer to midsummer with the inputs as stated. In a typical weather year it falls to "
        f"{typical} Ah, in the worst of {n_years} to {worst} Ah. The depth limit is passed in "
        f"{sums.stated.n_over_limit} winters, the battery is flat in {sums.stated.n_flat}; with the inputs drawn from "
        f"their ranges in {sums.drawn.n_over_limit} and {sums.drawn.n_flat}."
    )


def write_chart(work: BatteryYear, path: Path, force: bool = False) -> Path:
    """Draw the charge held and write it as `.svg` or `.png`; a foreign file is left alone unless `force`."""
    drawing = battery_chart(work.sums, work.site_name)
    content = picture(drawing, checked_ending(path, "--chart"), origin_of("battery --chart"))
    write_all({path: content}, force)
    return path
