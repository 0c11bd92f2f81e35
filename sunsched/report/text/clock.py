"""The chip's clock in plain text for a terminal."""

from __future__ import annotations

from sunsched.base import cautions
from sunsched.hardware import clock_reach as sums
from sunsched.hardware.figures import number
from sunsched.job.clock import ClockReport, SetLine
from sunsched.report.text.answer import Answer, Block, told
from sunsched.report.text.plain import cautions_text, columns, wrapped
from sunsched.study.log_clock import offset_text


def clock_text(report: ClockReport, every: bool = False) -> str:
    """Everything about the clock as plain text."""
    parts = [Block("" if report.set_line is None else _set_text(report.set_line)), Block(_reach_text(report))]
    if report.noted is not None:
        parts.append(Block(_noted_text(report, report.noted)))
    rows = [("KINDS OF CLOCK", "worst ppm", "s a day", "set again every, days", "figure", "source")]
    for kind in report.kinds:
        days = "never" if kind.reset_days is None else str(kind.reset_days) if kind.reset_days else "not a clock"
        rows.append(
            (f"  {kind.name}", number(kind.worst_ppm), number(kind.s_per_day), days, kind.how_read, kind.source)
        )
    note = (
        "A tuning fork runs slow away from 25 C: -0.034 ppm/C^2 (from memory; a maker's datasheet has -0.035 +- 0.005)."
        " Its row holds the coldest or hottest temperature all year: a bound, not an expectation."
    )
    kinds = columns(rows, frozenset({1, 2, 3})) + wrapped(note, "  ")
    parts += [Block(kinds, "kinds of clock"), Block(cautions_text(cautions.CLOCK))]
    return told(clock_answer(report), parts, every)


def clock_answer(report: ClockReport) -> Answer:
    """The clock in three lines."""
    line = report.set_line
    then = f"To set it, send '{line.line}' at {line.civil}." if line else "Note a reading twice a year and judge it."
    if report.reach is None:
        return Answer("There is no clock: the light alone tells the time.", "So nothing drifts.", then)
    reach = report.reach
    within = f"within {report.error_min:g} min"
    days = "for good" if reach.reset_days is None else f"for {reach.reset_days} days"
    answer = f"The chip's clock keeps {within} {days} after it is set."
    if report.noted is not None:
        side = "fast" if report.noted.error_s > 0 else "slow"
        due = "set it now" if report.noted.days_left == 0 else f"set it by {report.reset_due}"
        answer = f"The clock is {number(abs(report.noted.error_s))} s {side}: {report.noted.likeness}; {due}."
    return Answer(answer, f"It hangs on {report.source}, at worst {number(reach.worst_s_per_day)} s a day wrong.", then)


def _set_text(set_line: SetLine) -> str:
    offset = offset_text(set_line.utc_offset_min)
    return (
        f"TO SET THE CHIP'S CLOCK\n  {set_line.line}\n"
        + wrapped(
            "Type this into the serial terminal (9600 baud) once the chip has said '# ready'; press Enter at "
            f"{set_line.civil} by your clock. It is the chip's own time, {offset}. Where the chip asks, "
            "send it again within 10 min.",
            "  ",
        )
        + "\n"
    )


def _reach_text(report: ClockReport) -> str:
    if report.reach is None:
        return wrapped('clock.source is "none": the light alone tells the time, nothing drifts.', "") + "\n"
    reach = report.reach
    rows = [
        ("THE CHIP'S CLOCK", ""),
        ("  error allowed", f"{number(report.error_min)} min"),
        ("  may run slow by", f"{number(-reach.slow_ppm)} ppm"),
        ("  may run fast by", f"{number(reach.fast_ppm)} ppm"),
        ("  at worst", f"{number(reach.worst_s_per_day)} s a day, {number(reach.worst_min_per_year)} min a year"),
        ("  set it again every", "never" if reach.reset_days is None else f"{reach.reset_days} days"),
        ("  for a setting a year", f"at most {number(report.yearly_ppm)} ppm"),
    ]
    if report.temperature_range_c is not None:
        low, high = report.temperature_range_c
        rows.append(("  temperature of the board", f"{low:g} to {high:g} C (assumed unless given)"))
    return columns(rows)


def _noted_text(report: ClockReport, noted: sums.NotedReading) -> str:
    side = "fast" if noted.error_s > 0 else "slow"
    rows = [
        ("THE NOTED READING", ""),
        ("  error", f"{number(abs(noted.error_s))} s {side}" if noted.error_s else "none"),
        ("  looks like", noted.likeness),
    ]
    if noted.measured_ppm is not None and noted.measured_ppm_sd is not None:
        rows.append(("  rate since it was set", f"{noted.measured_ppm:+.2f} +- {noted.measured_ppm_sd:.2f} ppm"))
    if report.reset_due is not None:
        rows.append(("  set it by", "now" if noted.days_left == 0 else report.reset_due))
    return columns(rows)
