"""The `cell` report as plain text."""

from __future__ import annotations

from sunsched.base import cautions
from sunsched.hardware.figures import number
from sunsched.job.cell import CellReport, MonthMoment
from sunsched.report.text.advised import advised_block, next_words, open_block
from sunsched.report.text.answer import Answer, Block, told
from sunsched.report.text.plain import cautions_text, columns, wrapped


def cell_answer(report: CellReport) -> Answer:
    """The cell in three lines."""
    cell, count = report.cell, len(report.warnings)
    warned = "no complaint" if not count else f"{count} complaint{'' if count == 1 else 's'}"
    if report.thresholds:
        dark, light = (report.thresholds[key] for key in ("dark_lux", "light_lux"))
        answer = f"Dark is {dark.counts} counts ({cell.dark_lux:g} lux), light {light.counts} "
        answer += f"({cell.light_lux:g} lux): {warned}."
        hangs_on = (
            f"Other such cells read {dark.counts_low} to {dark.counts_high} at dark_lux: calibrate yours in its place."
        )
    else:
        answer = f"Dark is {cell.dark_lux:g} lux, light {cell.light_lux:g} lux, by a digital sensor: {warned}."
        hangs_on = f"It hangs on what the sensor sees of the sky: sky_view {cell.sky_view:g}, measured or guessed."
    return Answer(answer, hangs_on, next_words(report.advice))


def cell_text(report: CellReport, every: bool = False) -> str:
    """The answer, the advised set, the thresholds; with `every` resistors, sensors and the year's moments."""
    blocks = [
        advised_block(report.advice, {"light_cell": report.cell}),
        open_block(report.warnings, (), every),
    ]
    if report.thresholds:
        blocks += [Block(_thresholds_text(report)), Block(_resistors_text(report), "resistors")]
    blocks += [
        Block(_sensors_text(report), "digital sensors"),
        Block(_months_text(report), "what it reads at the year's moments"),
        Block(cautions_text(cautions.CELL)),
    ]
    return told(cell_answer(report), blocks, every)


def _thresholds_text(report: CellReport) -> str:
    spread = report.cell.spread
    rows = [("THRESHOLDS", "lux", "counts", "such cells read", "this count means, lux", "counts per e-fold")]
    for key, found in report.thresholds.items():
        rows.append(
            (
                f"  {key}",
                number(found.illuminance_lux),
                str(found.counts),
                f"{found.counts_low} .. {found.counts_high}",
                f"{number(found.lux_low)} .. {number(found.lux_high)}",
                number(found.counts_per_efold),
            )
        )
    note = f"The ranges are a tolerance of a factor {spread:g} in lux either way. Rounding to a count hardly matters."
    return columns(rows, frozenset({1, 2, 3, 4, 5})) + wrapped(note, "  ") + "\n"


def _resistors_text(report: CellReport) -> str:
    rows = [("FIXED RESISTOR", "exact, ohm", "nearest E12", "counts", "per e-fold", "ADC sees, ohm")]
    for choice in report.resistors:
        rows.append(
            (
                f"  {choice.name}",
                f"{choice.exact_ohm:.0f}",
                str(choice.ohm),
                str(choice.counts),
                number(choice.counts_per_efold),
                f"{choice.source_ohm:.0f}",
            )
        )
    return columns(rows, frozenset({1, 2, 3, 4, 5}))


def _sensors_text(report: CellReport) -> str:
    cell = report.cell
    at_dark, at_light = f"counts at {cell.dark_lux:g} lux", f"at {cell.light_lux:g} lux"
    rows = [("DIGITAL SENSORS", at_dark, at_light, "full at, lux", "figures")]
    for row in report.sensors:
        low, high = row["counts_low"], row["counts_high"]
        spans = ["" if low is None else f" ({low[k]}..{high[k]})" for k in range(2)]
        counts = [f"{row['counts'][k]}{spans[k]}" for k in range(2)]
        rows.append((f"  {row['part']}", *counts, number(row["full_scale_lux"]), row["how_read"]))
    return columns(rows, frozenset({1, 2, 3}))


def _months_text(report: CellReport) -> str:
    divided = report.cell.kind == "photoresistor"
    head = ("THE YEAR'S MOMENTS", "planned", "Sun, deg", "clear, lux", "dull, lux")
    tail = ("clear, counts", "dull, counts") if divided else ()
    rows = [(*head, *tail, "dull moves by, min")]
    rows += [_month_row(month, divided) for month in report.months]
    note = (
        "Light at the cell in the middle of each month. Dull: dark stratus, a tenth of the clear light (USNO Circular"
        " 171). The last column is what a cell alone would do then: close earlier, open later."
    )
    return columns(rows, frozenset(range(1, len(rows[0])))) + wrapped(note, "  ") + "\n"


def _month_row(month: MonthMoment, divided: bool) -> tuple[str, ...]:
    clear = "" if month.clear_lux is None else number(month.clear_lux)
    dull = "" if month.dull_lux is None else number(month.dull_lux)
    counts = tuple("" if found is None else str(found) for found in (month.clear_counts, month.dull_counts))
    return (
        f"  {month.date} {month.side}",
        month.planned_civil or "down",
        "" if month.altitude_deg is None else f"{month.altitude_deg:.1f}",
        clear,
        dull,
        *(counts if divided else ()),
        "never" if month.dull_shift_min is None else number(month.dull_shift_min),
    )
