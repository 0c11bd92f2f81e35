"""The door's drive: travel, cord, force and current, as plain sums on plain numbers, and their results with ranges.

The sums take floats or arrays alike. Lengths in mm, times in s, forces in N.
"""

from __future__ import annotations

import functools
import math
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np

from sunsched.base.errors import RangeError
from sunsched.hardware.figures import Assumption, Inputs, Number, Range, Span, exactly, spans_of
from sunsched.hardware.parts import Door, Motor, Spool

GRAVITY_M_S2 = 9.80665  # standard gravity: CGPM 1901
DEAD_TURNS = 3.0  # turns that must stay on the drum: hoist and crane practice
CUTOFF_FACTOR = 1.5  # common practice
SNATCH_FACTOR = 2.0  # load applied at once, without a fall: elementary mechanics
CORD_FACTOR = 5.0  # breaking strength over the snatch load: common practice
FRICTION_FACTOR = 2.0  # plate's weight over the guides' friction: common practice
FUSE_FACTOR = 1.5  # over the running current: common practice
OPENS_AT = 2.75  # times its rating: a time-lag fuse opens within 10 s (IEC 60127-2, from memory)
RATING_STEPS = (1.0, 1.25, 1.6, 2.0, 2.5, 3.15, 4.0, 5.0, 6.3, 8.0)  # IEC 60127, R10 series, from memory
FUSE_RATINGS_A = (*(round(step / 10.0, 4) for step in RATING_STEPS), *RATING_STEPS, 10.0)
PWM_STEPS = 255


def cord_speed_mm_s(diameter_mm: Number, rpm: Number, duty: Number = 1.0) -> Number:
    """Speed of the cord [mm/s]: pi D n duty / 60, D to the cord's centre [mm], n [turns/min]."""
    return math.pi * diameter_mm * rpm * duty / 60.0


def rpm_at(rpm: Number, rated_volts: Number, volts: Number) -> Number:
    """Turns a minute at `volts`, proportional to the supply.

    A motor's own I R makes it a few per cent slower at the low end (6 % at 9.2 of 12 V less 2.4 V);
    the makers' tolerance carried beside the result is wider.
    """
    return rpm * volts / rated_volts


def travel_s(travel_mm: Number, speed_mm_s: Number) -> Number:
    """Time for `travel_mm` at `speed_mm_s`."""
    return travel_mm / speed_mm_s


def overrun_mm(speed_mm_s: Number, cutoff_s: Number, needed_s: Number) -> Number:
    """Cord paid out after the plate is down if nothing but the cut-off ends the run [mm]."""
    return speed_mm_s * np.maximum(0.0, np.subtract(cutoff_s, needed_s))


def turns_needed(overrun: Number, diameter_mm: Number, dead_turns: float = DEAD_TURNS) -> Number:
    """Turns that must be left on the spool when the plate is down: over-run and dead turns.

    With fewer, a lower switch that never makes lets the spool wind the cord on backwards and raise the plate.
    Source: three dead turns, hoist practice.
    """
    return overrun / (math.pi * diameter_mm) + dead_turns


def weight_n(mass_kg: Number) -> Number:
    """Weight [N] of `mass_kg`."""
    return mass_kg * GRAVITY_M_S2


def cord_breaking_n(tension_n: Number, snatch: Number = SNATCH_FACTOR, factor: Number = CORD_FACTOR) -> Number:
    """Breaking strength to ask of the cord [N]: tension x snatch x factor."""
    return tension_n * snatch * factor


def spool_torque_nm(force_n: Number, diameter_mm: Number) -> Number:
    """Torque [N m] of `force_n` on the spool, D to the cord's centre [mm]."""
    return force_n * diameter_mm / 2000.0


def motor_torque_nm(volts: Number, run_a: Number, winding_ohm: Number, rpm: Number, efficiency: Number) -> Number:
    """Shaft torque [N m] at the running current: (V - I R) I x gear efficiency / angular speed.

    An estimate from the electrical side; a maker's figure is better.
    """
    shaft_w = np.maximum(0.0, volts - run_a * winding_ohm) * run_a * efficiency
    return shaft_w / (2.0 * math.pi * rpm / 60.0)


def moving_energy_j(mass_kg: Number, speed_mm_s: Number) -> Number:
    """Energy of the moving plate [J]: m v^2 / 2."""
    return mass_kg * (speed_mm_s / 1000.0) ** 2 / 2.0


def free_fall_m_s(travel_mm: Number) -> Number:
    """Speed after falling `travel_mm` without friction [m/s], as when the cord breaks."""
    return np.sqrt(2.0 * GRAVITY_M_S2 * np.divide(travel_mm, 1000.0))


