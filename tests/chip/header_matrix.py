"""The one-header reader on many machines: `python -m tests.chip.header_matrix [--write] [NAME ...]`.

On each machine a table of every layout is compiled as C99 and as C++11, every warning an error, and asked for every
minute, fact and solar midnight of its years, where there is an emulator; what it says must be the plan. --write puts
the table into docs/reader.md, and a record of each machine into sunsched/hardware/board_proofs.json. Ends with 1 if a
machine says other than the plan, and stops at a warning; a tool that is missing is named with its Debian package. All
machines take half a minute of one core.
"""

from __future__ import annotations

import re
import shutil
import sys
import tempfile
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from sunsched.hardware.board_proofs import Proof
from tests.chip import packed, table_targets
from tests.chip.packed import OF_LAYOUT, Case
from tests.support import board_proofs, toolchain

PAGE = Path(__file__).parents[2] / "docs" / "reader.md"
BEGIN, END = "<!-- written by python -m tests.chip.header_matrix --write -->\n", "<!-- end -->\n"
_WARNINGS = toolchain.WARNINGS
STANDARDS = ("c99", "c++11")


@dataclass(frozen=True, slots=True)
class Machine:
    """A machine that the reader is compiled for.

    name, title   of its row
    int_bits, pointer_bits, big_endian   checked while compiling
    compilers   and their options, for C and for C++
    link   more words where a program is linked
    run   emulator's words before the program; None: compiled only
    board   its name in the registry of boards or in the trade, where `title` is not it
    console   whose output is read as simavr shows it: the chip's name
    standards   the languages that a program is compiled as
    parts   further C sources of a program
    packages   Debian packages, beyond those of the check
    """

    name: str
    title: str
    int_bits: int
    pointer_bits: int
    compilers: tuple[tuple[str, ...], tuple[str, ...]]
    run: tuple[str, ...] | None = ()
    big_endian: bool = False
    link: tuple[str, ...] = ()
    console: str = ""
    board: str = ""
    standards: tuple[str, ...] = STANDARDS
    parts: tuple[str, ...] = ()
    packages: str = ""

    @property
    def tools(self) -> tuple[str, ...]:
        """Programs that must be there."""
        return (*(words[0] for words in self.compilers), *(self.run or ())[:1])


def _gcc(start: str, *options: str) -> tuple[tuple[str, ...], tuple[str, ...]]:
    return (f"{start}gcc", *options), (f"{start}g++", *options)


