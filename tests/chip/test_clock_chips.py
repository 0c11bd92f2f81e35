"""The clock chips a keeper may have, each on the emulated two-wire bus: set, read, stopped, cell low, pulse."""

from __future__ import annotations

import datetime as dt

import numpy as np
import pytest
from numpy.typing import NDArray

from tests.chip import emulated

SITE, NOON_S = "larch_end", 12 * 3600
CHIPS = (SITE, f"{SITE}+ds1307", f"{SITE}+pcf8523", f"{SITE}+pcf8563")
DATES = [dt.date(2027, 4, 11), dt.date(2027, 12, 31), dt.date(2028, 2, 29)]
BRIGHT = 900


def light(seconds: int) -> NDArray[np.uint16]:
    return np.full(seconds, BRIGHT, np.uint16)


def rows(life: emulated.Life, event: str) -> list[list[str]]:
    found = [line.split(",") for line in life.chip_log.splitlines()]
    return [row for row in found if len(row) == 8 and row[2] == event]


def agree(life: emulated.Life) -> None:
    assert life.state.differing == 0
    assert life.chip_log == life.host_log
    assert not life.memories_differ
    life.end()


@pytest.mark.parametrize("date", DATES, ids=str)
@pytest.mark.parametrize("name", CHIPS)
def test_it_is_read_over_midnight_and_set(name: str, date: dt.date) -> None:
    life = emulated.Life(name, 2027, date, 86_400 - 90)
    life.run(light(120))
    life.say("s\r")
    life.run(light(5))
    following = date + dt.timedelta(1)
    assert rows(life, "start")[0][0] == date.isoformat() and rows(life, "start")[0][1].startswith("23:58:")
    assert rows(life, "quarter")[-1][0] == following.isoformat()
    assert rows(life, "quarter")[-1][1].startswith("00:00:")
    life.say(f"t {date.isoformat()} 23:59:50\r")
    life.run(light(30))
    life.power_cut()
    life.run(light(5))
    assert rows(life, "start")[-1][0] == following.isoformat()
    agree(life)


@pytest.mark.parametrize("name", CHIPS)
def test_the_pulse_steps_the_program_and_lets_it_sleep(name: str) -> None:
    life = emulated.Life(name, 2027, DATES[0], NOON_S)
    life.run(light(300))
    assert int(life.state.steps) == 300
    assert life.asleep_cycles(2) > 0.9 * 280 * 16_000_000
    agree(life)


@pytest.mark.parametrize("name", CHIPS)
def test_one_that_has_stopped_is_not_believed_until_it_is_set(name: str) -> None:
    life = emulated.Life(name, 2027, DATES[0], NOON_S)
    life.clock_fault(stopped=True)
    life.power_cut()
    life.run(light(60))
    assert rows(life, "start")[-1][:2] == ["", ""]
    life.say("t 2027-04-11 12:02:00\r")
    life.run(light(120))
    assert rows(life, "clock")[-1][0] == "2027-04-11"
    life.power_cut()
    life.run(light(5))
    assert rows(life, "start")[-1][0] == "2027-04-11"
    life.end()


@pytest.mark.parametrize("name", CHIPS)
def test_one_that_is_absent_is_noticed(name: str) -> None:
    life = emulated.Life(name, 2027, DATES[0], NOON_S)
    life.run(light(150))
    life.clock_fault(absent=True)
    life.run(light(120))
    assert rows(life, "alarm")[-1][7] == "clock_step"
    life.end()


@pytest.mark.parametrize("name", CHIPS)
def test_a_low_backup_cell_is_said_by_the_chip_that_knows(name: str) -> None:
    life = emulated.Life(name, 2027, DATES[0], NOON_S)
    life.run(light(150))
    life.clock_cell(low=True)
    life.run(light(90))
    said = [row[7] for row in rows(life, "alarm")]
    assert said == (["clock_cell"] if name.endswith("pcf8523") else [])
    life.clock_cell(low=False)
    life.run(light(90))
    assert [row[7] for row in rows(life, "alarm")][1:] == ([""] if name.endswith("pcf8523") else [])
    agree(life)
