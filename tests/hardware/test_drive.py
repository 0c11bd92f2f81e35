"""The drive's sums against a machine worked out by hand: 350 mm, 2 kg, 30 mm to the cord's centre, 60 rpm, 12.6 V."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from sunsched.base.errors import RangeError
from sunsched.hardware import drive
from sunsched.hardware.parts import Door, Motor, Spool

DIAMETER_MM, RPM, DUTY, TRAVEL_MM, PLATE_KG = 30.0, 60.0, 0.4, 350.0, 2.0
up_mm_s = drive.cord_speed_mm_s(DIAMETER_MM, RPM)
down_mm_s = drive.cord_speed_mm_s(DIAMETER_MM, RPM, DUTY)


# By hand: pi x 30 x 60/60 = 94.2 mm/s, x 0.4 = 37.7; 350/94.2 = 3.7 s, 350/37.7 = 9.3 s [physics]
def test_speed_and_time() -> None:
    assert up_mm_s == pytest.approx(94.2, abs=0.05)
    assert down_mm_s == pytest.approx(37.7, abs=0.05)
    assert drive.travel_s(TRAVEL_MM, up_mm_s) == pytest.approx(3.7, abs=0.05)
    assert drive.travel_s(TRAVEL_MM, down_mm_s) == pytest.approx(9.3, abs=0.05)


# By hand: 9.28 s x 12.6/11.0 = 10.6 s [physics]; x 1.5 = 16 s [common practice]
def test_lowering_on_a_tired_battery_and_its_cutoff() -> None:
    slow_s = drive.travel_s(TRAVEL_MM, drive.cord_speed_mm_s(DIAMETER_MM, drive.rpm_at(RPM, 12.6, 11.0), DUTY))
    assert slow_s == pytest.approx(10.6, abs=0.05)
    assert slow_s * drive.CUTOFF_FACTOR == pytest.approx(16.0, abs=0.1)


# By hand: 37.7 x (16 - 9.3) = 251 mm to three figures of the rounded times, 253 unrounded; 2.7 turns [physics];
# and three dead turns make 5.7 [hoist rule, public source]
def test_overrun_and_the_turns_it_asks() -> None:
    overrun = drive.overrun_mm(down_mm_s, 16.0, drive.travel_s(TRAVEL_MM, down_mm_s))
    assert overrun == pytest.approx(251, rel=0.01)
    assert overrun / (math.pi * DIAMETER_MM) == pytest.approx(2.7, abs=0.05)
    assert drive.turns_needed(overrun, DIAMETER_MM) == pytest.approx(5.7, abs=0.05)


# A cut-off that ends before the plate is down pays out nothing more [physics]
def test_no_overrun_before_the_plate_is_down() -> None:
    assert drive.overrun_mm(down_mm_s, 8.0, 9.3) == 0.0


# By hand: 2 x 9.80665 = 19.6 N [physics]; x 2 for snatch [elementary mechanics] x 5 on breaking [common practice]
# = 196, sold as 200 N; torque 19.6 x 15 mm = 0.294 N m [physics]
def test_cord_and_torque() -> None:
    tension = drive.weight_n(PLATE_KG)
    assert tension == pytest.approx(19.6, abs=0.05)
    assert drive.cord_breaking_n(tension) == pytest.approx(200, rel=0.02)
    assert drive.spool_torque_nm(tension, DIAMETER_MM) == pytest.approx(0.294, abs=0.0005)


# By hand: 2 x 0.0377^2 / 2 = 1.4 mJ; m g h = 6.9 J at sqrt(2 g 0.35) = 2.6 m/s if the cord lets go [physics]
def test_energy_on_a_bird_lowered_and_let_go() -> None:
    assert 1000 * drive.moving_energy_j(PLATE_KG, down_mm_s) == pytest.approx(1.4, abs=0.05)
    fall = drive.free_fall_m_s(TRAVEL_MM)
    assert fall == pytest.approx(2.6, abs=0.05)
    assert drive.moving_energy_j(PLATE_KG, 1000 * fall) == pytest.approx(6.9, abs=0.05)


# By hand, 4 ohm at 12.6 V: stall 3.15 A; with 0.3 A running Ke w = 12.6 - 1.2 = 11.4, (12.6 + 11.4)/4 = 6.0 A;
# running free it is twice the stall current [physics]
def test_stall_and_reversal() -> None:
    assert drive.stall_a(12.6, 4.0) == pytest.approx(3.15)
    assert drive.reversal_a(12.6, 0.3, 4.0) == pytest.approx(6.0)
    assert drive.reversal_a(12.6, 0.0, 4.0) == pytest.approx(2 * 3.15)


# By hand: 1.5 x 0.6 = 0.9 A, next rating 1 A [common practice; ratings of IEC 60127 from memory]
def test_fuse() -> None:
    assert drive.fuse_for(drive.FUSE_FACTOR * 0.6) == 1.0
    assert drive.fuse_for(1.0) == 1.0
    assert drive.fuse_for(10.1) is None


# By hand: 12 x 0.6 x 3.7 s = 7.4 mWh; 12 x 0.2 x 9.3 s = 6.2 mWh; 13.6/12 = 1.1 mAh a day; 25 mA for 24 h is
# 0.60 Ah, 530 times as much [physics; 0.2 A while lowering is the example's own]
def test_energy_of_the_moves() -> None:
    up_mwh = drive.move_mwh(12.0, 0.6, drive.travel_s(TRAVEL_MM, up_mm_s))
    down_mwh = drive.move_mwh(12.0, 0.2, drive.travel_s(TRAVEL_MM, down_mm_s))
    assert up_mwh == pytest.approx(7.4, abs=0.05)
    assert down_mwh == pytest.approx(6.2, abs=0.05)
    moves_mah = (up_mwh + down_mwh) / 12.0
    assert moves_mah == pytest.approx(1.1, abs=0.05)
    assert 25.0 * 24.0 / moves_mah == pytest.approx(530, rel=0.01)


# By hand: (12 - 0.6 x 4) x 0.6 = 5.76 W at 2 pi rad/s is 0.917 N m, 0.55 behind a gear of 0.6 [physics]
def test_torque_from_the_electrical_side() -> None:
    assert drive.motor_torque_nm(12.0, 0.6, 4.0, 60.0, 0.6) == pytest.approx(0.55, abs=0.005)


def test_sums_take_arrays() -> None:
    # the same sum, element by element
    both = drive.cord_speed_mm_s(np.array([30.0, 32.0]), RPM)
    assert both[0] == up_mm_s and both[1] == drive.cord_speed_mm_s(32.0, RPM)


# Stated: 350 mm on a 28 + 2 mm spool takes 3.7 and 9.3 s: 4 and 10 whole seconds, 0.4 x 255 = 102 [physics]
def test_constants_for_the_program() -> None:
    constants = drive.drive_constants(Door(), Spool(core_diameter_mm=28.0, cord_mm=2.0), Motor())
    assert (constants.nominal_up_s, constants.nominal_down_s) == (4, 10)
    assert (constants.cutoff_up_s, constants.cutoff_down_s, constants.lowering_budget_s) == (10, 16, 16)
    assert (constants.lowering_pwm, constants.dead_time_s, constants.up_per_down_s) == (102, 2, 0.4)


def test_a_cutoff_shorter_than_the_travel_gives_no_constants() -> None:
    with pytest.raises(RangeError, match=r"^motor\.cutoff_down_s is 8; wanted at least 8\.7 s, the travel at 12 V$"):
        drive.drive_constants(Door(), Spool(), Motor(cutoff_down_s=8))


# Physics: a longer cut-off, a faster motor or a higher supply never asks for fewer turns.
@given(st.floats(1, 60), st.floats(0, 30), st.floats(5, 200), st.floats(1, 2))
def test_more_overrun_never_asks_fewer_turns(cutoff_s: float, more_s: float, speed_mm_s: float, faster: float) -> None:
    def asked(speed: float, cutoff: float) -> float:
        return float(drive.turns_needed(drive.overrun_mm(speed, cutoff, drive.travel_s(TRAVEL_MM, speed)), DIAMETER_MM))

    assert asked(speed_mm_s, cutoff_s + more_s) >= asked(speed_mm_s, cutoff_s) >= drive.DEAD_TURNS
    assert asked(speed_mm_s * faster, cutoff_s) >= asked(speed_mm_s, cutoff_s) - 1e-9
