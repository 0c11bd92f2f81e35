"""Compilers and emulators for the chip tests: which are needed, how they are called, what they answer.

On a developer's machine a test whose tool is missing is skipped and says which package has it; with CI=true in the
environment a missing tool is a failure. That is decided here and nowhere else.
"""

from __future__ import annotations

import hashlib
import os
import re
import shutil
import subprocess
from collections.abc import Callable, Iterable, Sequence
from pathlib import Path

import pytest
from filelock import FileLock

import sunsched
from sunsched.hardware.boards import BOARDS

C_DIR = Path(sunsched.__file__).parent / "controller" / "c"
HERE = Path(__file__).parents[1] / "chip"

# Debian 12 package of each tool.
PACKAGES = {
    "gcc": "gcc",
    "g++": "g++",
    "avr-gcc": "gcc-avr avr-libc",
    "avr-g++": "gcc-avr avr-libc",
    "avr-size": "binutils-avr",
    "avr-nm": "binutils-avr",
    "avr-objcopy": "binutils-avr",
    "simavr": "simavr libsimavr-dev",
    "arm-none-eabi-gcc": "gcc-arm-none-eabi libnewlib-arm-none-eabi",
    "qemu-system-arm": "qemu-system-arm",
    "clang": "clang",
    "wasm-ld": "lld",
    "powerpc-linux-gnu-gcc": "gcc-powerpc-linux-gnu libc6-dev-powerpc-cross",
    "qemu-ppc": "qemu-user",
    "cppcheck": "cppcheck",
    "make": "make",
    "chromium": "chromium",
    "chromedriver": "chromium-driver",
    "pdftotext": "poppler-utils",
}

WARNINGS = ("-Wall", "-Wextra", "-Wpedantic", "-Wconversion", "-Wsign-conversion", "-Wshadow", "-Wundef", "-Werror")

# Every language and machine that a shipped C text has to pass: (name, compiler, options).
MATRIX: tuple[tuple[str, str, tuple[str, ...]], ...] = (
    ("gcc c99", "gcc", ("-std=c99",)),
    ("gcc c11", "gcc", ("-std=c11",)),
    ("gcc c17", "gcc", ("-std=c17",)),
    ("g++ c++11", "g++", ("-std=c++11",)),
    ("g++ c++17", "g++", ("-std=c++17",)),
    ("g++ c++20", "g++", ("-std=c++20",)),
    ("avr c99 328p", "avr-gcc", ("-std=c99", "-mmcu=atmega328p")),
    ("avr gnu99 tiny85", "avr-gcc", ("-std=gnu99", "-mmcu=attiny85")),
    ("avr c11 328p", "avr-gcc", ("-std=c11", "-mmcu=atmega328p")),
    ("avr c++11 328p", "avr-g++", ("-std=c++11", "-mmcu=atmega328p")),
    ("avr c++17 tiny85", "avr-g++", ("-std=c++17", "-mmcu=attiny85")),
    # No device pack for the ATmega4809 in avr-libc 2.0: its architecture can be compiled for, not linked or run.
    # Its io.h warns that it knows no such device, which says nothing about our text.
    ("avr c99 xmega3", "avr-gcc", ("-std=c99", "-mmcu=avrxmega3", "-Wno-error=cpp")),
    ("arm c99 m0", "arm-none-eabi-gcc", ("-std=c99", "-mcpu=cortex-m0", "-mthumb")),
)
MATRIX_NAMES = [name for name, _, _ in MATRIX]

AVR_HZ = {board.name: board.hz for board in BOARDS.values() if board.language == "c"}


# Where the processes of a test run share what they build; tests/chip/conftest.py sets it.
shared_builds: list[Path] = []


def needed(*tools: str) -> None:
    """Fail (CI=true) or skip the running test unless every one of `tools` is installed."""
    missing = [tool for tool in tools if shutil.which(tool) is None]
    if missing:
        _missing(", ".join(missing), " ".join(dict.fromkeys(PACKAGES[tool] for tool in missing)))