_MSP430 = ("--target=msp430", "-ffreestanding")
_M0 = ("arm-none-eabi-gcc", "-mcpu=cortex-m0", "-mthumb", "--specs=nano.specs")
_RV32 = ("riscv64-unknown-elf-gcc", "-march=rv32imac", "-mabi=ilp32", "--specs=picolibc.specs")
# QEMU's "virt" board has RAM from 80000000h on (its documentation, docs/system/riscv/virt.rst).
_VIRT = tuple(f"-Wl,--defsym=__{place}" for place in ("flash=0x80000000", "flash_size=0x100000", "ram=0x80100000"))
MACHINES = (
    Machine("x86-64", "x86-64", 32, 64, _gcc("")),
    Machine("x86-64-clang", "x86-64, clang", 32, 64, (("clang",), ("clang++",)), packages="clang"),
    Machine(
        name="i686",
        title="i686",
        int_bits=32,
        pointer_bits=32,
        compilers=_gcc("i686-linux-gnu-"),
        link=("-static",),
        packages="gcc-i686-linux-gnu g++-i686-linux-gnu libc6-dev-i386-cross",
    ),
    Machine(
        name="powerpc",
        title="PowerPC, 32 bits",
        int_bits=32,
        pointer_bits=32,
        compilers=_gcc("powerpc-linux-gnu-"),
        link=("-static",),
        run=("qemu-ppc",),
        big_endian=True,
        packages="gcc-powerpc-linux-gnu g++-powerpc-linux-gnu libc6-dev-powerpc-cross qemu-user",
    ),
    Machine(
        name="s390x",
        title="IBM Z, 64 bits",
        int_bits=32,
        pointer_bits=64,
        compilers=_gcc("s390x-linux-gnu-"),
        link=("-static",),
        run=("qemu-s390x",),
        big_endian=True,
        packages="gcc-s390x-linux-gnu g++-s390x-linux-gnu libc6-dev-s390x-cross qemu-user",
    ),
    Machine(
        name="riscv32",
        title="RISC-V, rv32imac",
        int_bits=32,
        pointer_bits=32,
        compilers=(_RV32, _RV32),  # its g++ links with a library of C++ that is not there
        link=("--oslib=semihost", "--crt0=semihost", *_VIRT, "-Wl,--defsym=__ram_size=0x100000"),
        run=("qemu-system-riscv32", "-M", "virt", "-bios", "none", "-nographic", "-semihosting", "-kernel"),
        packages="gcc-riscv64-unknown-elf picolibc-riscv64-unknown-elf qemu-system-misc",
    ),
    Machine(
        name="riscv64",
        title="RISC-V, rv64gc",
        int_bits=32,
        pointer_bits=64,
        compilers=_gcc("riscv64-linux-gnu-"),
        link=("-static",),
        run=("qemu-riscv64",),
        packages="gcc-riscv64-linux-gnu g++-riscv64-linux-gnu libc6-dev-riscv64-cross qemu-user",
    ),
    Machine(
        name="cortex-m0",
        title="Arm Cortex-M0",
        int_bits=32,
        pointer_bits=32,
        # Its g++ links with a library of C++ that Debian keeps in another package.
        compilers=(_M0, (*_M0, "-fno-exceptions")),
        link=("-nostartfiles", f"-T{toolchain.HERE / 'm0.ld'}"),
        run=("qemu-system-arm", "-M", "microbit", "-nographic", "-semihosting", "-kernel"),
        parts=("m0_start.c",),
    ),
    Machine(
        name="atmega328p",
        title="AVR, ATmega328P",
        int_bits=16,
        pointer_bits=16,
        compilers=_gcc("avr-", "-mmcu=atmega328p"),
        run=("simavr",),
        console="atmega328p",
        board="atmega328p",
    ),
    Machine(
        name="attiny85",
        title="AVR, ATtiny85 (C alone)",
        int_bits=16,
        pointer_bits=16,
        compilers=_gcc("avr-", "-mmcu=attiny85", "-DF_CPU=8000000UL", "-I/usr/include/simavr"),
        link=("-Wl,--undefined=_mmcu,--section-start=.mmcu=0x910000",),
        run=("simavr",),
        console="attiny85",
        board="attiny85",
        standards=("gnu99",),  # simavr's own header, which the console needs, is neither C99 nor C++
    ),
    Machine(
        name="msp430",
        title="MSP430",
        int_bits=16,
        pointer_bits=16,
        compilers=(("clang", *_MSP430), ("clang++", *_MSP430)),
        run=None,
        packages="clang",
    ),
    Machine(
        name="xtensa",
        title="Xtensa LX106",
        int_bits=32,
        pointer_bits=32,
        compilers=_gcc("xtensa-lx106-elf-", "-ffreestanding"),
        run=None,
        board="ESP8266",
        packages="gcc-xtensa-lx106",
    ),
)
BY_NAME = {machine.name: machine for machine in MACHINES}


@dataclass(frozen=True, slots=True)
class Found:
    """What was seen on a machine: days asked for, days on which it said other than the plan, and faults in words."""

    machine: Machine
    days: int
    differing: int
    faults: tuple[str, ...]


def compiled(machine: Machine, case: Case, standard: str, folder: Path) -> Path:
    """The program that prints a table on a machine; an object where there is no emulator. Any warning raises."""
    cpp = standard.startswith("c++")
    out = folder / f"{machine.name}-{standard.replace('+', 'x')}.elf"
    said = (("INT_BITS", machine.int_bits), ("POINTER_BITS", machine.pointer_bits))
    words = [*machine.compilers[cpp], f"-std={standard}", "-Os", *_WARNINGS]
    words += [f"-D{name}={value}u" for name, value in said] + [f"-DBIG_ENDIAN_FIRST={int(machine.big_endian)}"]
    words += ["-include", str(toolchain.HERE / "machine_is.h"), f'-DTABLE_HEADER="{packed.header(case, folder)}"']
    if machine.run is None:
        source = "asked.c"
        words.append("-c")
    else:
        source = "dump_compact.c"
        words += table_targets.options(case)
    objects = []
    for part in machine.parts:
        objects.append(str(folder / f"{part}.o"))
        toolchain.run([*machine.compilers[0], "-Os", "-c", toolchain.HERE / part, "-o", objects[-1]])
    language = ["-x", "c++" if cpp else "c", toolchain.HERE / source, "-x", "none"]
    toolchain.run([*words, *(() if machine.run is None else machine.link), *language, *objects, "-o", out])
    return out


