"""The drive's verdicts and spreads, against a simulation of the same inputs."""

from __future__ import annotations

import json

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sunsched.base.rounding import rounded
from sunsched.hardware.drive import PRACTICE, drive_results, drive_spans
from sunsched.hardware.drive_sums import DriveSums, drive_sums
from sunsched.hardware.figures import Span, Verdict, drawn, exactly, propagated, values_of, verdict, within_share
from sunsched.hardware.parts import Door, Motor, Spool

DOOR = Door(travel_mm=350.0, plate_kg=2.0, guide_friction_n=4.0)
SPOOL = Spool(core_diameter_mm=30.0, cord_mm=2.0, turns_left_when_down=8.5)
MOTOR = Motor(
    volts=12.0, rpm=60.0, run_a=0.6, winding_ohm=4.0, lowering_duty=0.4, dead_time_s=2, cutoff_up_s=12, cutoff_down_s=17
)


def verdict_of(sums: DriveSums, name: str) -> Verdict:
    return next(judged for judged in sums.verdicts if judged.name == name)


# JCGM 100:2008 (GUM), 4.3.7 and 5.1: independent effects add as squares; the simulation draws the same inputs
# 40000 times. 12 % of the width for measured inputs, as the ranges are lopsided and the sums not linear; 30 % for
# defaults, guessed to a factor of two or three.
@pytest.mark.parametrize(
    ("door", "spool", "motor", "share"), [(DOOR, SPOOL, MOTOR, 0.12), (Door(), Spool(), Motor(), 0.30)]
)
def test_spreads_agree_with_a_simulation_of_the_same_inputs(
    door: Door, spool: Spool, motor: Motor, share: float
) -> None:
    spans, _ = drive_spans(door, spool, motor)
    stated = propagated(drive_results, spans)
    simulated = drive_results(drawn(spans, 40_000, seed=1))
    for name, span in stated.items():
        low, high = np.quantile(simulated[name], (0.025, 0.975))
        width = high - low
        assert span.low == pytest.approx(low, abs=share * width + 1e-9), name
        assert span.high == pytest.approx(high, abs=share * width + 1e-9), name


# Physics: times, forces and charges are never below 0, however little is known.
def test_no_range_reaches_below_nothing() -> None:
    spans, _ = drive_spans(Door(), Spool(), Motor(cutoff_up_s=3))
    assert all(span.low >= 0.0 for span in propagated(drive_results, spans).values())


def test_a_single_input_carries_its_own_range() -> None:
    # by hand: a tenth of the input is a tenth of the result
    reach = propagated(lambda x: {"y": 3.0 * x["a"]}, {"a": within_share(2.0, 0.1)})["y"]
    assert (reach.low, reach.value, reach.high) == pytest.approx((5.4, 6.0, 6.6))


# Stated: an input with a range moves a printed figure, or is what a verdict holds its figure against.
def test_every_uncertain_input_widens_what_is_printed() -> None:
    spans, _ = drive_spans(Door(), Spool(cord_breaking_n=150.0), Motor())
    uncertain = {name for name, span in spans.items() if not span.fixed}
    assert uncertain >= set(PRACTICE) | {"door.guide_friction_n", "motor.cold_speed_share", "motor.gear_efficiency"}
    widening = set()
    for name in uncertain:
        alone = {key: span if key == name else exactly(span.value) for key, span in spans.items()}
        if any(not span.fixed for span in propagated(drive_results, alone).values()):
            widening.add(name)
    assert uncertain - widening == {"spool.turns_left_when_down", "spool.cord_breaking_n", "friction_factor"}
    in_doubt = drive_sums(Door(guide_friction_n=8.0), Spool(), Motor()).verdicts
    turning = {name for judged in in_doubt for name in judged.decided_by}
    assert "friction_factor" in turning