def stall_a(volts: Number, winding_ohm: Number) -> Number:
    """Current with the shaft held [A]: V / R."""
    return volts / winding_ohm


def reversal_a(volts: Number, run_a: Number, winding_ohm: Number) -> Number:
    """Current when a running motor is reversed at once [A]: (V + Ke w) / R, with Ke w = V - I R, 0 at stall."""
    return (volts + np.maximum(0.0, volts - run_a * winding_ohm)) / winding_ohm


def fuse_for(least_a: float) -> float | None:
    """Smallest preferred rating [A] that is at least `least_a`; None above 10 A."""
    return next((rating for rating in FUSE_RATINGS_A if rating >= least_a - 1e-9), None)


def move_mwh(volts: Number, amperes: Number, seconds: Number) -> Number:
    """Energy of one move [mWh]: V I t."""
    return volts * amperes * seconds / 3.6


@dataclass(frozen=True)
class DriveConstants:
    """The constants of the drive for the door's program, in whole seconds and PWM steps.

    up_per_down_s   seconds of raising that take in what one second of lowering paid out
    lowering_budget_s   most seconds of lowering since the top was last made, over all attempts
    """

    cutoff_up_s: int
    cutoff_down_s: int
    nominal_up_s: int
    nominal_down_s: int
    dead_time_s: int
    lowering_duty: float
    lowering_pwm: int
    up_per_down_s: float
    lowering_budget_s: int


def cord_diameter_mm(spool: Spool) -> float:
    """Diameter of the spool to the cord's centre, first layer [mm]."""
    return spool.core_diameter_mm + spool.cord_mm


def drive_constants(door: Door, spool: Spool, motor: Motor) -> DriveConstants:
    """The constants for the program: cut-offs as set, nominal times rounded up to whole seconds.

    Raises RangeError where a cut-off ends the run before the plate has travelled at the rated voltage.
    """
    up_mm_s = cord_speed_mm_s(cord_diameter_mm(spool), motor.rpm)
    up_s = travel_s(door.travel_mm, up_mm_s)
    down_s = travel_s(door.travel_mm, up_mm_s * motor.lowering_share)
    for key, cutoff_s, needed_s in (
        ("motor.cutoff_up_s", motor.cutoff_up_s, up_s),
        ("motor.cutoff_down_s", motor.cutoff_down_s, down_s),
    ):
        if cutoff_s < needed_s:
            wanted = f"at least {needed_s:.1f} s, the travel at {motor.volts:g} V"
            raise RangeError(f"{key} is {cutoff_s}; wanted {wanted}")
    return DriveConstants(
        cutoff_up_s=motor.cutoff_up_s,
        cutoff_down_s=motor.cutoff_down_s,
        nominal_up_s=math.ceil(up_s),
        nominal_down_s=math.ceil(down_s),
        dead_time_s=motor.dead_time_s,
        lowering_duty=motor.lowering_share,
        lowering_pwm=max(1, round(motor.lowering_share * PWM_STEPS)),
        up_per_down_s=motor.lowering_share,
        lowering_budget_s=_lowering_budget_s(door, spool, motor, up_mm_s, math.ceil(down_s)),
    )


def _lowering_budget_s(door: Door, spool: Spool, motor: Motor, up_mm_s: float, nominal_down_s: int) -> int:
    """The cut-off as set; at full speed no more than a full battery takes to run all cord off the spool."""
    if motor.driver != "relays":
        return motor.cutoff_down_s
    cord_mm = door.travel_mm + spool.turns_left_when_down * math.pi * cord_diameter_mm(spool)
    fastest_mm_s = rpm_at(up_mm_s, motor.volts, motor.supply_range_volts[1])
    budget_s = min(motor.cutoff_down_s, math.floor(cord_mm / float(fastest_mm_s)))
    if budget_s < nominal_down_s + 2:
        wanted = f"cord for {nominal_down_s + 2} s of lowering at full speed: more turns, or a driver with PWM"
        raise RangeError(f"spool.turns_left_when_down is {spool.turns_left_when_down:g}; wanted {wanted}")
    return budget_s


def end_current_a(motor: Motor) -> float:
    """The supply current [A] between a motor held at its end and one that lowers: the middle of the two.

    The shunt lies in the driver's ground and sees the motor's current only while the pulse is on: both currents are
    averaged over the pulse. Elementary circuits; the running current is `lowering_a`, else run_a x lowering_duty.
    """
    share = motor.lowering_share
    running_a = motor.run_a * share if motor.lowering_a is None else motor.lowering_a
    held_a = share * share * float(stall_a(motor.volts, motor.winding_ohm))
    return (running_a + held_a) / 2.0


