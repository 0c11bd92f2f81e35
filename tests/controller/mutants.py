"""Small changes to the core's text, one at a time, and whether the recorded days tell them from the core.

`python tests/controller/mutants.py [--every N] [--from K]` prints each survivor with its line, and the count. A mutant
is killed when any second of any vector differs from what the core, and with it the twin, says.
"""

from __future__ import annotations

import argparse
import ctypes
import datetime as dt
import hashlib
import multiprocessing
import re
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import stress
from core_library import CORE, CORE_FILES, DRIVERS
from trial_runner import CoreRunner, use_table
from twin_replay import IN_DTYPE, OUT_DTYPE
from vectors import VECTORS, Vector, place, settings_of, world_of

from sunsched.controller.door_state import DayRow
from sunsched.study.fault_nights import World

SWAPS = (
    (r"<=", ("<", ">=")), (r">=", (">", "<=")), (r"(?<![<>=!-])<(?![<=])", ("<=", ">")),
    (r"(?<![<>=!-])>(?![>=])", (">=", "<")), (r"==", ("!=",)), (r"!=", ("==",)), (r"&&", ("||",)), (r"\|\|", ("&&",)),
    (r"(?<=\w\)) \+ |(?<=\w) \+ ", (" - ",)), (r"(?<=\w) - (?=\w)", (" + ",)), (r"\+\+", ("--",)), (r"\|=", ("&=",)),
    (r"(?<=[ (])!(?=[\w(])", ("",)), (r"(?<=[ (=\-])(\d+)(?=u?[ ;,)])", ("+1", "-1")),
    (r"= 1;", ("= 0;",)), (r"= 0;", ("= 1;",)),
    (r"LATCH_DOWN", ("LATCH_NONE",)), (r"LATCH_UP", ("LATCH_NONE",)), (r"FALL_NATURAL", ("FALL_ABRUPT",)),
    (r"DOOR_WANT_DOWN", ("DOOR_WANT_UP",)), (r"DOOR_WANT_UP", ("DOOR_WANT_DOWN",)), (r"PLACE_UP", ("PLACE_UNKNOWN",)),
    (r"PLACE_DOWN", ("PLACE_UNKNOWN",)),
)  # fmt: skip
FORK = multiprocessing.get_context("fork")
LIMIT_S = 90.0
CENTURY, DAYS_OF_CENTURY = dt.date(2000, 1, 1), 36_525
_KNOWN: dict[str, Any] = {}
BY_NAME = {vector.name: vector for vector in VECTORS}
_ROWS: dict[str, tuple[list[DayRow], int]] = {}
FLAGS = ("-std=c99", "-O1", "-w", "-shared", "-fPIC")


@dataclass(frozen=True)
class Mutant:
    """One changed line of one file."""

    file: str
    line: int
    was: str
    now: str

    def __str__(self) -> str:
        return f"{self.file}:{self.line + 1}: {self.was.strip()}  ->  {self.now.strip()}"


def _changes(line: str) -> Iterator[str]:
    for pattern, choices in SWAPS:
        for match in re.finditer(pattern, line):
            for choice in choices:
                text = str(max(0, int(match[0]) + int(choice))) if choice in ("+1", "-1") else choice
                if text != match[0]:
                    yield line[: match.start()] + text + line[match.end() :]


def mutants() -> list[Mutant]:
    """Every change of every line that decides something: not comments, not includes, not declarations."""
    found = []
    for name in CORE_FILES:
        text = (CORE / name).read_text()
        code = re.sub(r"/\*.*?\*/", lambda match: re.sub(r"[^\n]", " ", match[0]), text, flags=re.DOTALL).splitlines()
        for number, line in enumerate(code):
            if not line.strip() or line.startswith(("#", "static", "uint", "int", "void")):
                continue
            found += [Mutant(name, number, line, now) for now in dict.fromkeys(_changes(line))]
    return found


def place_rows(vector: Vector) -> tuple[list[DayRow], int]:
    """The table of a vector's place and its first day."""
    return _ROWS[vector.name]


def _digest(library: ctypes.CDLL, vector: Vector, world: World, own_ppm: int) -> str:
    """What the core says in every second of a vector, as one fingerprint."""
    here = place_rows(vector)
    rows = use_table(*here, library)
    room = (len(world) - 1) * 61
    arrays = (np.zeros(room, IN_DTYPE), np.zeros(room, OUT_DTYPE), np.zeros(room, np.uint8))
    library.trial_record(*(one.ctypes.data_as(ctypes.c_void_p) for one in arrays), room)
    CoreRunner(settings_of(vector), cord_mm=100.0, library=library).run(world, own_ppm)
    n = library.trial_recorded()
    del rows
    return hashlib.blake2b(arrays[1][:n].tobytes()).hexdigest()


