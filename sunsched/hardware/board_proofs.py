"""What was run for which board, as the proof commands wrote it down: `board_proofs.json` beside this file.

The file is a list of records in the order of `Proof.place`, one field a line. A command that proves something writes
its records with `--write` through `tests/support/board_proofs.py`; nobody writes them by hand. What was not measured is
null. A record with an empty `executed_on` says "compiled only"; a board without a record was not run at all.

    [
      {
        "board": "atmega328p",
        "part": "program",
        "executed_on": "simavr 1.6",
        "compiled_with": "avr-gcc 5.4.0",
        "beside": "the same program on a computer",
        "sites": 5,
        "days": 60,
        "decisions": 5184000,
        "moves": 240,
        "differing": 0,
        "flash_bytes": 24794,
        "ram_bytes": 899,
        "stack_bytes": 179,
        "step_cycles": 828,
        "step_us": null,
        "command": "python -m tests.chip.board_years",
        "sources": "0123456789abcdef"
      }
    ]
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable
from dataclasses import asdict, dataclass, fields
from typing import Literal

from sunsched.base.package_data import package_bytes

FILE = "board_proofs.json"
Part = Literal["program", "table reader"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Proof:
    """One board's program, or a table reader, as it was compiled and run.

    board   a name of `boards.BOARDS`; for a chip that is not there, what its maker calls it
    part   the whole "program", or the "table reader" alone
    executed_on   the emulator and its version; empty: compiled only
    compiled_with   the compiler and its version, or the interpreter's for a program that is not compiled
    beside   what every decision was compared with; empty: with nothing
    sites   shipped configurations that were lived or read
    days   simulated days of the program, of all sites together; of a table reader the days whose minutes were read
    decisions   steps of a second that were compared, motor, log and memory; of a table reader the minutes
    moves   changes of what the door is wanted to do, judged against plan and light
    differing   of the decisions and moves, those that were not as they should be
    flash_bytes   of program and tables; on MicroPython the bytes of the folder's files
    ram_bytes   static variables; on MicroPython the most of the heap that was in use
    stack_bytes   the deepest stack
    step_cycles   processor cycles awake, a second of life (interrupts and the step), averaged over the days
    step_us   time a step where cycles are not counted [microseconds]
    command   the command that wrote the record
    sources   `digest_of` the shipped texts that it ran, 16 hexadecimal digits
    """

    board: str
    part: Part
    executed_on: str
    compiled_with: str
    command: str
    beside: str = ""
    sites: int | None = None
    days: int | None = None
    decisions: int | None = None
    moves: int | None = None
    differing: int | None = None
    flash_bytes: int | None = None
    ram_bytes: int | None = None
    stack_bytes: int | None = None
    step_cycles: int | None = None
    step_us: int | None = None
    sources: str = ""

    @property
    def place(self) -> tuple[str, str, str]:
        """What a later record of the same thing replaces: board, part, and the emulator without its version."""
        return self.board, self.part, self.executed_on.partition(" ")[0]


def digest_of(texts: Iterable[bytes]) -> str:
    """The first 16 hexadecimal digits of SHA-256 over texts as they are shipped, in the order given."""
    whole = hashlib.sha256()
    for text in texts:
        whole.update(len(text).to_bytes(4, "little") + text)
    return whole.hexdigest()[:16]


def proofs() -> tuple[Proof, ...]:
    """Every record that is shipped. Raises ValueError on a record that lacks a field or has one too many."""
    return read(package_bytes("sunsched.hardware", FILE))


def read(raw: bytes) -> tuple[Proof, ...]:
    """The records of a file's bytes. Raises ValueError as `proofs` does."""
    names = {field.name for field in fields(Proof)}
    found = []
    for record in json.loads(raw):
        if set(record) != names:
            raise ValueError(f"{FILE}: a record with the fields {', '.join(sorted(record))}")
        found.append(Proof(**record))
    return tuple(found)


def text_of(records: Iterable[Proof]) -> str:
    """The file's text for these records, the last one of each place, in the order of the places."""
    last = {proof.place: proof for proof in records}
    return json.dumps([asdict(last[place]) for place in sorted(last)], indent=1) + "\n"
