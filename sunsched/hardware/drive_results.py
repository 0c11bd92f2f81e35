"""The drive's inputs with their ranges, and every result of them."""

from __future__ import annotations

import numpy as np

from sunsched.hardware import drive
from sunsched.hardware.figures import Assumption, Range, spans_of
from sunsched.hardware.parts import Door, Motor, Spool
from sunsched.hardware.spread import Inputs, Number, Span, exactly

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
    "snatch_factor": Span(drive.SNATCH_FACTOR, 1.5, 3.0),
    "cord_factor": Span(drive.CORD_FACTOR, 4.0, 6.0),
    "cutoff_factor": Span(drive.CUTOFF_FACTOR, 1.3, 2.0),
    "friction_factor": Span(drive.FRICTION_FACTOR, 1.5, 3.0),
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
        return drive.cord_speed_mm_s(diameter_mm, drive.rpm_at(x["motor.rpm"], volts, supply))

    rated, fast, slow, coldest = up_mm_s(volts), up_mm_s(high_v), up_mm_s(low_v), up_mm_s(low_v) * cold
    results: dict[str, Number] = {}
    for word, speed in (("rated", rated), ("fast", fast), ("slow", slow), ("cold", coldest)):
        results[f"up_{word}_mm_s"], results[f"down_{word}_mm_s"] = speed, speed * duty
        results[f"up_{word}_s"] = drive.travel_s(travel_mm, speed)
        results[f"down_{word}_s"] = drive.travel_s(travel_mm, speed * duty)
    results |= _cutoff_results(x, results, diameter_mm)
    results |= _force_results(x, results, diameter_mm)
    results |= _current_results(x, results)
    return results


def _cutoff_results(x: Inputs, speeds: Inputs, diameter_mm: Number) -> dict[str, Number]:
    factor, down_mm_s = x["cutoff_factor"], speeds["down_fast_mm_s"]
    overrun = drive.overrun_mm(down_mm_s, x["motor.cutoff_down_s"], speeds["down_fast_s"])
    return {
        "cutoff_up_asked_s": speeds["up_slow_s"] * factor,
        "cutoff_down_asked_s": speeds["down_slow_s"] * factor,
        "overrun_mm": overrun,
        "overrun_turns": overrun / (np.pi * diameter_mm),
        "turns_asked": drive.turns_needed(overrun, diameter_mm),
        "take_in_s": (x["door.travel_mm"] + overrun) / speeds["up_slow_mm_s"],
        "stall_s": np.maximum(0.0, x["motor.cutoff_up_s"] - speeds["up_fast_s"]),
    }


def _force_results(x: Inputs, speeds: Inputs, diameter_mm: Number) -> dict[str, Number]:
    weight, friction = drive.weight_n(x["door.plate_kg"]), x["door.guide_friction_n"]
    torque_volts = x["motor.least_volts"]
    rpm = drive.rpm_at(x["motor.rpm"], x["motor.volts"], torque_volts)
    fall_m_s = drive.free_fall_m_s(x["door.travel_mm"])
    return {
        "tension_n": weight,
        "snatch_n": weight * x["snatch_factor"],
        "cord_breaking_asked_n": drive.cord_breaking_n(weight, x["snatch_factor"], x["cord_factor"]),
        "torque_asked_nm": drive.spool_torque_nm(weight + friction, diameter_mm),
        "torque_motor_nm": drive.motor_torque_nm(
            torque_volts, x["motor.run_a"], x["motor.winding_ohm"], rpm, x["motor.gear_efficiency"]
        ),
        "weight_over_friction": weight / np.maximum(friction, 0.01),
        "lifted_by_n": weight + friction,
        "bird_force_n": np.maximum(0.0, weight - friction),
        "bird_energy_mj": 1000.0 * drive.moving_energy_j(x["door.plate_kg"], speeds["down_rated_mm_s"]),
        "fall_m_s": fall_m_s,
        "fall_energy_j": drive.moving_energy_j(x["door.plate_kg"], 1000.0 * fall_m_s),
    }


def _current_results(x: Inputs, speeds: Inputs) -> dict[str, Number]:
    volts, high_v, winding = x["motor.volts"], x["motor.most_volts"], x["motor.winding_ohm"]
    up_mwh = drive.move_mwh(volts, x["motor.run_a"], speeds["up_rated_s"])
    down_mwh = drive.move_mwh(volts, x["motor.lowering_a"], speeds["down_rated_s"])
    return {
        "stall_a": drive.stall_a(high_v, winding),
        "stall_least_a": drive.stall_a(x["motor.least_volts"], winding),
        "reversal_a": drive.reversal_a(high_v, x["motor.run_a"], winding),
        "reversal_most_a": drive.reversal_a(high_v, 0.0, winding),
        "fuse_least_a": drive.FUSE_FACTOR * x["motor.run_a"],
        "up_mwh": up_mwh,
        "down_mwh": down_mwh,
        "moves_mah_per_day": (up_mwh + down_mwh) / volts,
    }