EXACT = (1.0, 1.0)
# Factors on the value: as the keeper measured it, and where the default stands in. Common practice.
RANGES: dict[str, Range] = {
    "door.travel_mm": Range((0.99, 1.01), (0.7, 1.5)),
    "door.plate_kg": Range((0.97, 1.03), (0.5, 2.0)),
    "door.guide_friction_n": Range((0.7, 1.5), (0.25, 3.0), "hang the plate on a spring balance: up less down, halved"),
    "spool.core_diameter_mm": Range((0.98, 1.02), (0.7, 1.5)),
    "spool.cord_mm": Range((0.9, 1.1), (0.5, 1.5)),
    "spool.turns_left_when_down": Range(EXACT, (0.5, 1.0)),
    "spool.cord_breaking_n": Range((0.8, 1.0), EXACT),
    "motor.rpm": Range((0.9, 1.1), (0.3, 2.0)),
    "motor.run_a": Range((0.8, 1.2), (0.4, 2.5)),
    "motor.winding_ohm": Range((0.9, 1.1), (0.4, 2.5)),
    "motor.lowering_duty": Range(EXACT, (0.8, 1.2)),
    "motor.lowering_a": Range((0.8, 1.2), EXACT),
    "motor.cold_speed_share": Range((0.95, 1.05), (0.75, 1.2), "stiff grease: common practice, time one cold move"),
    "motor.gear_efficiency": Range((0.9, 1.1), (0.67, 1.33), "spur gears of a small motor: common practice"),
    "motor.cutoff_up_s": Range(EXACT, EXACT),
    "motor.cutoff_down_s": Range(EXACT, EXACT),
}
MOST = {"motor.cold_speed_share": 1.0, "motor.gear_efficiency": 1.0}
# Factors of practice with the range that practice has.
PRACTICE: dict[str, Span] = {
    "snatch_factor": Span(SNATCH_FACTOR, 1.5, 3.0),
    "cord_factor": Span(CORD_FACTOR, 4.0, 6.0),
    "cutoff_factor": Span(CUTOFF_FACTOR, 1.3, 2.0),
    "friction_factor": Span(FRICTION_FACTOR, 1.5, 3.0),
}
LEAST_VOLTS_RANGE, MOST_VOLTS_RANGE = (0.95, 1.04), (0.96, 1.03)


def drive_spans(door: Door, spool: Spool, motor: Motor) -> tuple[dict[str, Span], tuple[Assumption, ...]]:
    """The drive's inputs with their ranges, and the inputs that were assumed."""
    sections = {"door": door, "spool": spool, "motor": motor}
    spans, assumptions = spans_of(sections, RANGES, MOST)
    extra: list[Assumption] = []
    for key, volts, allowed, why in zip(
        ("motor.least_volts", "motor.most_volts"),
        motor.supply_range_volts,
        (LEAST_VOLTS_RANGE, MOST_VOLTS_RANGE),
        ("a lead-acid battery near empty: common practice", "a lead-acid battery on charge: common practice"),
        strict=True,
    ):
        if getattr(motor, key.split(".")[1]) is not None:
            spans[key] = exactly(volts)
        else:
            spans[key] = Span(volts, volts * allowed[0], volts * allowed[1])
            extra.append(Assumption(key, spans[key], why))
    if motor.lowering_a is None:
        average_a = motor.run_a * motor.lowering_share
        spans["motor.lowering_a"] = Span(average_a, 0.3 * average_a, 1.5 * average_a)
        extra.append(Assumption("motor.lowering_a", spans["motor.lowering_a"], "run_a x lowering_duty: measure it"))
    if motor.driver == "relays":
        spans["motor.lowering_duty"] = exactly(motor.lowering_share)  # no PWM
    for name, span in PRACTICE.items():
        extra.append(Assumption(name, span, "common practice"))
    return {**spans, **PRACTICE, "motor.volts": exactly(motor.volts)}, (*assumptions, *extra)


