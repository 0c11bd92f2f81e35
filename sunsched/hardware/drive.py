"""The door's drive: travel, cord, force and current, as plain sums on plain numbers.

All take floats or arrays alike. Lengths in mm, times in s, forces in N.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from sunsched.base.errors import RangeError
from sunsched.hardware.parts import Door, Motor, Spool
from sunsched.hardware.spread import Number

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

    An estimate from the electrical side; the maker's figure, where there is one, is better.
    """
    shaft_w = np.maximum(0.0, volts - run_a * winding_ohm) * run_a * efficiency
    return shaft_w / (2.0 * math.pi * rpm / 60.0)


def moving_energy_j(mass_kg: Number, speed_mm_s: Number) -> Number:
    """Energy of the moving plate [J]: m v^2 / 2."""
    return mass_kg * (speed_mm_s / 1000.0) ** 2 / 2.0


def free_fall_m_s(travel_mm: Number) -> Number:
    """Speed after falling `travel_mm` without friction [m/s]: the cord has let go."""
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
    """What the door's program is told about its drive, in whole seconds and PWM steps.

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
    """The supply current [A] that tells a motor held at its end from one that lowers: half way between the two.

    The shunt lies in the driver's ground and sees the motor's current only while the pulse is on: both currents are
    averaged over the pulse. Elementary circuits; the running current is `lowering_a`, else run_a x lowering_duty.
    """
    share = motor.lowering_share
    running_a = motor.run_a * share if motor.lowering_a is None else motor.lowering_a
    held_a = share * share * float(stall_a(motor.volts, motor.winding_ohm))
    return (running_a + held_a) / 2.0
