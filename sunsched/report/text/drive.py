"""The drive's sums in plain text for a terminal."""

from __future__ import annotations

from dataclasses import asdict

from sunsched.base.model import Settings
from sunsched.base.warned import Warned
from sunsched.hardware.advice import Advice
from sunsched.hardware.drive_sums import DriveSums
from sunsched.hardware.figures import ask_first, number, reach
from sunsched.report.text.advised import advised_block, next_words, open_block
from sunsched.report.text.answer import Answer, Block, told
from sunsched.report.text.figures import assumptions_text, figures_text, measured_first, verdicts_text
from sunsched.report.text.plain import cautions_text, columns


def drive_answer(sums: DriveSums, found: tuple[Warned, ...], advice: Advice) -> Answer:
    """The drive in three lines; `found` are its warnings, the most harmful first."""
    count, fails = len(sums.verdicts), sum(one.state == "fails" for one in sums.verdicts)
    doubts = sum(one.state == "in doubt" for one in sums.verdicts)
    up, down = (number(sums.figure(name).value) for name in ("up_rated_s", "down_rated_s"))
    if not found:
        answer = f"The drive holds on all {count} points: up in {up} s, down in {down} s."
    else:
        parts = [f"FAILS on {fails}"] if fails else []
        parts += [f"is in doubt on {doubts}"] if doubts else []
        answer = f"The drive {' and '.join(parts)} of {count} points, above all: {found[0].name}."
    return Answer(answer, measured_first(ask_first(sums.verdicts, sums.assumptions)), next_words(advice))


def drive_text(
    sums: DriveSums, advice: Advice, found: tuple[Warned, ...], sections: dict[str, Settings], every: bool = False
) -> str:
    """The answer, the advised set and what is open; with `every` all verdicts, figures, constants and assumptions."""
    holding = [one.name for one in sums.verdicts if one.state == "holds"]
    blocks = (
        advised_block(advice, sections),
        open_block(found, () if every else holding, every=False),
        Block(verdicts_text(sums.verdicts), "every verdict"),
        Block(figures_text(sums.figures), "figures with formulas"),
        Block(_constants_text(sums), "constants for the program"),
        Block(assumptions_text(sums.assumptions), "what was assumed"),
        Block(cautions_text(sums.cautions)),
    )
    return told(drive_answer(sums, found, advice), blocks, every)


def _constants_text(sums: DriveSums) -> str:
    if sums.constants is None:
        return f"CONSTANTS FOR THE PROGRAM: none. {sums.constants_refused}\n"
    rows = [("CONSTANTS FOR THE PROGRAM", "", "has to cover", "range")]
    for key, value in asdict(sums.constants).items():
        span = sums.constant_spans.get(key)
        covers = ("", "") if span is None else (number(span.value), reach(span))
        rows.append((f"  {key}", f"{value:g}", *covers))
    return columns(rows, frozenset({1, 2, 3}))
