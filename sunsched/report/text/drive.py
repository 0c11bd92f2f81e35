"""The drive's sums in plain text for a terminal."""

from __future__ import annotations

from dataclasses import asdict

from sunsched.hardware.drive_sums import DriveSums
from sunsched.hardware.figures import number, reach
from sunsched.report.text.plain import (
    ask_first_text,
    assumptions_text,
    cautions_text,
    columns,
    figures_text,
    verdicts_text,
)


def drive_text(sums: DriveSums) -> str:
    """Everything about the drive as plain text: verdicts first, then figures, constants, assumptions, cautions."""
    parts = (
        verdicts_text(sums.verdicts) + ask_first_text(sums.verdicts, sums.assumptions),
        figures_text(sums.figures),
        _constants_text(sums),
        assumptions_text(sums.assumptions),
        cautions_text(sums.cautions),
    )
    return "\n".join(parts)


def _constants_text(sums: DriveSums) -> str:
    if sums.constants is None:
        return f"CONSTANTS FOR THE PROGRAM: none. {sums.constants_refused}\n"
    rows = [("CONSTANTS FOR THE PROGRAM", "", "has to cover", "range")]
    for key, value in asdict(sums.constants).items():
        span = sums.constant_spans.get(key)
        covers = ("", "") if span is None else (number(span.value), reach(span))
        rows.append((f"  {key}", f"{value:g}", *covers))
    return columns(rows, frozenset({1, 2, 3}))
