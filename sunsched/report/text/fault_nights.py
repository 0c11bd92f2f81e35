"""The fault nights in plain text for a terminal, and as CSV."""

from __future__ import annotations

from typing import Any

from sunsched.base import cautions
from sunsched.hardware.figures import number
from sunsched.job.fault_comparison import UNCHECKED, FaultComparison, fault_rows, program_rows
from sunsched.report.text.comparison import limits_text
from sunsched.report.text.plain import columns, wrapped
from sunsched.study.settings import IN_WORDS, STRATEGIES
from sunsched.study.tally import TELLING_ERRORS


def fault_text(work: FaultComparison) -> str:
    """The fault nights for a terminal: birds out and minutes open, a table for each share of followers."""
    c = work.configuration
    text = (
        f"{c.site.name}, {work.year}: every fault on {work.n_years} weather years of evenings, seed {work.seed}. Birds "
        f"out of {c.flock.birds} a night with twice the standard error / minutes open after the last bird in; then the "
        "share of nights on which the door was never shut, where there are any."
    )
    tables = [_table(work, follow) for follow in range(len(work.follow_light))]
    return "\n".join([wrapped(text, "") + "\n", *tables, wrapped(UNCHECKED, "") + "\n", _program(work), limits_text()])


def _table(work: FaultComparison, follow: int) -> str:
    rows = fault_rows(work)
    table = [("fault", *(IN_WORDS[s] for s in STRATEGIES))]
    for first in range(0, len(rows), len(STRATEGIES)):
        cells = [_cell(row, follow) for row in rows[first : first + len(STRATEGIES)]]
        table.append((rows[first]["fault"], *cells))
    return f"w = {work.follow_light[follow]:g}\n" + columns(table)


def _program(work: FaultComparison) -> str:
    rows = program_rows(work)
    if not rows:
        return ""
    table = [("clock set", *(f"w = {w:g}" for w in work.follow_light))]
    for row in rows:
        cells = []
        for figures in row["by_follow_light"]:
            birds = figures["birds_out_a_night"]
            spread = number(TELLING_ERRORS * birds["error"])
            cells.append(f"{number(birds['mean'])} +-{spread} / {figures['open_min']:.0f}")
        table.append((f"{abs(row['clock_fast_min'])} min {'fast' if row['clock_fast_min'] > 0 else 'slow'}", *cells))
    title = (
        "A CLOCK SET WRONG AND INSISTED ON, BY THE DOOR'S OWN PROGRAM WITH YOUR WINDOW: ITS FIRST EVENING, "
        f"{rows[0]['evenings']} EVENINGS OVER THE YEAR"
    )
    return wrapped(title, "") + "\n" + columns(table)


def _cell(row: dict[str, Any], follow: int) -> str:
    figures, never = row["by_follow_light"][follow], row["nights_never_shut"]["mean"]
    birds = figures["birds_out_a_night"]
    spread = number(TELLING_ERRORS * birds["error"])
    text = f"{number(birds['mean'])} +-{spread} / {figures['open_min']['mean']:.0f}"
    return text + (f", never {100 * never:.0f} %" if never > 0 else "")


def fault_csv(work: FaultComparison) -> str:
    """One row for each fault, strategy and share of followers."""
    lines = [f"# {line}" for line in (UNCHECKED, *cautions.STUDY)]
    lines.append("fault,strategy,follow_light,birds_out_a_night,standard_error,open_min,nights_never_shut")
    for row in fault_rows(work):
        for f in row["by_follow_light"]:
            birds, minutes = f["birds_out_a_night"], f["open_min"]
            values = (birds["mean"], birds["error"], minutes["mean"], row["nights_never_shut"]["mean"])
            digits = ",".join(f"{value:.6g}" for value in values)
            lines.append(f'"{row["fault"]}",{row["strategy"]},{f["follow_light"]:g},{digits}')
    return "\n".join(lines) + "\n"
