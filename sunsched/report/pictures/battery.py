"""The battery's charge from one midsummer to the next: the typical and the worst winter, and where the door stops."""

from __future__ import annotations

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
from sunsched.report.pictures.picture_file import checked_ending, origin_of, picture
from sunsched.report.pictures.svg import Drawing, Frame, Scale, polyline, round_steps

_WIDTH, _HEIGHT = 760.0, 420.0
Floats = NDArray[np.float64]


def battery_chart(sums: BatterySums, site_name: str, ident: str = "battery") -> Drawing:
    """The picture of the charge held at the end of each day, winter in the middle."""
    held, start = sums.stated.years.end, sums.start_row
    n_years, n_days = held.shape
    title = f"{one_line(site_name, 40)}: charge of the battery, {n_years} winters of model weather"
    drawing = Drawing(_WIDTH, _HEIGHT, title, _words(sums), ident)
    drawing.text(14, 26, title, font_size=16, font_weight="600")
    most = float(held.max()) or 1.0
    frame = Frame(drawing, Scale(0.0, float(n_days - 1), 62, _WIDTH - 16), Scale(0.0, most * 1.04, _HEIGHT - 112, 62))
    days = np.arange(n_days, dtype=np.float64)
    least, upper = np.quantile(np.roll(held, -start, axis=1), (0.05, 0.95), axis=0)
    edge = [*zip(days, upper, strict=True), *zip(days[::-1], least[::-1], strict=True)]
    points = [(frame.x.at(float(day)), frame.y.at(float(charge))) for day, charge in edge]
    drawing.path(polyline(points, closed=True), fill="band", stroke="faint")
    _axes(frame, start, n_days)
    for row, role, dash in ((sums.limit_held_ah, "third", "2 3"), (sums.flat_held_ah, "alarm", "10 3 2 3")):
        frame.line(days.tolist(), np.roll(row, -start).tolist(), role, stroke_dasharray=dash)
    for year, role in ((sums.typical, "close"), (sums.worst, "open")):
        frame.line(days.tolist(), np.roll(held[year], -start).tolist(), role)
    _legend(frame)
    return drawing


def _axes(frame: Frame, start: int, n_days: int) -> None:
    months = np.roll(month_of_row(n_days), -start)
    firsts = [k for k in range(n_days) if k and months[k] != months[k - 1]]
    levels = [(level, f"{level:g}") for level in round_steps(frame.y.low, frame.y.high)]
    ticks = [(float(k), MONTHS[int(months[k])]) for k in firsts]
    frame.axes(ticks, levels, "first of the month", "charge held, Ah")


def _legend(frame: Frame) -> None:
    drawing, low = frame.drawing, _HEIGHT - 40.0
    frame.legend([("close", "typical weather year"), ("open", "worst weather year")], 62, low)
    for k, (role, dash, words) in enumerate((("third", "2 3", "depth limit"), ("alarm", "10 3 2 3", "flat"))):
        at = low + 19 * k
        drawing.line(280, at - 4.5, 310, at - 4.5, stroke=role, stroke_width=2.2, stroke_dasharray=dash)
        drawing.text(317, at, words, font_size=13, class_="tick")
    drawing.rect(470, low - 11, 30, 13, fill="band", stroke="faint")
    drawing.text(507, low, "nine years in ten, day by day", font_size=13, class_="tick")


def _words(sums: BatterySums) -> str:
    outcome, n_years = sums.stated.outcome, sums.stated.n_years
    typical, worst = (number(float(outcome.lowest_ah[year])) for year in (sums.typical, sums.worst))
    return (
        f"Charge held from midsummer to midsummer with the inputs as stated. In a typical weather year it falls to "
        f"{typical} Ah, in the worst of {n_years} to {worst} Ah. The depth limit is passed in "
        f"{sums.stated.n_over_limit} winters, the battery is flat in {sums.stated.n_flat}."
    )


def write_chart(work: BatteryYear, path: Path, force: bool = False) -> Path:
    """Draw the charge held and write it as `.svg` or `.png`; a foreign file is left alone unless `force`."""
    drawing = battery_chart(work.sums, work.site_name)
    content = picture(drawing, checked_ending(path, "--chart"), origin_of("battery --chart"))
    write_all({path: content}, force)
    return path
