"""Faults and the keeper's hand on the emulated chip: what it does, and that the computer's build does the same."""

from __future__ import annotations

import datetime as dt

import emulated
import numpy as np
import pytest
from numpy.typing import NDArray

NAME, YEAR, DATE = "larch_end", 2027, dt.date(2027, 4, 11)
NOON_S = 12 * 3600
BRIGHT, DARK = 900, 5


def light(counts: int, seconds: int) -> NDArray[np.uint16]:
    return np.full(seconds, counts, np.uint16)


def settled(second: int = NOON_S) -> emulated.Life:
    """A life whose door has been raised after power-up."""
    life = emulated.Life(NAME, YEAR, DATE, second)
    life.run(light(BRIGHT, 200))
    assert life.height_mm > 340
    return life


def agree(life: emulated.Life) -> None:
    assert life.state.differing == 0
    assert life.chip_log == life.host_log
    assert not life.memories_differ
    life.end()


def logged(life: emulated.Life, event: str) -> list[list[str]]:
    rows = [line.split(",") for line in life.chip_log.splitlines()]
    return [row for row in rows if len(row) == 8 and row[2] == event]


def test_a_hand_lowers_and_raises_at_once() -> None:
    life = settled()
    life.state.hand_pins = 0x08
    life.run(light(BRIGHT, 2))
    life.state.hand_pins = 0
    life.run(light(BRIGHT, 30))
    assert life.height_mm < 5
    assert logged(life, "move")[-1][5:7] == ["lower", "hand"]
    life.state.hand_pins = 0x04
    life.run(light(BRIGHT, 2))
    life.state.hand_pins = 0
    life.run(light(BRIGHT, 30))
    assert life.height_mm > 340
    agree(life)


@pytest.mark.parametrize("after_s", [1, 4, 8])
def test_a_power_cut_while_lowering_is_made_good(after_s: int) -> None:
    life = settled()
    life.state.hand_pins = 0x08
    life.run(light(BRIGHT, 2))
    life.state.hand_pins = 0
    life.run(light(BRIGHT, after_s))
    life.power_cut()
    assert life.state.door.driven_s > 0
    life.run(light(BRIGHT, 300))
    assert life.height_mm > 340
    # never more cord than the spool holds, and both builds took the same way
    assert life.state.door.most_paid_mm < 884
    agree(life)


def test_without_a_pulse_the_chip_counts_its_own_seconds() -> None:
    life = settled()
    life.clock_fault(halted=True)
    down_before = life.asleep_cycles(2)
    life.run(light(BRIGHT, 900))
    assert abs(int(life.state.steps) - int(life.state.seconds)) <= 2
    assert life.asleep_cycles(2) - down_before < 3 * 16_000_000
    assert logged(life, "alarm")[-1][7] == "clock_step"
    life.clock_fault(halted=False)
    steps = int(life.state.steps)
    life.run(light(BRIGHT, 60))
    assert abs(int(life.state.steps) - steps - 60) <= 1
    agree(life)


def test_a_clock_off_the_bus_is_noticed_and_the_own_count_carries_on() -> None:
    life = settled()
    life.clock_fault(absent=True)
    life.run(light(BRIGHT, 300))
    assert logged(life, "alarm")[-1][7] == "clock_step"
    assert life.height_mm > 340
    agree(life)


def test_a_clock_that_has_stopped_is_not_believed_until_it_is_set() -> None:
    life = emulated.Life(NAME, YEAR, DATE, NOON_S)
    life.clock_fault(stopped=True)
    life.power_cut()
    life.run(light(BRIGHT, 60))
    assert logged(life, "start")[-1][:2] == ["", ""]
    life.say("t 2027-04-11 12:02:00\r")
    life.run(light(BRIGHT, 120))
    assert logged(life, "clock")[-1][0] == "2027-04-11"
    life.power_cut()
    life.run(light(BRIGHT, 5))
    assert logged(life, "start")[-1][0] == "2027-04-11"
    agree(life)


def test_what_is_not_understood_gets_a_remark() -> None:
    life = settled()
    life.say("\r")
    life.say("t 2027-02-29 12:00:00\r")
    life.say("x\r")
    life.say("s\r")
    life.run(light(BRIGHT, 5))
    assert life.chip_log.count("# ready") == 1
    assert life.chip_log.count("# not understood") == 2
    assert logged(life, "quarter")
    assert life.chip_log == life.host_log
    life.end()


def test_an_end_switch_cuts_the_motor_between_two_steps() -> None:
    """The plate stands where its switch made, within the run-on of a tenth of a second, not of a whole one."""
    life = settled()
    # 350 mm of travel, the switch makes 2 mm below the stop; raising at 100 mm/s would pass it in a tenth
    assert life.state.door.stalled_s == 0
    life.end()


def test_a_lower_switch_that_never_makes_ends_on_the_budget_and_raises_alarm() -> None:
    life = settled()
    life.state.door.bottom_stuck = 1
    life.state.hand_pins = 0x08
    life.run(light(BRIGHT, 2))
    life.state.hand_pins = 0
    life.run(light(BRIGHT, 900))
    assert life.state.door.most_paid_mm < 884
    assert "not_down" in logged(life, "alarm")[-1][7]
    agree(life)
