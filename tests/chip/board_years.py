"""Each 8-bit board lives days of a year: `python -m tests.chip.board_years [BOARD ...] [--write]`.

Twelve stretches of two days at each of the five shipped sites, one a month, those of the clock changes in their
months; the first day clear, so that the program proves its clock, the second of each weather in turn. The chip lives
beside the same program built for this computer: motor every second, log and EEPROM at each stretch's end, every move
judged against plan and light. Before that, each motor driver with its limits (test_drivers.py). `--write` puts what was
seen into the package (sunsched/hardware/board_proofs.json). Exit status 1 if anything differed; about 3 min of one core
for each board.
"""

from __future__ import annotations

import argparse
import datetime as dt
import itertools
import sys
from functools import partial
from zoneinfo import ZoneInfo

from sunsched.hardware.board_proofs import Proof
from sunsched.hardware.boards import AVR_PROGRAM, BOARDS, Board
from sunsched.job.board_list import sources_of
from tests.chip import judge, sites, skies, test_drivers
from tests.chip.emulated import chip_program
from tests.chip.runs import ChipRun
from tests.support import board_proofs, toolchain

YEAR = 2027
DAYS = 2
BOARD_NAMES = [board.name for board in BOARDS.values() if board.program == AVR_PROGRAM]
BESIDE = "the same program on a computer; moves: plan and light"


def name_of(site: str, board: str) -> str:
    """A shipped site on a board, as `sites.built` knows it."""
    return f"{site}+{board}"


def stretches(site: str) -> list[tuple[dt.date, list[skies.Kind]]]:
    """First day and weather of each stretch at a site."""
    zone = ZoneInfo(sites.built(site, YEAR).configuration.site.zone)
    found = []
    for month in range(1, 13):
        first = _before_clock_change(zone, month) or dt.date(YEAR, month, 1 + (5 * month) % 26)
        kinds: list[skies.Kind] = ["clear", skies.KINDS[month % len(skies.KINDS)]]
        found.append((first, kinds))
    return found


def _before_clock_change(zone: ZoneInfo, month: int) -> dt.date | None:
    """The day before the one on which the zone's clocks change in a month."""
    first = dt.date(YEAR, month, 1)
    noons = [dt.datetime.combine(first + dt.timedelta(n), dt.time(12), zone) for n in range(-1, 31)]
    changed = (b.date() for a, b in itertools.pairwise(noons) if a.utcoffset() != b.utcoffset())
    return next((day - dt.timedelta(1) for day in changed if day.month == month and day.day > 1), None)


class Tally:
    """What a board's stretches add up to."""

    def __init__(self, sources: str = "") -> None:
        """sources   the digest of the program's text that is lived with."""
        self.sources = sources
        self.seconds = self.steps = self.moves = self.awake_cycles = 0
        self.flash_bytes = self.ram_bytes = self.stack_bytes = 0
        self.wrong: list[str] = []

    def live(self, site: str, board: str, date: dt.date, kinds: list[skies.Kind]) -> None:
        """Lead one stretch and add it."""
        name = name_of(site, board)
        run = ChipRun(name, YEAR, sites.built(name, YEAR).plan.row(date), kinds)
        run.run()
        flash_bytes, ram_bytes = toolchain.avr_sizes(chip_program(name, YEAR))
        self.wrong += [f"{site} {date}: {one}" for one in (*run.faults(), *run.differences())]
        self.seconds += int(run.life.state.seconds)
        self.steps += int(run.life.state.steps)
        self.moves += len(judge.moves_of(run.life.events(), run.first_s))
        self.awake_cycles += run.life.awake_cycles()
        self.flash_bytes = max(self.flash_bytes, flash_bytes)
        self.ram_bytes = max(self.ram_bytes, ram_bytes)
        self.stack_bytes = max(self.stack_bytes, run.life.stack_bytes(ram_bytes))
        run.life.end()

    def proof(self, board: Board) -> Proof:
        """As the package keeps it."""
        return Proof(
            board=board.name,
            part="program",
            executed_on=toolchain.simavr_words(),
            compiled_with=toolchain.avr_gcc_words(),
            command="python -m tests.chip.board_years",
            beside=BESIDE,
            sites=len(sites.SHIPPED),
            days=self.seconds // 86_400,
            decisions=self.steps,
            moves=self.moves,
            differing=len(self.wrong),
            flash_bytes=self.flash_bytes,
            ram_bytes=self.ram_bytes,
            stack_bytes=self.stack_bytes,
            step_cycles=round(self.awake_cycles / self.seconds),
            sources=self.sources,
        )


def driven_amiss(board: str) -> list[str]:
    """What the board's pins do wrong with each driver: runs, a turn in mid-run, an end switch that glitches."""
    found = []
    for part in ("", "+direction", "+relays", "+closed"):
        name = name_of("larch_end", board) + part
        trials = [
            partial(test_drivers.test_it_lowers_and_raises_within_its_limits, name),
            partial(test_drivers.test_turning_round_in_mid_run_waits_for_the_dead_time, name),
        ]
        for hand, wire in ((test_drivers.HAND_UP, test_drivers.TOP), (test_drivers.HAND_DOWN, test_drivers.BOTTOM)):
            glitch = test_drivers.test_a_glitch_of_two_milliseconds_cuts_the_motor_and_lets_it_go_on
            trials.append(partial(glitch, name, hand, wire))
        for trial in trials:
            try:
                trial()
            except AssertionError as error:
                found.append(f"{name}, {trial.func.__name__}: {error}")
    return found


def lived(board: str) -> Tally:
    """All stretches of a board, with a line for each site."""
    tally = Tally(sources_of(BOARDS[board]))
    tally.wrong += driven_amiss(board)
    print(f"{board}: drivers, {len(tally.wrong)} wrong", flush=True)
    for site in sites.SHIPPED:
        for date, kinds in stretches(site):
            tally.live(site, board, date, kinds)
        print(f"{board}, {site}: {tally.seconds // 86_400} days so far, {tally.moves} moves", flush=True)
    if tally.sources != sources_of(BOARDS[board]):
        tally.wrong.append("the program's text has changed meanwhile")
    print(f"{board}: {len(tally.wrong)} wrong", *tally.wrong[:20], sep="\n    ", flush=True)
    return tally


def main() -> int:
    """Live the boards asked for, one after the other."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("boards", nargs="*", default=BOARD_NAMES, help="default: all 8-bit boards")
    parser.add_argument("--write", action="store_true", help="put the figures into the package")
    asked = parser.parse_args()
    wrong = 0
    for board in asked.boards:
        tally = lived(board)
        wrong += len(tally.wrong)
        if asked.write and not tally.wrong:
            board_proofs.put([tally.proof(BOARDS[board])])
    return int(wrong > 0)


if __name__ == "__main__":
    sys.exit(main())
