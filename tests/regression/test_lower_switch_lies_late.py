"""A lower switch that read made in the last quarter of a lowering was believed: the plate stood 67 mm open all night.

The alarm came with the next raise, 12 h later.
"""

from __future__ import annotations

import pytest

from sunsched.controller.door_settings import DoorSettings
from sunsched.controller.door_state import DoorState, KeptOver, boot, keep
from sunsched.controller.motor import step_motor
from sunsched.controller.words import Alarm, Drive, Place, Want
from tests.controller.broken_nights import nights_with

DOWN, UP = int(Want.DOWN), int(Want.UP)


def test_the_plate_is_lowered_by_time_and_the_alarm_comes_the_same_evening() -> None:
    for verdict in nights_with("lower switch reads made from late in a lowering on", (80, 250)):
        assert verdict.left_open.sum() == 0 and verdict.alarms & Alarm.SWITCHES
        assert verdict.alarm_after_h < 7  # from 13:00 to a closing before 20:00


def _up(usual_down_s: int) -> DoorState:
    state = boot(DoorSettings(), KeptOver(usual_down_s=usual_down_s))
    state.wait_s = state.paid_s = 0
    state.place, state.seat, state.wiring_proven, state.alarms = int(Place.UP), 2, 1, 0
    return state


def _lowered(state: DoorState, settings: DoorSettings, after_s: int) -> int:
    """Lower once, the switch made after so many seconds: the seconds that the motor ran, all runs together."""
    ran_s = 0
    for _ in range(200):
        drive = step_motor(state, settings, DOWN, int(ran_s == 0), int(ran_s >= after_s))
        ran_s += drive == Drive.DOWN
    assert state.place == Place.DOWN
    return ran_s


@pytest.mark.parametrize(
    ("usual_s", "early"), [(0, False), (8, False), (9, True), (16, True), (17, False), (255, False)]
)
def test_two_seconds_sooner_than_the_last_lowering_is_too_soon(usual_s: int, early: bool) -> None:
    """A stored time that no lowering can have taken counts as none: the budget is 16 s."""
    state, settings = _up(usual_s), DoorSettings()
    ran_s = _lowered(state, settings, 7)
    assert ran_s == (settings.down_nominal_s + 2 if early else 7)
    assert state.alarms == (Alarm.SWITCHES if early else 0)
    assert keep(state).usual_down_s == (usual_s - 1 if early else 7)


def test_a_motor_that_has_grown_stronger_is_believed_after_some_nights() -> None:
    state, alarmed = _up(10), []
    for _ in range(4):
        _lowered(state, DoorSettings(), 7)
        alarmed.append(bool(state.alarms & Alarm.SWITCHES))
        state.place, state.seat, state.paid_s, state.alarms = int(Place.UP), 2, 0, 0
    assert alarmed == [True, True, False, False]


def test_an_end_by_current_two_seconds_too_soon_is_a_jam() -> None:
    state, settings = _up(9), DoorSettings(down_by_current=1)
    for second in range(20):
        step_motor(state, settings, DOWN, int(second == 0), int(second >= 7))
    assert state.alarms & Alarm.NOT_DOWN and (state.clear, state.attempts, state.usual_down_s) == (1, 1, 8)


def test_a_lowering_that_did_not_begin_at_the_top_teaches_and_accuses_nothing() -> None:
    state, settings = _up(9), DoorSettings()
    state.place, state.paid_s = int(Place.UNKNOWN), 4
    assert _lowered(state, settings, 3) == 3
    assert state.alarms == 0 and state.usual_down_s == 9
