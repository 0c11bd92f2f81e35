"""One sample on a hand switch's wire moved the door, and one sample of an open keep-shut wire raised a shut door."""

from __future__ import annotations

import pytest

from sunsched.controller.decision import DoorDecision
from sunsched.controller.door_settings import DoorSettings
from sunsched.controller.door_state import DayRow, Inputs
from sunsched.controller.words import Door, Drive, Want, Why

NOON = 9_862 * 1440 + 720
NIGHT = NOON + 600
BRIGHT, DARK = 700, 5
ROW = DayRow(open_min=420, close_min=1080, midnight_min=1440, facts=15)


class Bench:
    """The twin with a door that is down, or up, when it is switched on."""

    def __init__(self, minute: int, up: bool, keep_shut: int = 0, confirm_s: int = 100) -> None:
        self.program = DoorDecision(DoorSettings(confirm_s=confirm_s), lambda day: ROW)
        self.minute, self.up, self.counts = minute, up, BRIGHT if minute == NOON else DARK
        self.wants = self.live(400, keep_shut=keep_shut)

    def live(self, seconds: int, hand: int = 0, keep_shut: int = 0) -> list[int]:
        """What is wanted in each of so many seconds; the clock stands, which a short time does not show."""
        wants = []
        for _ in range(seconds):
            day, minute = divmod(self.minute, 1440)
            inputs = Inputs(day, minute, self.counts, top=int(self.up), bottom=int(not self.up))
            inputs.hand, inputs.keep_shut = hand, keep_shut
            out = self.program.step(inputs)
            if out.drive != Drive.HALT:
                self.up = out.drive == Drive.UP
            wants.append(out.want)
        return wants


@pytest.mark.parametrize(("minute", "up", "hand"), [(NOON, True, 2), (NIGHT, False, 1)])
def test_a_hand_counts_after_three_seconds(minute: int, up: bool, hand: int) -> None:
    bench = Bench(minute, up)
    was = int(Want.UP if up else Want.DOWN)
    for held_s in (1, 2):
        assert set(bench.live(held_s, hand=hand) + bench.live(30)) == {was}
    # two directions in turn are no press of either
    for one in (hand, 3 - hand, hand, 3 - hand):
        assert bench.live(1, hand=one) == [was]
    assert bench.live(2) == [was, was]
    assert bench.live(4, hand=hand) == [was, was, 1 - was, 1 - was]
    assert bench.program.state.reason != Why.HAND and bench.program.state.hand == hand


def test_an_open_keep_shut_wire_raises_nothing_before_ten_seconds() -> None:
    bench = Bench(NOON, up=False, keep_shut=1)
    for open_s in (1, 9):
        assert Want.UP not in bench.live(open_s) + bench.live(30, keep_shut=1)
    assert bench.live(10)[-2:] == [int(Want.STAY), int(Want.UP)]


def test_keep_shut_counts_from_power_up_on() -> None:
    """A plan that is sure after a second would else be quicker than the ten seconds of the wire."""
    assert Want.UP not in Bench(NOON, up=False, keep_shut=1, confirm_s=1).wants
    assert Bench(NOON, up=False, confirm_s=1).wants[8:11] == [int(Want.STAY), int(Want.UP), int(Want.UP)]


def test_a_keep_shut_wire_closed_for_nine_seconds_holds_nothing() -> None:
    bench = Bench(NIGHT, up=False)
    bench.minute, bench.counts = NOON + 1440, BRIGHT
    bench.live(9, keep_shut=1)
    assert bench.program.state.keep_shut == 0
    bench.live(1, keep_shut=1)
    assert bench.program.state.keep_shut == 1
    assert bench.program.step(Inputs(*divmod(NOON, 1440), BRIGHT, bottom=1, keep_shut=1)).door in (
        Door.DOWN,
        Door.MOVING_UP,
    )