def needed_folder(folder: Path, package: str) -> None:
    """The same for what a package installs as a folder."""
    if not folder.is_dir():
        _missing(str(folder), package)


def _missing(what: str, packages: str) -> None:
    reason = f"{what} not found; install (Debian names): {packages}"
    if os.environ.get("CI", "").lower() in ("true", "1"):
        pytest.fail(reason, pytrace=False)
    pytest.skip(reason)


def run(
    command: Sequence[str | Path], timeout_s: float = 60, folder: Path | None = None
) -> subprocess.CompletedProcess[str]:
    """Run a command to its end; what it said is in the assertion when it fails."""
    words = [str(part) for part in command]
    done = subprocess.run(
        words,
        stdin=subprocess.DEVNULL,
        capture_output=True,
        text=True,
        errors="replace",
        timeout=timeout_s,
        cwd=folder,
    )
    assert done.returncode == 0, f"{' '.join(words)}\n{done.stdout[-2000:]}\n{done.stderr[-6000:]}"
    return done


def run_once(
    command: Sequence[str | Path],
    folder: Path,
    results: Sequence[Path],
    read: Sequence[Path] = (),
    build: Callable[[], object] | None = None,
) -> None:
    """Run a build that reads the files in `folder` and in the folders of `read`, and nothing else of ours.

    Where a process of this test run has run the same command on the same content, its results are copied instead.
    `build` does in a shorter way what the command does.
    """
    building = build or (lambda: run(command, timeout_s=120, folder=folder))
    if not shared_builds:
        building()
        return
    digest = hashlib.sha256(" ".join(map(str, command)).replace(str(folder.parent), "").encode())
    for path in sorted(path for place in (folder, *read) for path in place.iterdir() if path.is_file()):
        digest.update(path.name.encode() + b"\0" + path.read_bytes())
    kept = shared_builds[0] / digest.hexdigest()
    with FileLock(kept.with_suffix(".lock")):
        if not kept.exists():
            building()
            partial = kept.with_suffix(".partial")
            partial.mkdir()
            for result in results:
                shutil.copy(result, partial / result.name)
            partial.rename(kept)
            return
    for result in results:
        shutil.copy(kept / result.name, result)


def compile_text(name: str, source: Path, out: Path, *options: str) -> None:
    """Compile `source` to an object by the line of MATRIX called `name`, all warnings errors."""
    _, compiler, flags = next(line for line in MATRIX if line[0] == name)
    needed(compiler)
    language = ("-x", "c++") if compiler.endswith("++") else ("-x", "c")
    run([compiler, *WARNINGS, *flags, "-Os", *options, f"-I{C_DIR}", "-c", *language, source, "-o", out])


def host_program(sources: Iterable[Path], out: Path, *options: str, compiler: str = "gcc") -> Path:
    """Build a program for this computer."""
    needed(compiler)
    standard = "-std=c99" if compiler == "gcc" else "-std=c++11"
    run([compiler, standard, *WARNINGS, "-O2", *options, f"-I{C_DIR}", *sources, "-o", out])
    return out


def avr_program(sources: Iterable[Path], out: Path, mcu: str, *options: str) -> Path:
    """Build an ELF for an AVR; on an ATtiny85, which has no serial port, its console is register GPIOR0."""
    needed("avr-gcc")
    chip = (f"-mmcu={mcu}", f"-DF_CPU={AVR_HZ[mcu]}UL", "-std=gnu99", "-Os")
    console = ("-I/usr/include/simavr", "-Wl,--undefined=_mmcu,--section-start=.mmcu=0x910000")
    extra = console if mcu == "attiny85" else ()
    run(["avr-gcc", *chip, *WARNINGS, *options, f"-I{C_DIR}", *extra, *sources, "-o", out])
    return out


