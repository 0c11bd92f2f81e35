"""Each driver, kind of switch and end of travel on the emulated pins: never both, never a turn in the dead time."""

from __future__ import annotations

import datetime as dt

import numpy as np
import pytest
from numpy.typing import NDArray

from sunsched.controller.words import Reset
from tests.chip import emulated
from tests.chip.runs import settings_of

SITE, DATE, NOON_S = "larch_end", dt.date(2027, 4, 11), 12 * 3600
BRIGHT = 900
HAND_UP, HAND_DOWN = 0x04, 0x08
CHIP_S = 0.15  # a tenth, in which the door moves, and the program's own work
TOP, BOTTOM = 1, 2
ALL = (SITE, f"{SITE}+direction", f"{SITE}+relays", f"{SITE}+closed", f"{SITE}+closed+relays", f"{SITE}+current")


def light(seconds: int) -> NDArray[np.uint16]:
    return np.full(seconds, BRIGHT, np.uint16)


def settled(name: str) -> emulated.Life:
    """A life whose door has been raised after power-up."""
    life = emulated.Life(name, 2027, DATE, NOON_S)
    life.state.door.rigid = int("current" in name)
    life.run(light(200))
    assert life.height_mm > 340
    return life


def press(life: emulated.Life, hand: int, then_s: int) -> None:
    life.state.hand_pins = hand
    life.run(light(3))
    life.state.hand_pins = 0
    life.run(light(then_s))


def agree(life: emulated.Life, name: str, cut_s: int = 0) -> None:
    """By the pins: one direction at a time, rests and cut-offs; and the program on this computer did the same."""
    settings, pins = settings_of(name), life.state.drive
    assert pins.runs > 0 and pins.both == 0
    assert pins.least_turn_s == -1 or pins.least_turn_s >= settings.dead_s - CHIP_S
    assert pins.longest_raise_s <= settings.up_cutoff_s + CHIP_S
    assert pins.longest_lower_s <= settings.down_budget_s + CHIP_S
    assert life.state.door.most_paid_mm <= life.state.door.cord_mm
    assert life.state.differing <= cut_s and life.chip_log == life.host_log and not life.memories_differ
    life.end()


def alarms(life: emulated.Life) -> str:
    rows = [line.split(",") for line in life.chip_log.splitlines() if ",alarm," in line]
    return rows[-1][7] if rows else ""


@pytest.mark.parametrize("name", ALL)
def test_it_lowers_and_raises_within_its_limits(name: str) -> None:
    life = settled(name)
    for _ in range(2):
        press(life, HAND_DOWN, 40)
        assert life.height_mm < 5
        press(life, HAND_UP, 40)
        assert life.height_mm > 340
    assert alarms(life) == ""
    agree(life, name)


@pytest.mark.parametrize("name", ALL)
def test_turning_round_in_mid_run_waits_for_the_dead_time(name: str) -> None:
    life = settled(name)
    for hand in (HAND_DOWN, HAND_UP, HAND_DOWN, HAND_UP):
        press(life, hand, 0)
    life.run(light(60))
    assert life.height_mm > 340
    agree(life, name)


@pytest.mark.parametrize("name", [SITE, f"{SITE}+direction", f"{SITE}+relays", f"{SITE}+closed"])
@pytest.mark.parametrize(("hand", "wire"), [(HAND_UP, TOP), (HAND_DOWN, BOTTOM)])
def test_a_glitch_of_two_milliseconds_cuts_the_motor_and_lets_it_go_on(name: str, hand: int, wire: int) -> None:
    """Between two steps: the program itself never sees it, so the run must have gone on by itself."""
    life = settled(name)
    if hand == HAND_UP:
        press(life, HAND_DOWN, 40)
    press(life, hand, 0)
    way = 1 if hand == HAND_UP else -1
    assert life.driven == way
    life.glitch(wire, 2000)
    assert life.driven == 0
    life.run(light(40))
    assert (life.height_mm > 340) if hand == HAND_UP else (life.height_mm < 5)
    assert alarms(life) == ""
    agree(life, name, cut_s=int("relays" in name))  # a relay is not yet on again when the next step is compared


def test_a_broken_wire_of_a_closed_switch_reads_as_made_and_stops_nothing_for_long() -> None:
    name = f"{SITE}+closed"
    life = settled(name)
    life.state.door.bottom_stuck = 2
    press(life, HAND_DOWN, 60)
    assert life.height_mm < 5
    assert "switches" in alarms(life)
    agree(life, name)


def test_relays_know_no_speed_and_the_sums_do() -> None:
    plain, relays = settings_of(SITE), settings_of(f"{SITE}+relays")
    assert (relays.lower_percent, relays.down_duty) == (100, 255)
    assert relays.down_nominal_s < plain.down_nominal_s
    assert relays.down_budget_s < plain.down_budget_s


def test_an_end_by_current_is_told_from_a_jam_by_the_time_it_comes() -> None:
    name = f"{SITE}+current"
    life = settled(name)
    life.state.door.jam_mm = 200
    press(life, HAND_DOWN, 60)
    assert alarms(life) == "not_down" and life.state.door.stalled_s < 1.0
    life.state.door.jam_mm = 0
    life.run(light(90))  # after a minute it is lifted, after another lowered: the way is free
    assert life.height_mm < 5 and alarms(life) == ""
    assert life.state.door.stalled_s < 1.0 and int(life.state.drive.runs) == 4
    agree(life, name)


@pytest.mark.parametrize("cause", [Reset.BROWN_OUT, Reset.HANG])
def test_a_start_that_ends_in_a_reset_is_remembered(cause: Reset) -> None:
    """The mark is in EEPROM before the motor is on: no minute has passed since."""
    life = settled(SITE)
    press(life, HAND_DOWN, 3)
    life.reset(int(cause))
    for _ in range(3):  # half way down: it is lifted first, as the keeper's wish at noon is too
        while not life.driven:
            life.run(light(1))
        life.reset(int(cause))
    life.run(light(110))
    assert "power" in alarms(life)
    runs = int(life.state.drive.runs)
    life.run(light(600))
    assert int(life.state.drive.runs) == runs
    life.run(light(300))
    assert life.height_mm > 340
    agree(life, SITE)
