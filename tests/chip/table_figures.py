"""Figures of packed tables on the chips: flash, SRAM, cycles and stack, and the file that keeps them.

`python -m tests.chip.table_proof --write` measures all anew and rewrites measured_tables.md.
"""

from __future__ import annotations

import re
import tempfile
from functools import cache
from pathlib import Path
from typing import NamedTuple

from tests.chip import packed, table_targets
from tests.chip.packed import Case
from tests.support import toolchain

KEPT = toolchain.HERE / "measured_tables.md"
MEASURED = ("328p flash", "328p ram", "328p eeprom", "tiny85 flash", "tiny85 eeprom", "m0 flash")
SOURCE = toolchain.HERE / "bare_table.c"
SHARE = 0.05  # of a figure, by which a change of code or compiler may move it before it is measured anew
HEADING = """\
# Packed tables on the chips

Written by `python -m tests.chip.table_proof --write` with {avr}, {arm}; a sample is held by
tests/chip/test_compact_tables.py, all rows by `python -m tests.chip.table_proof`.

- flash: image (where it lies in flash), checksum, date, rules, decoder and both look-ups of a date; what a program
  without them takes is taken off. SRAM: static, in the same way. -Os, 16-bit or 32-bit int as the chip has it.
- cycles: of the slowest look-up of a date of the years shown, call and return included, counted by timer 1 of the
  emulated ATmega328P; at 16 MHz 16,000 cycles are 1 ms. The ATtiny85's timers have 8 bits and QEMU counts no cycles,
  so there are none for those. The emulator takes no time for an EEPROM read beyond its instructions.
- stack: deepest look-up on the ATmega328P, return address included.
- a row is true while no figure is off by more than a twentieth.
- image: head, settings, facts, rules, minutes and checksum [bytes]; minutes: of these, the minutes alone.

| table | on | image | minutes | flash | SRAM | cycles | stack |
|---|---|---|---|---|---|---|---|
"""


class Figures(NamedTuple):
    """One row [bytes, cycles]; cycles and stack only where they are counted."""

    image: int
    minutes: int
    flash: int
    sram: int
    cycles: int | None
    stack: int | None

    def row(self, case: Case, target: str) -> str:
        """The row of the file."""
        cells = ["-" if value is None else str(value) for value in self]
        return f"| {case} | {target} | {' | '.join(cells)} |"


def measured(case: Case, target: str, lines: list[str], folder: Path) -> Figures:
    """The figures of a table on a target; `lines` is what dump_compact.c said there."""
    table = packed.work(case).table
    full, empty = sizes(bare(case, target, folder), target), _empty(target.split()[0])
    cycles = stack = None
    if target.startswith("328p"):
        cycles, stack = int(lines[-1][1:5], 16), int(lines[-1][5:9], 16)
        assert cycles != 0xFFFF, "the look-up took longer than the timer counts"
    return Figures(len(table.raw), table.data_bytes, full[0] - empty[0], full[1] - empty[1], cycles, stack)


def bare(case: Case, target: str, folder: Path) -> Path:
    """The weighing program of a table."""
    machine, memory = target.split()
    words = [*table_targets.options(case)[2:]]
    if memory == "eeprom":
        words += [f"-DROOM={table_targets.EEPROM_BYTES[machine]}u", "-DSUNSCHED_IMAGE_IN_EEPROM"]
        words += table_targets.only(case)
    else:
        words += [f'-DTABLE_HEADER="{packed.header(case, folder)}"']
        words += ["-DSUNSCHED_IMAGE_IN_RAM"] if memory == "ram" else []
    return _built(machine, folder, *words)


def _built(machine: str, folder: Path, *words: str) -> Path:
    if machine == "m0":
        return toolchain.arm_program([SOURCE], folder / "bare.elf", *words)
    return toolchain.avr_program([SOURCE], folder / "bare.elf", table_targets.MCU[machine], *words)


@cache
def _empty(machine: str) -> tuple[int, int]:
    """The sizes of the weighing program without a table."""
    with tempfile.TemporaryDirectory() as name:
        return sizes(_built(machine, Path(name), "-DEMPTY"), machine)


def sizes(elf: Path, machine: str) -> tuple[int, int]:
    """(flash, static SRAM) of a program [bytes]."""
    if not machine.startswith("m0"):
        return toolchain.avr_sizes(elf)
    report = toolchain.run(["arm-none-eabi-size", "-A", elf]).stdout
    found = {
        words[0]: int(words[1]) for words in map(str.split, report.splitlines()) if words[:1] and words[0][0] == "."
    }
    return found[".text"] + found.get(".data", 0), found.get(".data", 0) + found.get(".bss", 0)


def compiler(command: str) -> str:
    """Name and version of a compiler."""
    version = toolchain.run([command, "-dumpfullversion", "-dumpversion"]).stdout.split()[0]
    return f"{command} {version}"


def text(rows: list[str]) -> str:
    """The whole file."""
    heading = HEADING.format(avr=compiler("avr-gcc"), arm=compiler("arm-none-eabi-gcc"))
    return heading + "\n".join(rows) + "\n"


def still_true(kept: str, found: str) -> bool:
    """Whether a row kept tells what was found: the same cells, no figure off by more than a twentieth."""
    pairs = list(zip(kept.split("|"), found.split("|"), strict=True))
    return all(
        abs(int(was) - int(now)) <= SHARE * int(was) if was.strip().isdigit() and now.strip().isdigit() else was == now
        for was, now in pairs
    )


def kept_rows() -> dict[tuple[str, str], str]:
    """The rows of the file by table and target."""
    found = {}
    for line in KEPT.read_text(encoding="ascii").splitlines():
        match = re.match(r"\| (\w+-\d{4}-\w+) \| ([\w ]+?) \|", line)
        if match:
            found[match[1], match[2]] = line
    return found
