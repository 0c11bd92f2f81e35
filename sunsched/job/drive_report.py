"""The `drive` command's work: the drive's sums from a configuration, as text or plain values."""

from __future__ import annotations

from dataclasses import asdict

from sunsched.base.errors import ConfigError, Problem
from sunsched.config.configuration import Configuration
from sunsched.hardware.drive_sums import DriveSums, drive_sums
from sunsched.hardware.figures import number, reach
from sunsched.job.plain_text import (
    ask_first_text,
    assumptions_text,
    cautions_text,
    columns,
    figures_text,
    verdicts_text,
)


def drive_of(configuration: Configuration, name: str) -> DriveSums:
    """The drive's sums; `name` is the configuration's file, for errors.

    Raises ConfigError naming every section that is missing: what was built cannot be guessed.
    """
    door, spool, motor = configuration.door, configuration.spool, configuration.motor
    if door is None or spool is None or motor is None:
        sections = {"door": door, "spool": spool, "motor": motor}
        wanted = "the section with what was built (sunsched sample shows one)"
        missing = [Problem(name, f"[{key}]", "missing", wanted) for key, part in sections.items() if part is None]
        raise ConfigError(*missing)
    return drive_sums(door, spool, motor)


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
