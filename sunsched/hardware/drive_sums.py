"""All of the drive's figures and verdicts for one door, spool and motor, with the spread of their inputs."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass
from typing import Any

from sunsched.base.errors import RangeError
from sunsched.base.rounding import printed_values
from sunsched.hardware import drive
from sunsched.hardware.drive_results import drive_results, drive_spans
from sunsched.hardware.drive_words import drive_figures, drive_verdicts
from sunsched.hardware.figures import Assumption, Figure, Verdict, ask_first
from sunsched.hardware.parts import Door, Motor, Spool
from sunsched.hardware.spread import Span, propagated

CAUTIONS = (
    "These are sums, not a certificate. Local codes, the makers' data and licensed electricians prevail.",
    "EN 12453's force limits (400 N peak, 150 N after 0.75 s, 25 N after 5 s) are for persons and leave out doors "
    "mainly for keeping animals in; no published limit for birds was found, so force and energy on a bird are "
    "reported and neither passed nor failed. Keep fingers clear.",
    "Both directions must stop on time-out; reverse only after the dead time; a hand override must always work.",
    "Isolate power before clearing a jam, and support the plate first.",
    "Put the fuse at the battery's positive terminal, no greater than the thinnest cable may carry.",
)


# What each constant has to cover: the longest real time that its run may need.
COVERED_BY_CONSTANTS = {
    "cutoff_up_s": "up_cold_s",
    "cutoff_down_s": "down_cold_s",
    "nominal_up_s": "up_rated_s",
    "nominal_down_s": "down_rated_s",
    "lowering_budget_s": "down_cold_s",
}


@dataclass(frozen=True)
class DriveSums:
    """Everything `drive` tells: figures, verdicts, assumptions, the constants for the program, cautions.

    constants   None where no constants can be given; constants_refused then says why
    constant_spans   for a constant that rests on uncertain inputs: the figure it has to cover
    """

    figures: tuple[Figure, ...]
    verdicts: tuple[Verdict, ...]
    assumptions: tuple[Assumption, ...]
    constants: drive.DriveConstants | None
    constants_refused: str
    constant_spans: Mapping[str, Span]
    cautions: tuple[str, ...]

    def figure(self, name: str) -> Span:
        """The value and range of the figure called `name`."""
        return next(figure.span for figure in self.figures if figure.name == name)

    def plain(self) -> dict[str, Any]:
        """Everything as plain values, for JSON."""
        values = {
            "figures": [figure.plain() for figure in self.figures],
            "verdicts": [judged.plain() for judged in self.verdicts],
            "ask_first": list(ask_first(self.verdicts, self.assumptions)),
            "assumptions": [assumed.plain() for assumed in self.assumptions],
            "constants": None if self.constants is None else asdict(self.constants),
            "constants_refused": self.constants_refused,
            "constants_to_cover": {name: asdict(span) for name, span in self.constant_spans.items()},
            "cautions": list(self.cautions),
        }
        return dict(printed_values(values))


def drive_sums(door: Door, spool: Spool, motor: Motor) -> DriveSums:
    """Figures, verdicts and constants of a drive, each with the spread its inputs leave it."""
    spans, assumptions = drive_spans(door, spool, motor)
    results = propagated(drive_results, spans)
    constants, refused = None, ""
    try:
        constants = drive.drive_constants(door, spool, motor)
    except RangeError as error:
        refused = str(error)
    return DriveSums(
        figures=drive_figures(results),
        verdicts=drive_verdicts(door, spool, motor, spans, results),
        assumptions=assumptions,
        constants=constants,
        constants_refused=refused,
        constant_spans={name: results[result] for name, result in COVERED_BY_CONSTANTS.items()},
        cautions=CAUTIONS,
    )