def said(machine: Machine, program: Path) -> list[str]:
    """The lines that a program prints."""
    if machine.console:
        return toolchain.simavr_output(program, machine.console, 120)
    done = toolchain.run([*(machine.run or ()), program], 120)
    return (done.stdout + done.stderr).split()


def tried(machine: Machine, cases: Sequence[Case] = OF_LAYOUT, standards: Sequence[str] = ()) -> Found:
    """A table of each case in each language on a machine. An AssertionError says what a compiler or emulator said."""
    days = differing = 0
    faults: list[str] = []
    for case in cases:
        for standard in standards or machine.standards:
            with tempfile.TemporaryDirectory() as folder:
                program = compiled(machine, case, standard, Path(folder))
                if machine.run is None:
                    continue
                lines = said(machine, program)
            rows, wanted = [line for line in lines if not line.startswith("#")], packed.twin_lines(case)
            days += len(rows)
            differing += sum(a != b for a, b in zip(rows, wanted, strict=False)) + abs(len(rows) - len(wanted))
            faults += [f"{machine.name}, {case} as {standard}: {fault}" for fault in table_targets.wrong(case, lines)]
    return Found(machine, days, differing, tuple(faults))


def version(compiler: str) -> str:
    """A compiler's name and version."""
    text = toolchain.run([compiler, "--version"]).stdout.splitlines()[0]
    return f"{compiler} {re.findall(r'[0-9]+[.][0-9]+[.][0-9]+', text)[0]}"


def row(found: Found) -> str:
    """A line of the page's table."""
    machine = found.machine
    ran = "compiled only" if machine.run is None else (*machine.run, "this computer")[0]
    seen = f"{found.days} | {found.differing}" if machine.run is not None else "none | -"
    order = "high first" if machine.big_endian else "low first"
    bits = f"{machine.int_bits}, {machine.pointer_bits}"
    return f"| {machine.title} | {bits} | {order} | {version(machine.compilers[0][0])} | {ran} | {seen} |"


def proof(found: Found) -> Proof:
    """As the package keeps it, beside the boards."""
    machine = found.machine
    compiled_with = version(machine.compilers[0][0])
    proven = Proof(
        board=machine.board or machine.title,
        part="table reader",
        executed_on="" if machine.run is None else emulator(machine),
        compiled_with=compiled_with,
        command="python -m tests.chip.header_matrix --write",
    )
    if machine.run is None:
        return proven
    beside = "the plan's minutes, facts and solar midnight"
    return replace(proven, beside=beside, days=found.days, decisions=2 * found.days, differing=found.differing)


def emulator(machine: Machine) -> str:
    """What runs a machine's programs, with its version."""
    if not machine.run:
        return "this computer"
    if machine.run[0] == "simavr":
        return toolchain.simavr_words()
    return version(machine.run[0])


def heading() -> Iterator[str]:
    """The first lines of the page's table."""
    yield "| machine | bits of int, pointer | bytes | compiled with | executed on | days asked | days that differ |"
    yield "|---|---|---|---|---|---|---|"


def missing(machine: Machine) -> str:
    """The tools of a machine that are not here, and their packages; empty if all are."""
    lacking = [tool for tool in machine.tools if shutil.which(tool) is None]
    return f"{machine.name}: {', '.join(lacking)} not found: {machine.packages}" if lacking else ""


def main(arguments: list[str]) -> int:
    """Print the matrix."""
    names = [word for word in arguments if word != "--write"] or list(BY_NAME)
    rows: list[str] = []
    faults: list[str] = []
    proofs: list[Proof] = []
    for machine in map(BY_NAME.__getitem__, names):
        if lacking := missing(machine):
            faults.append(lacking)
            continue
        found = tried(machine)
        faults += found.faults
        rows.append(row(found))
        proofs.append(proof(found))
        print(rows[-1], flush=True)
    if "--write" in arguments and len(names) == len(MACHINES) and not faults:
        board_proofs.put(proofs)
        text = PAGE.read_text(encoding="utf-8")
        before, after = text.split(BEGIN)[0], text.split(END)[1]
        PAGE.write_text(before + BEGIN + "\n".join([*heading(), *rows]) + "\n" + END + after, encoding="utf-8")
    print(f"{len(rows)} machines, {len(faults)} faults", *faults, sep="\n")
    return 1 if faults else 0


if __name__ == "__main__":
    raise SystemExit(main(sys.argv[1:]))