def drive_results(x: Inputs) -> dict[str, Number]:
    """Every figure of the drive from plain inputs named as in `drive_spans`; floats or arrays."""
    diameter_mm = x["spool.core_diameter_mm"] + x["spool.cord_mm"]
    duty, travel_mm, volts = x["motor.lowering_duty"], x["door.travel_mm"], x["motor.volts"]
    low_v, high_v, cold = x["motor.least_volts"], x["motor.most_volts"], x["motor.cold_speed_share"]

    def up_mm_s(supply: Number) -> Number:
        return cord_speed_mm_s(diameter_mm, rpm_at(x["motor.rpm"], volts, supply))

    rated, fast, slow, coldest = up_mm_s(volts), up_mm_s(high_v), up_mm_s(low_v), up_mm_s(low_v) * cold
    results: dict[str, Number] = {}
    for word, speed in (("rated", rated), ("fast", fast), ("slow", slow), ("cold", coldest)):
        results[f"up_{word}_mm_s"], results[f"down_{word}_mm_s"] = speed, speed * duty
        results[f"up_{word}_s"] = travel_s(travel_mm, speed)
        results[f"down_{word}_s"] = travel_s(travel_mm, speed * duty)
    results |= _cutoff_results(x, results, diameter_mm)
    results |= _force_results(x, results, diameter_mm)
    results |= _current_results(x, results)
    return results


def results_of(x: Inputs) -> Mapping[str, Number]:
    """`drive_results` of single numbers, kept: verdicts and their ranges ask for the same inputs again and again."""
    return _results_at(tuple(x.items()))


@functools.lru_cache(1024)
def _results_at(x: tuple[tuple[str, float], ...]) -> Mapping[str, Number]:
    return MappingProxyType(drive_results(dict(x)))


def _cutoff_results(x: Inputs, speeds: Inputs, diameter_mm: Number) -> dict[str, Number]:
    factor, down_mm_s = x["cutoff_factor"], speeds["down_fast_mm_s"]
    overrun = overrun_mm(down_mm_s, x["motor.cutoff_down_s"], speeds["down_fast_s"])
    return {
        "cutoff_up_asked_s": speeds["up_slow_s"] * factor,
        "cutoff_down_asked_s": speeds["down_slow_s"] * factor,
        "overrun_mm": overrun,
        "overrun_turns": overrun / (np.pi * diameter_mm),
        "turns_asked": turns_needed(overrun, diameter_mm),
        "take_in_s": (x["door.travel_mm"] + overrun) / speeds["up_slow_mm_s"],
        "stall_s": np.maximum(0.0, x["motor.cutoff_up_s"] - speeds["up_fast_s"]),
    }


def _force_results(x: Inputs, speeds: Inputs, diameter_mm: Number) -> dict[str, Number]:
    weight, friction = weight_n(x["door.plate_kg"]), x["door.guide_friction_n"]
    torque_volts = x["motor.least_volts"]
    rpm = rpm_at(x["motor.rpm"], x["motor.volts"], torque_volts)
    fall_m_s = free_fall_m_s(x["door.travel_mm"])
    return {
        "tension_n": weight,
        "snatch_n": weight * x["snatch_factor"],
        "cord_breaking_asked_n": cord_breaking_n(weight, x["snatch_factor"], x["cord_factor"]),
        "torque_asked_nm": spool_torque_nm(weight + friction, diameter_mm),
        "torque_motor_nm": motor_torque_nm(
            torque_volts, x["motor.run_a"], x["motor.winding_ohm"], rpm, x["motor.gear_efficiency"]
        ),
        "weight_over_friction": weight / np.maximum(friction, 0.01),
        "lifted_by_n": weight + friction,
        "bird_force_n": np.maximum(0.0, weight - friction),
        "bird_energy_mj": 1000.0 * moving_energy_j(x["door.plate_kg"], speeds["down_rated_mm_s"]),
        "fall_m_s": fall_m_s,
        "fall_energy_j": moving_energy_j(x["door.plate_kg"], 1000.0 * fall_m_s),
    }


def _current_results(x: Inputs, speeds: Inputs) -> dict[str, Number]:
    volts, high_v, winding = x["motor.volts"], x["motor.most_volts"], x["motor.winding_ohm"]
    up_mwh = move_mwh(volts, x["motor.run_a"], speeds["up_rated_s"])
    down_mwh = move_mwh(volts, x["motor.lowering_a"], speeds["down_rated_s"])
    return {
        "stall_a": stall_a(high_v, winding),
        "stall_least_a": stall_a(x["motor.least_volts"], winding),
        "reversal_a": reversal_a(high_v, x["motor.run_a"], winding),
        "reversal_most_a": reversal_a(high_v, 0.0, winding),
        "fuse_least_a": FUSE_FACTOR * x["motor.run_a"],
        "up_mwh": up_mwh,
        "down_mwh": down_mwh,
        "moves_mah_per_day": (up_mwh + down_mwh) / volts,
    }