# Stated: an input that was not given is listed, and its range is wider than that of a measured one.
def test_what_is_not_given_is_listed_and_wider() -> None:
    given_spans, given_assumed = drive_spans(DOOR, SPOOL, MOTOR)
    spans, assumed = drive_spans(Door(), Spool(), Motor())
    keys = {one.key for one in assumed}
    assert {"door.guide_friction_n", "motor.rpm", "motor.cold_speed_share", "snatch_factor"} <= keys
    assert "door.guide_friction_n" not in {one.key for one in given_assumed}
    for key in ("door.plate_kg", "door.guide_friction_n", "motor.rpm", "motor.run_a", "motor.winding_ohm"):
        assert spans[key].high - spans[key].low > given_spans[key].high - given_spans[key].low


# By hand: at 14.4 V the plate is down in 7.25 s and runs on for 17 - 7.25 s at 48.3 mm/s: 470 mm, 4.7 turns, and 3
# [physics; hoist rule]
def test_turns_on_the_spool_are_judged_on_a_battery_on_charge() -> None:
    sums = drive_sums(DOOR, SPOOL, MOTOR)
    assert sums.figure("turns_asked").value == pytest.approx(7.7, abs=0.05)
    few = drive_sums(DOOR, Spool(core_diameter_mm=30.0, cord_mm=2.0, turns_left_when_down=4.0), MOTOR)
    judged = verdict_of(few, "turns on the spool")
    assert judged.state == "fails"
    assert "winds it on backwards and RAISES the door" in judged.text


@pytest.mark.parametrize(
    ("door", "spool", "motor", "name"),
    [
        # By hand: 23.6 N lift 2 kg with 4 N of friction
        (DOOR.model_copy(update={"push_from_below_n": 40.0}), SPOOL, MOTOR, "lifted from below"),
        # By hand: 196 N are asked
        (DOOR, SPOOL.model_copy(update={"cord_breaking_n": 100.0}), MOTOR, "cord"),
        # By hand: 19.6 N against 2 x 25 N
        (DOOR.model_copy(update={"guide_friction_n": 25.0}), SPOOL, MOTOR, "falls by itself"),
        # By hand: 4.75 s cold
        (DOOR, SPOOL, MOTOR.model_copy(update={"cutoff_up_s": 3}), "raising cut-off"),
        # By hand: 11.9 s cold
        (DOOR, SPOOL, MOTOR.model_copy(update={"cutoff_down_s": 9}), "lowering cut-off"),
        # By hand: (350 mm + 470 mm) / 92 mm/s = 8.9 s
        (DOOR, SPOOL, MOTOR.model_copy(update={"cutoff_up_s": 6}), "slack taken in"),
        # By hand: (20 kg x 9.8 + 4) x 16 mm = 3.2 N m against 0.54
        (DOOR.model_copy(update={"plate_kg": 20.0}), SPOOL, MOTOR, "torque"),
        (DOOR, SPOOL, MOTOR.model_copy(update={"fuse_a": 0.5}), "fuse holds"),
        # By hand: 11 V / 4 ohm = 2.75 A against 2.75 x 3 A
        (DOOR, SPOOL, MOTOR.model_copy(update={"fuse_a": 3.0}), "fuse opens at stall"),
        (DOOR, SPOOL, MOTOR.model_copy(update={"cable_a": 0.5}), "fuse guards the cable"),
    ],
)
def test_each_danger_is_named(door: Door, spool: Spool, motor: Motor, name: str) -> None:
    assert verdict_of(drive_sums(door, spool, motor), name).state == "fails"


@pytest.mark.parametrize(
    ("door", "spool", "motor", "name"),
    [
        (DOOR.model_copy(update={"push_from_below_n": 15.0}), SPOOL, MOTOR, "lifted from below"),
        (DOOR, SPOOL.model_copy(update={"cord_breaking_n": 500.0}), MOTOR, "cord"),
        (DOOR, SPOOL, MOTOR, "falls by itself"),
        (DOOR, SPOOL, MOTOR, "raising cut-off"),
        (DOOR, SPOOL, MOTOR, "slack taken in"),
        (DOOR.model_copy(update={"plate_kg": 0.5}), SPOOL, MOTOR, "torque"),
        (DOOR, SPOOL, MOTOR.model_copy(update={"fuse_a": 1.6}), "fuse holds"),
        (DOOR, SPOOL, MOTOR.model_copy(update={"cable_a": 6.0}), "fuse guards the cable"),
    ],
)
def test_and_not_named_where_there_is_none(door: Door, spool: Spool, motor: Motor, name: str) -> None:
    # the same hand sums, on the other side
    assert verdict_of(drive_sums(door, spool, motor), name).state == "holds"


