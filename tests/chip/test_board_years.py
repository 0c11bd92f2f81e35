"""A day of each 8-bit board on its emulated chip, at one site; the whole is `python -m tests.chip.board_years`."""

from __future__ import annotations

import datetime as dt
import re

import pytest

from sunsched.hardware.boards import BOARDS
from tests.chip import board_years, sites, skies
from tests.chip.emulated import chip_program
from tests.support import toolchain

# The day that a board lives, its weather, and the most that a boot loader can take [bytes]: the data sheets' largest
# boot section. The ATmega328P at 16 MHz lives in test_life.py.
CASES: dict[str, tuple[dt.date, skies.Kind, int]] = {
    "atmega328p-8mhz": (dt.date(2027, 3, 28), "clear", 2048),
    "atmega1284p": (dt.date(2027, 6, 20), "dull", 8192),
    "atmega644p": (dt.date(2027, 9, 14), "storm", 8192),
    "atmega2560": (dt.date(2027, 10, 31), "passing_lamps", 8192),
    "atmega32u4": (dt.date(2027, 12, 20), "snow", 4096),
}


def test_every_board_is_lived() -> None:
    assert {*CASES, "atmega328p"} == {*board_years.BOARD_NAMES}, "a board of the registry wants a line in CASES"


@pytest.mark.parametrize("board", CASES)
def test_a_day_on_the_board_is_lived_as_on_the_computer_and_as_planned(board: str) -> None:
    date, kind, _ = CASES[board]
    tally = board_years.Tally()
    tally.live("larch_end", board, date, [kind])
    assert tally.wrong == []
    assert (tally.steps, tally.moves > 1) == (86_400, True)


@pytest.mark.parametrize("board", CASES)
def test_the_tables_have_the_room_that_the_registry_says(board: str) -> None:
    loader_bytes = CASES[board][2]
    name, room = board_years.name_of("larch_end", board), BOARDS[board].tables_bytes
    elf = chip_program(name, board_years.YEAR)
    tables = int(re.findall(r"DOOR_TABLES_BYTES (\d+)", (elf.parent / "door_table.h").read_text())[0])
    assert toolchain.avr_sizes(elf)[0] - tables + room <= BOARDS[board].flash_bytes - loader_bytes
    # door_image.h: an address in flash has 15 bits. The linker puts vectors, tables and texts first, then this symbol.
    lines = toolchain.run(["avr-nm", elf]).stdout.splitlines()
    place = {line.split()[-1]: int(line.split()[0], 16) for line in lines if len(line.split()) == 3}
    (begin,) = [at for name, at in place.items() if name.split(".")[0] == "door_tables"]
    end = place["__ctors_start"]
    assert begin + tables < end
    assert end - tables + room < 0x8000


def test_the_days_of_a_site_lie_in_every_month_and_over_both_clock_changes() -> None:
    days = {site: [first for first, _ in board_years.stretches(site)] for site in sites.SHIPPED}
    assert all([first.month for first in firsts] == [*range(1, 13)] for firsts in days.values())
    # Europe: last Sundays of March and October; New Zealand: last of September, first of April.
    assert {dt.date(2027, 3, 27), dt.date(2027, 10, 30)} <= {*days["larch_end"]}
    assert {dt.date(2027, 4, 3), dt.date(2027, 9, 25)} <= {*days["tussock_flat"]}
