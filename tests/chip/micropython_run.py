"""Days of a shipped configuration under MicroPython, beside the C program: `python -m tests.chip.micropython_run`.

The C program lives the days on this computer; each second's inputs are written down and fed to the rules as the board
has them. Prints days, seconds, differing seconds and heap; exit status 1 if anything differs. Whole: twelve days of
each of the five sites, one a month, 8 to 12 min of one core. A year of one site as one life, an hour of one core:
`python -m tests.chip.micropython_run larch_end --days 1 --first 0 --in-a-row 365`.
"""

from __future__ import annotations

import argparse
import dataclasses
import sys
import tempfile
import time
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from sunsched.emit import micropython_folder
from sunsched.hardware.boards import BOARDS
from sunsched.hardware.pins import pins_on
from sunsched.job.compact import packed
from sunsched.job.firmware_folder import machine_of
from tests.chip import sites, skies
from tests.chip.recording import YEAR, recorded
from tests.support import micropython, toolchain

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


def compared(name: str, record: NDArray[Any], folder: Path, timeout_s: float = 3600) -> Lived:
    """The recorded seconds, decided again under MicroPython and compared there, each with every output."""
    board_folder(name, YEAR, folder)
    (folder / "record.bin").write_bytes(record.tobytes())
    *words, last = micropython.run(folder, SCRIPT.read_text(), timeout_s=timeout_s)
    seconds, differing, *heap = (int(word) for word in last.split()[1:])
    if seconds != record["seconds"].sum():
        words.append(f"{seconds} seconds of {record['seconds'].sum()}")
        differing += 1
    return Lived(seconds, differing, words, (heap[0], heap[1], heap[2]))


def main() -> int:
    """Live the days asked for."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("names", nargs="*", default=sites.SHIPPED)
    parser.add_argument("--days", type=int, default=12, help="of the year, evenly spread")
    parser.add_argument("--first", type=int, default=10, help="day of the year on which the first run begins, from 0")
    parser.add_argument("--in-a-row", type=int, default=1, help="days of a run")
    asked = parser.parse_args()
    wrong = 0
    for name in asked.names:
        plan = sites.built(name, YEAR).plan
        kinds = skies.kinds_of_days(plan.n_days, 1)
        last = max(asked.first, plan.n_days - 9 - asked.in_a_row)
        for row in np.linspace(asked.first, last, asked.days).astype(int).tolist():
            record = recorded(name, row, kinds[row : row + asked.in_a_row])
            began = time.perf_counter()
            with tempfile.TemporaryDirectory() as folder:
                lived = compared(name, record, Path(folder), timeout_s=600 + 60 * asked.in_a_row)
            step_us = (time.perf_counter() - began) / lived.seconds * 1e6
            wrong += lived.differing
            figures = (
                f"{lived.seconds} s, {lived.differing} differ, {step_us:.0f} us a step here, heap {lived.heap_bytes}"
            )
            print(f"{name} day {row} {kinds[row]}: {figures}")
            print(*lived.words, sep="\n    ", end="\n" if lived.words else "", flush=True)
    return int(wrong > 0)


if __name__ == "__main__":
    sys.exit(main())
