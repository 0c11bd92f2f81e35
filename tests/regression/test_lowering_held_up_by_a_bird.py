"""A bird that held the plate up made a lowering long, and the program expected as much of the next ones.

Up to six healthy evenings after it were alarmed as SWITCHES, 2 s or more sooner than in the last lowering.
"""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from sunsched.controller.door_settings import DoorSettings
from sunsched.controller.door_state import DoorState, KeptOver, boot
from sunsched.controller.motor import step_motor
from sunsched.controller.words import Alarm, Drive, Place, Want
from tests.controller.broken_nights import nights_with

SETTINGS = DoorSettings()  # 7 s of 10 s at the earliest, 16 s at most


def _evening(state: DoorState, down_after_s: int) -> bool:
    """Lower once from the top, the switch made after so many seconds; True if that was taken for a lying switch."""
    state.place, state.seat, state.wiring_proven = int(Place.UP), 2, 1
    state.wait_s = state.paid_s = state.alarms = 0
    state.asked = int(Want.UP)
    ran_s = 0
    for _ in range(100):
        drive = step_motor(state, SETTINGS, int(Want.DOWN), int(ran_s == 0), int(ran_s >= down_after_s))
        ran_s += drive == Drive.DOWN
    assert state.place == Place.DOWN
    return bool(state.alarms & Alarm.SWITCHES)


def _door(usual_down_s: int) -> DoorState:
    return boot(SETTINGS, KeptOver(usual_down_s=usual_down_s))


def test_the_evenings_after_a_bird_raise_no_alarm() -> None:
    state = _door(9)
    assert [_evening(state, s) for s in (9, 15, 9, 9, 9)] == [False] * 5


def test_a_bird_every_other_evening_is_never_taken_for_a_lying_switch() -> None:
    for verdict in nights_with("bird in the doorway every other evening", (14, 250)):
        assert not verdict.alarms & Alarm.SWITCHES


# A motor's own time may read a second more or less; a bird's hold is longer than that.
@given(
    motor_s=st.integers(7, 13),
    evenings=st.lists(st.tuples(st.integers(0, 1), st.sampled_from((0, 0, 3, 4, 5, 7))), min_size=1, max_size=20),
)
def test_no_hold_of_three_seconds_or_more_ever_leads_to_an_alarm(motor_s: int, evenings: list[tuple[int, int]]) -> None:
    state = _door(motor_s)
    alarmed = [_evening(state, min(SETTINGS.down_budget_s, motor_s + more + held)) for more, held in evenings]
    assert not any(alarmed)
    assert _evening(state, motor_s - 2)  # and a switch that does lie is noticed after all of them


@given(
    motor_s=st.integers(7, 11),
    evenings=st.lists(st.tuples(st.integers(0, 1), st.integers(0, 4)), min_size=1, max_size=20),
)
def test_any_hold_costs_at_most_one_evening_of_alarm(motor_s: int, evenings: list[tuple[int, int]]) -> None:
    state = _door(motor_s)
    alarmed = sum(_evening(state, motor_s + more + held) for more, held in evenings)
    assert alarmed <= sum(held > 0 for _, held in evenings)


@given(st.lists(st.integers(0, 1), min_size=6, max_size=12))
def test_a_motor_that_slows_by_a_second_at_a_time_is_followed(slower_s: list[int]) -> None:
    state, motor_s = _door(8), 8
    for more in slower_s:
        motor_s = min(15, motor_s + more)
        assert not _evening(state, motor_s)
        assert state.usual_down_s == motor_s


def test_the_first_lowering_of_all_is_taken_as_it_is() -> None:
    state = _door(0)
    assert not _evening(state, 13) and state.usual_down_s == 13