def simavr_output(elf: Path, mcu: str, timeout_s: float = 60) -> list[str]:
    """The lines an AVR program prints until it sleeps with interrupts off, as it printed them.

    simavr shows serial text in colour, each line ended by a point for every control character; an ATtiny85's
    console lines begin with 'O:'.
    """
    needed("simavr")
    done = run(["simavr", "-m", mcu, "-f", str(AVR_HZ[mcu]), elf], timeout_s)
    plain = re.sub(r"\x1b\[[0-9;]*m", "", done.stdout + done.stderr)
    lines = (line.strip() for line in plain.splitlines())
    if mcu == "attiny85":
        return [line[2:].strip() for line in lines if line.startswith("O:")]
    return [line.rstrip(".") for line in lines if line.endswith(".")]


def arm_program(sources: Iterable[Path], out: Path, *options: str) -> Path:
    """Build an ELF for a Cortex-M0 that prints through semihosting; m0.ld says where flash and RAM are."""
    needed("arm-none-eabi-gcc")
    chip = ("-mcpu=cortex-m0", "-mthumb", "-std=gnu99", "-Os")
    linking = ("--specs=nano.specs", "-nostartfiles", f"-T{HERE / 'm0.ld'}", HERE / "m0_start.c")
    run(["arm-none-eabi-gcc", *chip, *WARNINGS, *options, f"-I{C_DIR}", *linking, *sources, "-o", out])
    return out


def qemu_output(elf: Path, timeout_s: float = 60) -> list[str]:
    """The lines a Cortex-M0 program prints until it leaves main()."""
    needed("qemu-system-arm")
    done = run(["qemu-system-arm", "-M", "microbit", "-nographic", "-semihosting", "-kernel", elf], timeout_s)
    return [line.strip() for line in (done.stdout + done.stderr).splitlines() if line.strip()]


def simavr_words() -> str:
    """The emulator and its version, as Debian counts it."""
    return f"simavr {run(['dpkg-query', '-W', '-f', '${Version}', 'simavr']).stdout.partition('+')[0]}"


def avr_gcc_words() -> str:
    """The compiler and its version."""
    return f"avr-gcc {run(['avr-gcc', '-dumpversion']).stdout.strip()}"


def avr_sizes(elf: Path) -> tuple[int, int]:
    """(flash, static SRAM) of an AVR program [bytes]; what EEPROM it brings is counted in neither."""
    needed("avr-size")
    sizes = {
        words[0]: int(words[1])
        for words in (line.split() for line in run(["avr-size", "-A", elf]).stdout.splitlines())
        if len(words) == 3 and words[1].isdigit()
    }
    data = sizes.get(".data", 0)
    return sizes[".text"] + data, data + sizes.get(".bss", 0) + sizes.get(".noinit", 0)


def avr_symbols(elf: Path) -> dict[str, int]:
    """Bytes that each function and object of an AVR program takes."""
    needed("avr-nm")
    rows = (line.split() for line in run(["avr-nm", "-S", elf]).stdout.splitlines())
    return {row[3]: int(row[1], 16) for row in rows if len(row) == 4}


def with_eeprom(elf: Path, image: bytes, out: Path) -> Path:
    """A copy of `elf` whose EEPROM starts with `image`; the program must have an .eeprom section of its own."""
    needed("avr-objcopy")
    raw = out.with_suffix(".eeprom.bin")
    raw.write_bytes(image)
    run(["avr-objcopy", "--update-section", f".eeprom={raw}", elf, out])
    return out


def misra_findings(sources: Iterable[Path], *options: str, platform: str = "avr8") -> list[str]:
    """What cppcheck and its MISRA addon say: lines of 'file:line: id'. Without the licensed texts, ids only."""
    needed("cppcheck")
    command: list[str | Path] = ["cppcheck", "--std=c99", f"--platform={platform}", "--enable=all", "--addon=misra"]
    command += ["--inconclusive", "-q", "--template={file}:{line}: {id}", "--suppress=missingIncludeSystem", *options]
    done = run([*command, *sources], timeout_s=120)
    return sorted({line.strip() for line in done.stderr.splitlines() if ": " in line})
