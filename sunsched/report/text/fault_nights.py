"""The fault nights in plain text for a terminal, and as CSV."""

from __future__ import annotations

from typing import Any

from sunsched.base import cautions
from sunsched.hardware.figures import number
from sunsched.job.fault_comparison import UNCHECKED, FaultComparison, fault_rows, program_rows
from sunsched.report.text.answer import Answer, Block, told
from sunsched.report.text.comparison import limits_text
from sunsched.report.text.comparison_answer import about
from sunsched.report.text.plain import columns, wrapped
from sunsched.study.limits_of_mean import TELLING_ERRORS
from sunsched.study.settings import IN_WORDS, STRATEGIES


def fault_answer(work: FaultComparison) -> Answer:
    """The fault nights in three lines: what hurts the keeper's own way of deciding most."""
    rows = [row for row in fault_rows(work) if row["strategy"] == work.chosen.own_strategy][1:]
    name, birds = IN_WORDS[work.chosen.own_strategy], work.configuration.flock.birds
    worst = max(rows, key=_most_out)
    open_long = max(rows, key=lambda row: (row["nights_never_shut"]["mean"], _longest_open(row)))
    never = open_long["nights_never_shut"]["mean"]
    left = f"{100 * never:.0f} % never shut" if never else f"{_longest_open(open_long):.0f} min open"
    hangs_on = f"Left open longest: {_short(open_long)}, {left}."
    if not birds:
        return Answer(f"Yours is {name}; no birds are given, so none are counted.", hangs_on, _LOOK)
    out = about(_most_out(worst))
    return Answer(f"Worst for {name}: {_short(worst)}, {out} of {birds} birds out.", hangs_on, _LOOK)


_LOOK = "Look every evening: the sheet of sunsched handover says when and at what."


def _short(row: dict[str, Any]) -> str:
    return str(row["fault"]).partition(":")[0]


def _most_out(row: dict[str, Any]) -> float:
    return max(float(case["birds_out_a_night"]["mean"]) for case in row["by_follow_light"])


def _longest_open(row: dict[str, Any]) -> float:
    return max(float(case["open_min"]["mean"]) for case in row["by_follow_light"])


def fault_text(work: FaultComparison, every: bool = False) -> str:
    """The fault nights for a terminal: the answer and the own strategy; with `every` a table for each share."""
    c = work.configuration
    text = (
        f"{c.site.name}, {work.year}: every fault on {work.n_years} weather years of evenings, seed {work.seed}. Birds "
        f"out of {c.flock.birds} a night with 95 % limits / minutes open after the last bird in; then the "
        "share of nights on which the door was never shut, where there are any."
    )
    tables = "\n".join(_table(work, follow) for follow in range(len(work.follow_light)))
    blocks = (
        Block(_own_table(work)),
        Block(wrapped(text, "") + "\n\n" + tables, "every strategy and share"),
        Block(wrapped(UNCHECKED, "")),
        Block(_program(work), "a clock set wrong, by the door's own program"),
        Block(limits_text(every)),
    )
    return told(fault_answer(work), blocks, every)


def _own_table(work: FaultComparison) -> str:
    """The keeper's own way of deciding: the worst over the shares of followers."""
    table = [("fault", f"out of {work.configuration.flock.birds}", "min open", "never shut")]
    for row in fault_rows(work):
        if row["strategy"] == work.chosen.own_strategy:
            never = row["nights_never_shut"]["mean"]
            shut = f"{100 * never:.0f} %" if never else ""
            table.append((_short(row), number(_most_out(row)), f"{_longest_open(row):.0f}", shut))
    return columns(table, frozenset({1, 2, 3}))


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
    lines.append("fault,strategy,follow_light,birds_out_a_night,error,open_min,nights_never_shut")
    for row in fault_rows(work):
        for f in row["by_follow_light"]:
            birds, minutes = f["birds_out_a_night"], f["open_min"]
            values = (birds["mean"], birds["error"], minutes["mean"], row["nights_never_shut"]["mean"])
            digits = ",".join(f"{value:.6g}" for value in values)
            lines.append(f'"{row["fault"]}",{row["strategy"]},{f["follow_light"]:g},{digits}')
    return "\n".join(lines) + "\n"
