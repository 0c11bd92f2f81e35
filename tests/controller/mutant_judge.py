"""Builds a changed core and finds the first input that tells it from the core; the quick inputs come first."""

from __future__ import annotations

import ctypes
import datetime as dt
import hashlib
import multiprocessing
import resource
import signal
import subprocess
import time
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from functools import cache
from itertools import chain
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import numpy as np

from tests.controller import moments_lived, stress
from tests.controller.core_library import CORE, CORE_FILES, DRIVERS
from tests.controller.moments import N_MOMENTS
from tests.controller.trial_runner import CoreRunner, use_table
from tests.controller.twin_replay import IN_DTYPE, OUT_DTYPE
from tests.controller.vectors import VECTORS, Vector, place, settings_of, world_of

FORK = multiprocessing.get_context("fork")
FLAGS = ("-std=c99", "-O1", "-w", "-fPIC")
CENTURY, DAYS_OF_CENTURY = dt.date(2000, 1, 1), 36_525
DATES = [CENTURY + dt.timedelta(days=day) for day in range(DAYS_OF_CENTURY)]
SAME_CODE, NO_C = "same code", "no C"
TIME_FACTOR, TIME_ROOM_S = 3, 2  # a changed loop may never end


@cache
def core_text(name: str) -> str:
    """A file of the core, read once: it may be edited while the changes are tried."""
    return (CORE / name).read_text()


class Build:
    """The core's objects, compiled once; a changed file is compiled alone, a changed header with all of them."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self._headers = {name: core_text(name) for name in ("door_inner.h", "door_decision.h")}
        for name, text in self._headers.items():
            (folder / name).write_text(text)
        self._texts = {name: core_text(name) for name in CORE_FILES}
        self._core = {name: self._compiled(text) for name, text in self._texts.items()}
        self._driver = self._compiled((DRIVERS / "door_trial.c").read_text())
        self._objects = dict(self._core)

    def core_code(self) -> bytes:
        """The unchanged core's own code, as `changed` tells it."""
        return b"".join(self._core.values())

    def changed(self, name: str, text: str) -> bytes | None:
        """Compile with one file changed: the machine code of all, or None if it is no C."""
        try:
            if name in CORE_FILES:
                self._objects = self._core | {name: self._compiled(text)}
            else:
                (self.folder / name).write_text(text)
                self._objects = {one: self._compiled(source) for one, source in self._texts.items()}
        except subprocess.CalledProcessError:
            return None
        finally:
            if name in self._headers:
                (self.folder / name).write_text(self._headers[name])
        return b"".join(self._objects.values())

    def linked(self) -> ctypes.CDLL:
        """What was compiled last, as a library under a name of its own."""
        files = []
        for name, code in (*self._objects.items(), ("door_trial.c", self._driver)):
            files.append(self.folder / f"{name}.o")
            files[-1].write_bytes(code)
        library = self.folder / f"{time.monotonic_ns()}.so"
        subprocess.run(["gcc", "-shared", "-o", str(library), *map(str, files), "-lm"], check=True)
        found = ctypes.CDLL(str(library))
        library.unlink()
        return found

    def _compiled(self, text: str) -> bytes:
        code = self.folder / "code.o"
        places = (f"-I{self.folder}", f"-I{DRIVERS}")
        command = ["gcc", *FLAGS, "-x", "c", "-c", "-o", str(code), *places, "-"]
        subprocess.run(command, check=True, input=text.encode(), stderr=subprocess.DEVNULL)
        return code.read_bytes()


def day_numbers(library: ctypes.CDLL) -> list[int]:
    """The core's day number of every date of the century."""
    library.door_day_number.restype = ctypes.c_uint16
    return [library.door_day_number(date.year - 2000, date.month, date.day) for date in DATES]


@dataclass(frozen=True)
class Day:
    """A vector with its world, worked out once."""

    vector: Vector
    world: Any
    own_ppm: int


def _day_print(library: ctypes.CDLL, day: Day) -> str:
    """What the core says in every second of a vector, and its state at the end, as one fingerprint."""
    here = place(day.vector.site)
    rows = use_table(here.rows, here.first_day, library)
    room = (len(day.world) - 1) * 61
    arrays = (np.zeros(room, IN_DTYPE), np.zeros(room, OUT_DTYPE), np.zeros(room, np.uint8))
    library.trial_record(*(one.ctypes.data_as(ctypes.c_void_p) for one in arrays), room)
    runner = CoreRunner(settings_of(day.vector), cord_mm=100.0, library=library)
    runner.run(day.world, day.own_ppm)
    found = hashlib.blake2b(arrays[1][: library.trial_recorded()].tobytes())
    found.update(runner.state)
    library.trial_record(None, None, None, 0)
    del rows
    return found.hexdigest()


@dataclass(frozen=True)
class Recorded:
    """The inputs, and what the unchanged core says to each, in the order of the questions."""

    moments: Sequence[moments_lived.PackedMoment]
    stretches: Sequence[stress.Packed]
    days: Sequence[Day]
    answers: list[object]
    cpu_s: float

    def questions(self) -> Iterator[tuple[str, Callable[[ctypes.CDLL], Iterable[object]]]]:
        """What is asked of a library, and the answers as they come."""
        yield "moments", lambda library: moments_lived.fingerprints(library, self.moments)
        yield "boots", lambda library: iter((moments_lived.boots(library),))
        yield "dates", lambda library: iter((day_numbers(library),))
        yield "stretches", lambda library: stress.fingerprints(library, self.stretches)
        for day in self.days:
            yield day.vector.name, lambda library, day=day: iter((_day_print(library, day),))  # type: ignore[misc]


def recorded(
    n_moments: int = N_MOMENTS,
    n_stretches: int = stress.N_STRETCHES,
    vectors: Sequence[Vector] = VECTORS,
) -> Recorded:
    """The inputs with the unchanged core's answers."""
    step = N_MOMENTS // n_moments
    packed = moments_lived.packed_moments(range(0, step * n_moments, step))
    days = [Day(vector, *world_of(vector)) for vector in sorted(vectors, key=lambda vector: vector.days)]
    inputs = Recorded(packed, stress.packed_stretches(n_stretches), days, [], 0.0)
    with TemporaryDirectory() as name:
        library = Build(Path(name)).linked()
    start = time.process_time()
    answers = list(chain.from_iterable(ask(library) for _, ask in inputs.questions()))
    return Recorded(packed, inputs.stretches, days, answers, time.process_time() - start)


def _judge(library: ctypes.CDLL, inputs: Recorded) -> str:
    expected = iter(inputs.answers)
    for name, ask in inputs.questions():
        if any(answer != next(expected) for answer in ask(library)):
            return name
    return ""


def killer(library: ctypes.CDLL, inputs: Recorded) -> str:
    """What tells the library from the core, empty if nothing does; "time" and "crash" are answers too.

    In a process of its own, with a limit: a changed loop may never end, a changed index may crash.
    """
    answer, sender = FORK.Pipe(duplex=False)
    limit_s = int(TIME_FACTOR * inputs.cpu_s) + TIME_ROOM_S

    def tell() -> None:
        resource.setrlimit(resource.RLIMIT_CPU, (limit_s, limit_s))
        sender.send(_judge(library, inputs))

    child = FORK.Process(target=tell)
    child.start()
    sender.close()
    child.join()
    if child.exitcode:
        return "time" if child.exitcode in (-signal.SIGXCPU, -signal.SIGKILL) else "crash"
    return str(answer.recv())
