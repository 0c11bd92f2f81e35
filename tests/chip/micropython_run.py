"""Days of a shipped configuration under MicroPython, beside the C program: `python -m tests.chip.micropython_run`.

The C program lives the days on this computer; each second's inputs are written down and fed to the rules as the board
has them. Prints days, seconds, differing seconds and heap; exit status 1 if anything differs. Whole: twelve days of
each of the five sites, one a month, 5 to 12 min of one core. Every day of a year but its last nine, in twelve lives of
a month: `larch_end --first 0 --in-a-row 31`, half an hour of one core. A year as one life: `larch_end --days 1 --first
0 --in-a-row 365`.
"""

from __future__ import annotations

import argparse
import dataclasses
import resource
import sys
import tempfile
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from sunsched.emit import micropython_folder
from sunsched.hardware.board_proofs import Proof
from sunsched.hardware.boards import BOARDS
from sunsched.hardware.pins import pins_on
from sunsched.job.compact import packed
from sunsched.job.firmware_folder import machine_of
from tests.chip import sites, skies
from tests.chip.recording import YEAR, Recording
from tests.support import board_proofs, micropython, toolchain

SCRIPT = toolchain.HERE / "micropython" / "decisions.py"


class Lived(NamedTuple):
    """A run: seconds, how many differ, the first in words; heap in use at its start, at most and at its end [bytes]."""

    seconds: int
    differing: int
    words: list[str]
    heap_bytes: tuple[int, int, int]


def board_folder(name: str, year: int, folder: Path, board: str = "micropython-rp2040") -> None:
    """The program's folder of a shipped site for a board, with its exact table of one year."""
    built = sites.built(name, year)
    machine = machine_of(built, name)
    machine = dataclasses.replace(machine, board=BOARDS[board], pins=pins_on(BOARDS[board]))
    table = packed([built]).table
    for file, content in micropython_folder.files(built.plan, [table], built.stamp, machine).items():
        (folder / file).parent.mkdir(parents=True, exist_ok=True)
        (folder / file).write_bytes(content)


def compared(
    name: str, record: NDArray[Any], folder: Path, timeout_s: float = 3600, board: str = "micropython-rp2040"
) -> Lived:
    """The recorded seconds, decided again under MicroPython and compared there, each with every output."""
    board_folder(name, YEAR, folder, board)
    (folder / "record.bin").write_bytes(record.tobytes())
    *words, last = micropython.run(folder, SCRIPT.read_text(), timeout_s=timeout_s)
    seconds, differing, *heap = (int(word) for word in last.split()[1:])
    if seconds != record["seconds"].sum():
        words.append(f"{seconds} seconds of {record['seconds'].sum()}")
        differing += 1
    return Lived(seconds, differing, words, (heap[0], heap[1], heap[2]))


class Tally:
    """What the runs on a board's folder add up to."""

    def __init__(self, board: str) -> None:
        self.board = board
        self.sites: set[str] = set()
        self.days = self.seconds = self.moves = self.wrong = self.folder_bytes = self.heap_bytes = 0
        self.step_us = float("inf")

    def live(self, name: str, row: int, kinds: list[skies.Kind]) -> Lived:
        """Lead one run and add it."""
        run = Recording(name, row, kinds)
        began = resource.getrusage(resource.RUSAGE_CHILDREN).ru_utime
        with tempfile.TemporaryDirectory() as place:
            folder = Path(place)
            lived = compared(name, run.record, folder, 600 + 60 * len(kinds), self.board)
            own = [path for path in folder.rglob("*") if path.is_file() and path.name not in ("record.bin", "script")]
            self.folder_bytes = max(self.folder_bytes, sum(path.stat().st_size for path in own))
        taken_s = resource.getrusage(resource.RUSAGE_CHILDREN).ru_utime - began
        self.step_us = min(self.step_us, taken_s / lived.seconds * 1e6)
        self.sites.add(name)
        self.days += len(kinds)
        self.seconds += lived.seconds
        self.moves += run.moves
        self.wrong += lived.differing + len(run.misjudged)
        self.heap_bytes = max(self.heap_bytes, *lived.heap_bytes)
        return lived

    def proof(self, command: str) -> Proof:
        """As the package keeps it; the time a step is this computer's processor's, of the quickest run."""
        return Proof(
            board=self.board,
            part="program",
            executed_on=f"MicroPython {micropython.version()}, WebAssembly",
            compiled_with=f"MicroPython {micropython.version()}",
            command=command,
            beside="the C program on a computer, fed the same seconds: the rules alone",
            sites=len(self.sites),
            days=self.days,
            decisions=self.seconds,
            moves=self.moves,
            differing=self.wrong,
            flash_bytes=self.folder_bytes,
            ram_bytes=self.heap_bytes,
            step_us=round(self.step_us),
        )


def main(arguments: list[str]) -> int:
    """Live the days asked for."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("names", nargs="*", default=sites.SHIPPED)
    parser.add_argument("--days", type=int, default=12, help="of the year, evenly spread")
    parser.add_argument("--first", type=int, default=10, help="day of the year on which the first run begins, from 0")
    parser.add_argument("--in-a-row", type=int, default=1, help="days of a run")
    parser.add_argument("--board", default="micropython-rp2040", help="whose folder")
    parser.add_argument("--write", action="store_true", help="put the figures into the package, run by run")
    asked = parser.parse_args(arguments)
    tally = Tally(asked.board)
    words = " ".join(["python -m tests.chip.micropython_run", *(word for word in arguments if word != "--write")])
    n_days = sites.built(asked.names[0], YEAR).plan.n_days
    kinds = skies.kinds_of_days(n_days, 1)
    last = max(asked.first, n_days - 9 - asked.in_a_row)
    for row in np.linspace(asked.first, last, asked.days).astype(int).tolist():
        for name in asked.names:
            lived = tally.live(name, row, kinds[row : row + asked.in_a_row])
            what = kinds[row] if asked.in_a_row == 1 else f"and {asked.in_a_row - 1} after it"
            print(
                f"{name} day {row} {what}: {lived.seconds} s, {lived.differing} differ, {tally.step_us:.0f} us a step,"
                f" heap {lived.heap_bytes}",
                *lived.words,
                sep="\n    ",
                flush=True,
            )
            if asked.write and not tally.wrong:
                board_proofs.put([tally.proof(words)])
    print(f"{tally.days} days, {tally.seconds} s, {tally.moves} moves, {tally.wrong} wrong")
    return int(tally.wrong > 0)


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
