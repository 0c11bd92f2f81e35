"""All of the drive's figures and verdicts for one door, spool and motor, with the spread of their inputs, in words."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import asdict, dataclass
from typing import Any

from sunsched.base import cautions
from sunsched.base.errors import RangeError
from sunsched.base.rounding import printed_values
from sunsched.hardware import drive
from sunsched.hardware.drive import drive_spans, results_of
from sunsched.hardware.figures import Assumption, Figure, Inputs, Span, Verdict, ask_first, propagated, verdict
from sunsched.hardware.parts import Door, Motor, Spool

ADVISED = "as sunsched drive advises"  # one set of values for all of them: hardware/drive_advice.py
SPEED = "pi D n duty / 60, D to the cord's centre, n with the supply"
TIME = "travel / speed: kinematics"
# group, name, label, unit, formula and source
ROWS: tuple[tuple[str, str, str, str, str], ...] = (
    ("travel", "up_fast_mm_s", "raising speed, highest supply", "mm/s", SPEED),
    ("travel", "up_rated_mm_s", "raising speed, rated voltage", "mm/s", SPEED),
    ("travel", "up_cold_mm_s", "raising speed, lowest supply and cold", "mm/s", SPEED),
    ("travel", "down_fast_mm_s", "lowering speed, highest supply", "mm/s", SPEED),
    ("travel", "down_rated_mm_s", "lowering speed, rated voltage", "mm/s", SPEED),
    ("travel", "down_cold_mm_s", "lowering speed, lowest supply and cold", "mm/s", SPEED),
    ("travel", "up_fast_s", "raising, highest supply", "s", TIME),
    ("travel", "up_rated_s", "raising, rated voltage", "s", TIME),
    ("travel", "up_slow_s", "raising, lowest supply", "s", TIME),
    ("travel", "up_cold_s", "raising, lowest supply and cold", "s", TIME),
    ("travel", "down_fast_s", "lowering, highest supply", "s", TIME),
    ("travel", "down_rated_s", "lowering, rated voltage", "s", TIME),
    ("travel", "down_slow_s", "lowering, lowest supply", "s", TIME),
    ("travel", "down_cold_s", "lowering, lowest supply and cold", "s", TIME),
    ("cut-off", "cutoff_up_asked_s", "raising cut-off to set", "s", "time at lowest supply x 1.5: common practice"),
    ("cut-off", "cutoff_down_asked_s", "lowering cut-off to set", "s", "time at lowest supply x 1.5: common practice"),
    ("cut-off", "overrun_mm", "cord paid out if the lower switch never makes", "mm", "v (cut-off - time), high supply"),
    ("cut-off", "turns_asked", "turns to leave on the spool", "turns", "over-run / (pi D) + 3 dead turns: hoist rule"),
    ("cut-off", "take_in_s", "raising all cord that may be out, lowest supply", "s", "(travel + over-run) / speed"),
    ("cut-off", "stall_s", "stall if the upper switch never makes", "s", "cut-off - time, highest supply"),
    ("cord", "tension_n", "cord tension, plate hanging", "N", "m g"),
    ("cord", "snatch_n", "snatch when slack is taken up", "N", "x 2: load applied at once"),
    ("cord", "cord_breaking_asked_n", "breaking strength to ask", "N", "m g x 2 x 5: common practice"),
    ("force", "torque_asked_nm", "torque to raise the plate", "N m", "(m g + friction) D / 2"),
    ("force", "torque_motor_nm", "torque of the motor, lowest supply", "N m", "(V - I R) I x efficiency / w: estimate"),
    ("force", "weight_over_friction", "plate's weight over guide friction", "", "m g / friction"),
    ("force", "lifted_by_n", "push from below that lifts the plate", "N", "m g + friction"),
    ("bird", "bird_force_n", "most force on a bird in the doorway", "N", "m g - friction: a cord cannot push"),
    ("bird", "bird_energy_mj", "energy of the plate being lowered", "mJ", "m v^2 / 2"),
    ("bird", "fall_m_s", "speed if the cord lets go at the top", "m/s", "sqrt(2 g h)"),
    ("bird", "fall_energy_j", "energy if the cord lets go at the top", "J", "m g h"),
    ("current", "stall_a", "stall current, highest supply", "A", "V / R"),
    ("current", "reversal_a", "current if reversed at once while running", "A", "(V + Ke w) / R, Ke w = V - I R"),
    ("current", "reversal_most_a", "the same, motor running free", "A", "2 V / R"),
    ("current", "fuse_least_a", "fuse, at least", "A", "1.5 x running current: common practice"),
    ("energy", "up_mwh", "energy to raise", "mWh", "V I t"),
    ("energy", "down_mwh", "energy to lower", "mWh", "V I t"),
    ("energy", "moves_mah_per_day", "charge for one raising and one lowering", "mAh/day", "sum of V I t / V"),
)


def drive_figures(results: Mapping[str, Span]) -> tuple[Figure, ...]:
    """The results in reading order with their names and formulas."""
    return tuple(Figure(group, name, label, results[name], unit, how) for group, name, label, unit, how in ROWS)


Margin = Callable[[Inputs], float]


def _margin(more: str, than: str, factor: str | None = None) -> Margin:
    """`more` less `than` (times `factor`), each an input or a result by name."""

    def margin(x: Inputs) -> float:
        every = {**x, **results_of(x)}
        return float(every[more] - every[than] * (every[factor] if factor else 1.0))

    return margin


_MARGINS: Mapping[str, Margin] = {
    "raising cut-off": _margin("motor.cutoff_up_s", "up_cold_s"),
    "lowering cut-off": _margin("motor.cutoff_down_s", "down_cold_s"),
    "turns on the spool": _margin("spool.turns_left_when_down", "turns_asked"),
    "slack taken in": _margin("motor.cutoff_up_s", "take_in_s"),
    "torque": _margin("torque_motor_nm", "torque_asked_nm"),
    "falls by itself": _margin("weight_over_friction", "friction_factor"),
}


def margins_of(door: Door, spool: Spool, motor: Motor) -> dict[str, Margin]:
    """The margin of each verdict that these parts have: 0 or more holds."""
    margins = dict(_MARGINS)
    if spool.cord_breaking_n is not None:
        margins["cord"] = _margin("spool.cord_breaking_n", "cord_breaking_asked_n")
    if door.push_from_below_n is not None:
        push_n = door.push_from_below_n
        margins["lifted from below"] = lambda x: float(results_of(x)["lifted_by_n"]) - push_n
    fuse_a = fuse_of(motor)
    if fuse_a is not None:
        margins["fuse holds"] = lambda x: fuse_a - float(results_of(x)["fuse_least_a"])
        margins["fuse opens at stall"] = lambda x: float(results_of(x)["stall_least_a"]) - drive.OPENS_AT * fuse_a
        if motor.cable_a is not None:
            cable_a = motor.cable_a
            margins["fuse guards the cable"] = lambda x: cable_a - fuse_a
    return margins


def fuse_of(motor: Motor) -> float | None:
    """The fuse as given, or the smallest preferred rating for the running current [A]; None above 10 A."""
    return motor.fuse_a or drive.fuse_for(drive.FUSE_FACTOR * motor.run_a)


def drive_verdicts(
    door: Door, spool: Spool, motor: Motor, spans: Mapping[str, Span], results: Mapping[str, Span]
) -> tuple[Verdict, ...]:
    """What fails and what would work; a danger whose input is missing is left out."""
    value = {name: span.value for name, span in results.items()}
    margins = margins_of(door, spool, motor)
    judged = [*_cutoff_verdicts(spool, motor, spans, results, margins), *_force_verdicts(spans, value, margins)]
    if spool.cord_breaking_n is not None:
        judged.append(_cord_verdict(spool.cord_breaking_n, spans, value, margins))
    if door.push_from_below_n is not None:
        judged.append(_push_verdict(door.push_from_below_n, spans, value, margins))
    return (*judged, *_fuse_verdicts(motor, spans, value, margins))


def _cutoff_verdicts(
    spool: Spool, motor: Motor, spans: Mapping[str, Span], results: Mapping[str, Span], margins: Mapping[str, Margin]
) -> list[Verdict]:
    value = {name: span.value for name, span in results.items()}
    up, down, turns = motor.cutoff_up_s, motor.cutoff_down_s, spool.turns_left_when_down
    return [
        verdict(
            "raising cut-off",
            margins["raising cut-off"],
            spans,
            f"{up} s outlast a cold raising on a tired battery, {value['up_cold_s']:.1f} s.",
            f"{up} s may end a raising that takes {value['up_cold_s']:.1f} s cold and on a tired battery: birds stay "
            "shut in.",
            f"Raise motor.cutoff_up_s, {ADVISED}, and time one move on a frosty morning.",
        ),
        verdict(
            "lowering cut-off",
            margins["lowering cut-off"],
            spans,
            f"{down} s outlast a cold lowering on a tired battery, {value['down_cold_s']:.1f} s.",
            f"{down} s may end a lowering that takes {value['down_cold_s']:.1f} s cold and on a tired battery: a gap "
            "stays open all night.",
            f"Raise motor.cutoff_down_s and the turns on the spool together, {ADVISED}.",
        ),
        verdict(
            "turns on the spool",
            margins["turns on the spool"],
            spans,
            f"{turns:g} turns cover the over-run and three dead turns, {value['turns_asked']:.1f}.",
            f"{turns:g} turns are left and {value['turns_asked']:.1f} are asked: if the lower switch never makes, the "
            "cord runs out, the spool winds it on backwards and RAISES the door.",
            f"Wind on more cord, {ADVISED}.",
        ),
        verdict(
            "slack taken in",
            margins["slack taken in"],
            spans,
            f"{up} s of raising take in all cord that may be out, {value['take_in_s']:.1f} s.",
            f"after an over-run the cord takes {value['take_in_s']:.1f} s to come in, the raising cut-off is {up} s: "
            "the door stays down or half way.",
            f"Raise motor.cutoff_up_s, {ADVISED}.",
        ),
    ]


def _force_verdicts(
    spans: Mapping[str, Span], value: Mapping[str, float], margins: Mapping[str, Margin]
) -> list[Verdict]:
    return [
        verdict(
            "torque",
            margins["torque"],
            spans,
            f"the motor gives about {value['torque_motor_nm']:.2f} N m and {value['torque_asked_nm']:.2f} are asked.",
            f"{value['torque_asked_nm']:.2f} N m are asked and the motor's running current gives about "
            f"{value['torque_motor_nm']:.2f}: it may stall.",
            f"Use a thinner spool or a slower gear, {ADVISED}, and look up the maker's torque.",
        ),
        verdict(
            "falls by itself",
            margins["falls by itself"],
            spans,
            f"the plate weighs {value['weight_over_friction']:.1f} times the guides' friction.",
            f"the plate weighs {value['weight_over_friction']:.1f} times the guides' friction, twice is asked: it may "
            "hang, the cord goes slack and tangles on the spool.",
            f"Add weight, {ADVISED}, or ease the guides; stop lowering when nothing moves.",
        ),
    ]


def _cord_verdict(
    breaking_n: float, spans: Mapping[str, Span], value: Mapping[str, float], margins: Mapping[str, Margin]
) -> Verdict:
    asked_n = value["cord_breaking_asked_n"]
    return verdict(
        "cord",
        margins["cord"],
        spans,
        f"{breaking_n:.0f} N of breaking strength cover the {asked_n:.0f} N asked.",
        f"{breaking_n:.0f} N of breaking strength and {asked_n:.0f} N are asked: a cord that lets go drops the plate "
        f"at {value['fall_m_s']:.1f} m/s.",
        "Fit a stronger cord; knots halve its strength (common practice).",
    )


def _push_verdict(
    push_n: float, spans: Mapping[str, Span], value: Mapping[str, float], margins: Mapping[str, Margin]
) -> Verdict:
    return verdict(
        "lifted from below",
        margins["lifted from below"],
        spans,
        f"a push of {push_n:.0f} N from below does not lift the plate; {value['lifted_by_n']:.0f} N would.",
        f"a push of {push_n:.0f} N from below may lift the plate, {value['lifted_by_n']:.0f} N do.",
        "Add weight, or let the plate drop behind a sill or a catch.",
    )


def _fuse_verdicts(
    motor: Motor, spans: Mapping[str, Span], value: Mapping[str, float], margins: Mapping[str, Margin]
) -> list[Verdict]:
    fuse_a = fuse_of(motor)
    if fuse_a is None:
        return []
    word = f"a time-lag fuse of {fuse_a:g} A"
    judged = [
        verdict(
            "fuse holds",
            margins["fuse holds"],
            spans,
            f"{word} carries the running current with half as much to spare.",
            f"{word} may open in a normal move: {value['fuse_least_a']:.2f} A are asked.",
            "Measure the running current.",
        ),
        verdict(
            "fuse opens at stall",
            margins["fuse opens at stall"],
            spans,
            f"{word} opens within some seconds at the stall current of {value['stall_least_a']:.1f} A.",
            f"{word} may carry the stall current of {value['stall_least_a']:.1f} A for a long time: only the cut-off "
            "protects motor and driver.",
            "Measure the winding; no cut-off longer than it has to be.",
        ),
    ]
    if motor.cable_a is not None:
        cable_a = motor.cable_a
        judged.append(
            verdict(
                "fuse guards the cable",
                margins["fuse guards the cable"],
                spans,
                f"{word} is within the cable's {cable_a:g} A.",
                f"{word} is above the cable's {cable_a:g} A: the cable may burn first.",
                "Fit a thicker cable.",
            )
        )
    return judged


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
    """Everything `drive` shows: figures, verdicts, assumptions, the constants for the program, cautions.

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
    results = propagated(results_of, spans)
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
        cautions=cautions.DRIVE,
    )
