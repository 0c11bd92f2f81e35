"""A light sensor on the two-wire bus: what it costs, what it reads, and a bus that hangs in each of its steps."""

from __future__ import annotations

import ctypes as C
import datetime as dt
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from tests.chip import emulated, sites
from tests.chip.runs import DAY_S, ChipRun
from tests.support import toolchain

SITE, DATE, NOON_S = "birch_hollow", dt.date(2027, 4, 11), 12 * 3600
HAND_UP, HAND_DOWN = 0x04, 0x08
BRIGHT = 900
MS = 16_000  # cycles
MOST_AWAKE = 1000  # cycles a second, on a clear day
# A start, the address, two bytes; a start, the address, the order.
STEPS = range(1, 8)
HUNG_MS = 6.2  # what door_board_avr_bus.c promises of a bus that hangs, and the step's own work
STOPPED_MS = 1.6  # its patience with a stop that does not end, awake

# A bus that gives every count in turn, and counts what is asked of it.
BUS = """
#include "door_board.h"
#include "door_board_sensor.h"
uint32_t next_raw, wrong;
uint16_t board_bus_word(uint8_t address, uint8_t order)
{
    if (address != 0x47u || order != 0x20u) { wrong++; }
    return (uint16_t)next_raw;
}
void every_lux(uint16_t *lux)
{
    for (next_raw = 0; next_raw < 65536u; next_raw++) { lux[next_raw] = sensor_lux(); }
}
"""


def light(seconds: int) -> NDArray[np.uint16]:
    return np.full(seconds, BRIGHT, np.uint16)


@pytest.fixture
def life() -> Iterator[emulated.Life]:
    """A life whose door has been raised after power-up, a second into a minute."""
    life = emulated.Life(SITE, 2027, DATE, NOON_S)
    life.run(light(181))
    assert life.height_mm > 340
    yield life
    assert life.state.differing == 0
    assert life.chip_log == life.host_log
    assert not life.memories_differ
    life.end()


def spent(life: emulated.Life, seconds: int) -> tuple[float, float]:
    """Live so long; milliseconds awake and idle, a second."""
    before = (life.awake_cycles(), life.asleep_cycles(0))
    steps = int(life.state.steps)
    life.run(light(seconds))
    assert int(life.state.steps) == steps + seconds
    awake, idle = life.awake_cycles() - before[0], life.asleep_cycles(0) - before[1]
    return awake / seconds / MS, idle / seconds / MS


def press(life: emulated.Life, hand: int, then_s: int) -> None:
    life.state.hand_pins = hand
    life.run(light(3))
    life.state.hand_pins = 0
    life.run(light(then_s))


def test_a_clear_day_is_awake_under_a_thousand_cycles_a_second_and_idle_while_the_bus_works() -> None:
    chip_run = ChipRun(SITE, 2027, sites.built(SITE, 2027).plan.row(DATE), ["clear"])
    power_up = chip_run.life.awake_cycles()  # half a second: the tables are checked, the log's head is printed
    chip_run.run()
    assert (chip_run.life.awake_cycles() - power_up) / DAY_S < MOST_AWAKE
    # the emulator's byte takes 9 us whatever TWBR says: address and two bytes, the order; a written address none
    assert chip_run.life.asleep_cycles(0) / DAY_S > 3 * 9 * 16
    assert chip_run.faults() == []
    assert chip_run.differences() == []
    chip_run.life.end()


def test_it_is_five_sixths_of_the_count_up_to_the_most_that_the_decision_can_hold(tmp_path: Path) -> None:
    """ROHM's technical note (2009.04): lux are the count over 1.2."""
    toolchain.needed("gcc")
    source, library = tmp_path / "bus.c", tmp_path / "sensor.so"
    source.write_text(BUS)
    (tmp_path / "door_values.h").write_text("#define DOOR_LUX_SENSOR 1\n")
    firmware = toolchain.C_DIR / "firmware"
    sensor = firmware / "door_board_sensor.c"
    places = (f"-I{tmp_path}", f"-I{firmware}")
    toolchain.run(["gcc", "-std=c99", "-O1", "-shared", "-fPIC", *places, source, sensor, "-o", library])
    loaded = C.CDLL(str(library))
    lux = np.zeros(65_536, np.uint16)
    loaded.every_lux(C.c_void_p(lux.ctypes.data))
    assert C.c_uint32.in_dll(loaded, "wrong").value == 0
    assert np.array_equal(lux, np.minimum(np.arange(65_536) * 5 // 6, 32_766))


@pytest.mark.parametrize("step", STEPS)
def test_a_bus_that_hangs_is_given_up_within_milliseconds_and_starts_afresh(life: emulated.Life, step: int) -> None:
    usual_awake, usual_idle = spent(life, 20)
    life.sensor_fault(hangs=step)
    awake, idle = spent(life, 20)
    assert usual_idle + 1.0 < idle < HUNG_MS
    assert awake < usual_awake + STOPPED_MS
    life.sensor_fault()
    assert spent(life, 10) == pytest.approx((usual_awake, usual_idle), abs=0.5)


def test_one_off_the_bus_reads_dark_at_once_and_bright_when_it_is_back(life: emulated.Life) -> None:
    usual = spent(life, 20)
    life.sensor_fault(absent=True)
    awake, idle = spent(life, 10)
    life.say("s\r")
    life.run(light(2))
    life.sensor_fault()
    life.run(light(2))
    life.say("s\r")
    life.run(light(2))
    said = [row for row in life.chip_log.splitlines() if ",quarter," in row][-2:]
    assert [row.split(",")[3] for row in said] == ["0", str(BRIGHT)]
    assert awake < usual[0] + 0.5 and idle < usual[1]


@pytest.mark.parametrize("hangs", [0, 1, 2, 4])
def test_the_motor_runs_and_is_cut_at_its_ends_while_the_sensor_is_read(life: emulated.Life, hangs: int) -> None:
    life.sensor_fault(hangs=hangs)
    runs = int(life.state.drive.runs)
    press(life, HAND_DOWN, 40)
    assert life.height_mm < 5
    press(life, HAND_UP, 40)
    assert life.height_mm > 340
    assert int(life.state.drive.runs) > runs + 1 and life.state.drive.both == 0
    assert life.state.door.stalled_s <= 1.0


def test_the_clock_is_set_and_read_beside_the_sensor(life: emulated.Life) -> None:
    life.say("t 2027-04-11 12:05:50\r")
    life.run(light(30))
    life.power_cut()
    life.run(light(5))
    start = [row for row in life.chip_log.splitlines() if ",start," in row][-1]
    assert start.startswith("2027-04-11,12:06:")


@pytest.mark.parametrize("hangs", [0, *STEPS])
def test_what_is_typed_while_the_bus_works_or_hangs_is_heard_and_the_light_read(
    life: emulated.Life, hangs: int
) -> None:
    """The start bit of each character wakes the chip while the sensor's address is on the bus."""
    life.sensor_fault(hangs=hangs)
    for character in "s\r":
        life.type_in_step(character)
        life.run(light(1))
    life.run(light(2))
    said = [row for row in life.chip_log.splitlines() if ",quarter," in row][-1]
    assert said.split(",")[3] == ("0" if 0 < hangs < 5 else str(BRIGHT))