def _compiled(folder: Path, core: Path) -> Path:
    library = folder / "core.so"
    sources = [str(core / name) for name in CORE_FILES] + [str(DRIVERS / "door_trial.c")]
    subprocess.run(["gcc", *FLAGS, f"-I{core}", f"-I{DRIVERS}", "-o", str(library), *sources, "-lm"], check=True)
    return library


def killed_by(mutant: Mutant) -> str:
    """The first vector that tells the mutant from the core; "compiler" if it is no C; empty if it survives."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        core = folder / "core"
        shutil.copytree(CORE, core, ignore=lambda _, names: [one for one in names if not one.startswith("door_")])
        lines = (core / mutant.file).read_text().splitlines()
        lines[mutant.line] = mutant.now
        (core / mutant.file).write_text("\n".join(lines) + "\n")
        try:
            built = _compiled(folder, core)
        except subprocess.CalledProcessError:
            return "compiler"
        return _run_apart(built)


def _run_apart(built: Path) -> str:
    """In a process of its own, with a limit: a changed loop may never end, a changed index may crash."""
    answer, told = FORK.Pipe(duplex=False)
    child = FORK.Process(target=lambda: told.send(_judge(str(built))))
    child.start()
    told.close()
    child.join(LIMIT_S)
    if child.is_alive():
        child.kill()
        child.join()
        return "time"
    return str(answer.recv()) if child.exitcode == 0 else "crash"


def day_numbers(library: ctypes.CDLL) -> list[int]:
    """The core's day number of every date of the century."""
    library.door_day_number.restype = ctypes.c_uint16
    dates = (CENTURY + dt.timedelta(days=day) for day in range(DAYS_OF_CENTURY))
    return [library.door_day_number(date.year - 2000, date.month, date.day) for date in dates]


def _judge(built: str) -> str:
    """The first vector in which the library says something else than the core; the quick ones first."""
    library = ctypes.CDLL(built)
    if day_numbers(library) != list(range(DAYS_OF_CENTURY)):
        return "dates"
    if stress.digest(library, _KNOWN["stretches"]) != _KNOWN["stress"]:
        return "stress"
    for vector, world, own_ppm, digest, rows in _KNOWN["days"]:
        _ROWS[vector] = rows
        if _digest(library, BY_NAME[vector], world, own_ppm) != digest:
            return str(vector)
    return ""


def learn_the_core(n_stretches: int = stress.N_STRETCHES, vectors: Sequence[Vector] = VECTORS) -> None:
    """What the unchanged core says, for the processes that judge."""
    with tempfile.TemporaryDirectory() as name:
        library = ctypes.CDLL(str(_compiled(Path(name), CORE)))
        days = []
        stretches = stress.packed_stretches(n_stretches)
        for vector in vectors:
            world, own_ppm = world_of(vector)
            here = place(vector.site)
            _ROWS[vector.name] = (here.rows, here.first_day)
            days.append((vector.name, world, own_ppm, _digest(library, vector, world, own_ppm), _ROWS[vector.name]))
        _KNOWN.update(stretches=stretches, stress=stress.digest(library, stretches), days=days)


def main(words: list[str] | None = None) -> int:
    """Run the mutants and print the survivors."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--every", type=int, default=1)
    parser.add_argument("--first", type=int, default=0)
    parser.add_argument("--processes", type=int, default=2)
    asked = parser.parse_args(words)
    learn_the_core()
    surviving(mutants()[asked.first :: asked.every], asked.processes)
    return 0


def surviving(chosen: list[Mutant], processes: int = 2) -> list[Mutant]:
    """Try the mutants, print the survivors and the count, return the survivors."""
    left = []
    with ProcessPoolExecutor(processes, FORK) as pool:  # no threads: a fork from one may find a lock held
        for mutant, killer in zip(chosen, pool.map(killed_by, chosen), strict=True):
            if not killer:
                left.append(mutant)
                print(mutant, flush=True)
    print(f"{len(chosen)} mutants, {len(chosen) - len(left)} killed, {len(left)} survive", flush=True)
    return left


if __name__ == "__main__":
    sys.exit(main())