# Stated: no force or energy on a bird is ever passed or failed.
def test_birds_are_reported_and_not_judged() -> None:
    sums = drive_sums(DOOR, SPOOL, MOTOR)
    assert sums.figure("bird_force_n").value == pytest.approx(19.6 - 4.0, abs=0.05)
    assert not any("bird" in judged.name for judged in sums.verdicts)
    assert any("no published limit for birds" in caution for caution in sums.cautions)


def test_an_input_that_turns_a_verdict_is_named() -> None:
    # by construction: only b reaches the other side
    spans = {"a": Span(5.0, 4.9, 5.1), "b": Span(4.0, 3.0, 6.0)}
    judged = verdict("a over b", lambda x: x["a"] - x["b"], spans, "holds", "does not")
    assert (judged.state, judged.decided_by, judged.text) == ("in doubt", ("b",), "does not")


def test_two_inputs_that_only_together_turn_a_verdict_leave_it_in_doubt() -> None:
    # by construction: either alone leaves 0.1, both at once do not
    spans = {"a": Span(1.0, 0.5, 1.5), "b": Span(1.0, 0.5, 1.5)}
    judged = verdict("sum", lambda x: x["a"] + x["b"] - 1.4, spans, "holds", "does not")
    assert (judged.state, judged.decided_by) == ("in doubt", ())


def test_no_constants_are_given_for_a_cutoff_that_cannot_work() -> None:
    sums = drive_sums(DOOR, SPOOL, MOTOR.model_copy(update={"cutoff_up_s": 2}))
    assert sums.constants is None
    assert sums.constants_refused == "motor.cutoff_up_s is 2; wanted at least 3.5 s, the travel at 12 V"


def test_plain_values_are_json_and_nothing_is_called_safe() -> None:
    text = json.dumps(drive_sums(DOOR, SPOOL, MOTOR).plain(), allow_nan=False)
    assert " safe" not in text.lower()
    assert json.loads(text)["constants"]["cutoff_down_s"] == 17


def test_inputs_are_the_values_of_their_spans() -> None:
    # results at the stated inputs are the middle of what is printed, rounded where they leave the sums
    spans, _ = drive_spans(DOOR, SPOOL, MOTOR)
    results = drive_results(values_of(spans))
    assert rounded(results["up_rated_s"]) == propagated(drive_results, spans)["up_rated_s"].value


parts = st.tuples(
    st.builds(Door, travel_mm=st.floats(50, 3000), plate_kg=st.floats(0.01, 100), guide_friction_n=st.floats(0, 500)),
    st.builds(
        Spool, core_diameter_mm=st.floats(2, 500), cord_mm=st.floats(0.1, 20), turns_left_when_down=st.floats(0, 200)
    ),
    st.builds(
        Motor,
        volts=st.floats(3, 48),
        rpm=st.floats(0.1, 1000),
        run_a=st.floats(0.01, 50),
        winding_ohm=st.floats(0.01, 1000),
        lowering_duty=st.floats(0.01, 1),
        cutoff_up_s=st.integers(1, 300),
        cutoff_down_s=st.integers(1, 300),
    ),
)


# Whatever the configuration may say, the sums come out finite, in order, and every danger gets a verdict.
@settings(deadline=None, max_examples=25)
@given(parts)
def test_any_machine_gets_its_figures(machine: tuple[Door, Spool, Motor]) -> None:
    sums = drive_sums(*machine)
    json.dumps(sums.plain(), allow_nan=False)
    assert all(0.0 <= figure.span.low <= figure.span.value <= figure.span.high for figure in sums.figures)
    assert {judged.name for judged in sums.verdicts} >= {"raising cut-off", "lowering cut-off", "turns on the spool"}
