"""Days of a shipped configuration under MicroPython, beside the C program: `python -m tests.chip.micropython_run`.

The C program lives the days on this computer; each second's inputs are written down and fed to the rules as the board
has them. Prints days, seconds, differing seconds and heap; exit status 1 if anything differs. Whole: twelve days of
each of the five sites, one a month, 8 to 12 min of one core.
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
from tests.chip import runs, sites, skies
from tests.support import micropython, toolchain

YEAR = 2027
_INPUT_CODES = ("<u2", "<u2", "<i2", "u1", "u1", "u1", "u1", "u1", "u1", "u1")
_OUTPUT_CODES = ("u1", "u1", "u1", "u1", "u1", "u1", "<u2", "<u2", "<u2")
_INPUT = np.dtype([*zip(runs.Twin.INPUTS, _INPUT_CODES, strict=True)])
_OUTPUT = np.dtype([*zip(runs.Twin.COLUMNS, _OUTPUT_CODES, strict=True)])
SCRIPT = toolchain.HERE / "micropython" / "decisions.py"


class Lived(NamedTuple):
    """A run: seconds, the first that differ in words, and heap in use at its start, at most and at its end [bytes]."""

    seconds: int
    differing: list[str]
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


def recorded(name: str, row: int, kinds: list[skies.Kind]) -> NDArray[Any]:
    """Inputs and outputs of the C program, second by second, from solar noon of a day of the year on."""
    life = runs.ChipRun(name, YEAR, row, kinds, chip=False)
    life.run(recorded=True)
    life.life.end()
    return np.concatenate(life.recorded)


def compared(name: str, record: NDArray[Any], folder: Path) -> Lived:
    """The recorded seconds, decided again under MicroPython."""
    board_folder(name, YEAR, folder)
    inputs = np.zeros(len(record), _INPUT)
    for column in _INPUT.names or ():
        inputs[column] = record[column]
    (folder / "inputs.bin").write_bytes(inputs.tobytes())
    said = micropython.run(folder, SCRIPT.read_text(), "outputs.bin", timeout_s=3600)
    heap = tuple(int(word) for word in said[-1].split()[1:])
    outputs = np.frombuffer((folder / "outputs.bin").read_bytes(), _OUTPUT)
    if len(outputs) != len(record):
        return Lived(len(outputs), [f"{len(outputs)} seconds of {len(record)}"], (heap[0], heap[1], heap[2]))
    apart = np.zeros(len(record), bool)
    for column in _OUTPUT.names or ():
        apart |= outputs[column] != record[column]
    found = [f"second {at}: {record[at]} {outputs[at]}" for at in np.flatnonzero(apart)[:3].tolist()]
    return Lived(len(record), found, (heap[0], heap[1], heap[2]))


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
                lived = compared(name, record, Path(folder))
            step_us = (time.perf_counter() - began) / lived.seconds * 1e6
            wrong += len(lived.differing)
            figures = f"{lived.seconds} s, {step_us:.0f} us a step here, heap {lived.heap_bytes}"
            print(f"{name} day {row} {kinds[row]}: {figures}")
            print(*lived.differing, sep="\n    ", end="\n" if lived.differing else "", flush=True)
    return int(wrong > 0)


if __name__ == "__main__":
    sys.exit(main())
