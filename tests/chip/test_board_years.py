"""A day of each 8-bit board on its emulated chip, at one site; the whole is `python -m tests.chip.board_years`."""

from __future__ import annotations

import datetime as dt

import pytest

from tests.chip import board_years, sites, skies

# The ATmega328P at 16 MHz lives in test_life.py.
CASES: dict[str, tuple[dt.date, skies.Kind]] = {
    "atmega328p-8mhz": (dt.date(2027, 3, 28), "clear"),
    "atmega1284p": (dt.date(2027, 6, 20), "dull"),
    "atmega2560": (dt.date(2027, 10, 31), "passing_lamps"),
    "atmega32u4": (dt.date(2027, 12, 20), "snow"),
}


def test_every_board_is_lived() -> None:
    assert {*CASES, "atmega328p"} == {*board_years.BOARD_NAMES}


@pytest.mark.parametrize("board", CASES)
def test_a_day_on_the_board_is_lived_as_on_the_computer_and_as_planned(board: str) -> None:
    date, kind = CASES[board]
    tally = board_years.Tally()
    tally.live("larch_end", board, date, [kind])
    assert tally.wrong == []
    assert (tally.steps, tally.moves > 1) == (86_400, True)


def test_the_days_of_a_site_lie_in_every_month_and_over_both_clock_changes() -> None:
    days = {site: [first for first, _ in board_years.stretches(site)] for site in sites.SHIPPED}
    assert all([first.month for first in firsts] == [*range(1, 13)] for firsts in days.values())
    # Europe: last Sundays of March and October; New Zealand: last of September, first of April.
    assert {dt.date(2027, 3, 27), dt.date(2027, 10, 30)} <= {*days["larch_end"]}
    assert {dt.date(2027, 4, 3), dt.date(2027, 9, 25)} <= {*days["tussock_flat"]}
