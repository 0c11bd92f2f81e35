"""The bench README followed step by step as a new user would, with avrdude.

Its boot loader's upload goes to the boot loader that Debian ships, run on the emulated chip; its ISP programmer is
emulated (tests/chip/bench/isp.py). What is not followed here: an IDE (test_firmware.py compiles the sketch with its
core), `sunsched chip load` (it has tests of its own), and everything that needs hands.
"""

from __future__ import annotations

import os
import re
import shutil
import signal
import subprocess
import sys
import time
import tty
from collections.abc import Iterator
from pathlib import Path

import pytest
from intelhex import IntelHex
from typer.testing import CliRunner

from sunsched.cli.app import COMMANDS, app
from sunsched.controller.words import Alarm, alarm_words
from sunsched.report.bench.alarms import ALARMS
from tests.chip import sites
from tests.chip.bench.isp import Programmer, Socket
from tests.support import command_line, toolchain

BOOT_LOADER = Path("/usr/share/arduino/hardware/arduino/avr/bootloaders/optiboot/optiboot_atmega328.hex")
BOOT_C = Path(__file__).parent / "bench" / "boot.c"


@pytest.fixture(scope="module")
def bench(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with a configuration and the program's folder, whose name has a blank."""
    folder = tmp_path_factory.mktemp("bench")
    shutil.copy(sites.CONFIGS / "larch_end.toml", folder / "larch_end.toml")
    sunsched("firmware", "larch_end.toml", "--out", "larch door", "--year", "2027", folder=folder)
    return folder


def sunsched(*words: str, folder: Path) -> subprocess.CompletedProcess[str]:
    """One run of the command line, which has to end with 0."""
    done = command_line.sunsched(*words, cwd=folder)
    assert done.returncode == 0, done.stderr
    return done


def commands(bench: Path) -> list[str]:
    """Every line of the README's code blocks, in order."""
    text = (bench / "larch door" / "README.md").read_text()
    return [line for block in re.findall(r"```\n(.*?)```", text, re.DOTALL) for line in block.splitlines()]


def make(bench: Path, line: str, port: str) -> subprocess.CompletedProcess[str]:
    """A line of the README in the program's folder, with the emulated programmer in place of the user's."""
    shell = line.replace("PROGRAMMER=usbasp", "PROGRAMMER=stk500v1").replace("PORT=/dev/ttyUSB0", "")
    return toolchain.run(["sh", "-c", f"{shell} PORT={port}"], timeout_s=300, folder=bench / "larch door")


def built(bench: Path) -> bytes:
    """The program's bytes as `make` built them."""
    image = IntelHex()
    image.loadhex(str(bench / "larch door" / "door.hex"))
    return bytes(image.tobinarray())


def test_the_readme_says_these_commands(bench: Path) -> None:
    assert [" ".join(line.split()[:2]) for line in commands(bench)] == [
        "sunsched firmware",
        "make flash",
        "make isp",
        "make fuses",
        "make write-fuses",
        "sunsched chip",
        "sunsched table",
        "make eeprom",
        "make read-eeprom",
        "sunsched readback",
    ]
    text = (bench / "larch door" / "README.md").read_text()
    for command, options in re.findall(r"`?sunsched ([a-z]+)([^`\n]*)", text):
        if command in ("chip", "0"):
            continue
        assert command in COMMANDS, command
        output = CliRunner().invoke(app, [command, "--help"]).stdout
        assert all(option in output for option in re.findall(r"--[a-z-]+", options)), (command, options)


def test_the_line_that_makes_the_folder_again_can_be_copied(bench: Path) -> None:
    before = {path.name: path.read_bytes() for path in (bench / "larch door").iterdir() if path.suffix in (".c", ".md")}
    root = Path(__file__).parents[2]
    line = commands(bench)[0].replace("sunsched", f"PYTHONPATH={root} {sys.executable} -m sunsched", 1)
    toolchain.run(["sh", "-c", line], timeout_s=300, folder=bench)
    assert {name: (bench / "larch door" / name).read_bytes() for name in before} == before


@pytest.fixture
def board(tmp_path: Path) -> Iterator[tuple[str, subprocess.Popen[bytes], Path]]:
    """The emulated chip with its boot loader: its port, its process, and where its flash goes at the end."""
    toolchain.needed("avrdude", "make", "avr-gcc", "gcc", "simavr")
    toolchain.needed_folder(BOOT_LOADER.parents[4], "arduino-core-avr")
    libraries = ("-lsimavr", "-lsimavrparts", "-lelf", "-lutil", "-lpthread")
    toolchain.run(["gcc", "-O2", "-I/usr/include/simavr", "-o", tmp_path / "boot", BOOT_C, *libraries])
    toolchain.run(["avr-objcopy", "-I", "ihex", "-O", "binary", BOOT_LOADER, tmp_path / "boot.bin"])
    flash = tmp_path / "flash.bin"
    command = [tmp_path / "boot", tmp_path / "boot.bin", flash]
    with subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL) as chip:
        assert chip.stdout is not None
        port = next(line.decode().strip() for line in chip.stdout if line.startswith(b"/dev/"))
        yield port, chip, flash
        chip.kill()


class Terminal:
    """A serial terminal as a user opens one."""

    def __init__(self, port: str) -> None:
        self._handle = os.open(port, os.O_RDWR | os.O_NOCTTY | os.O_NONBLOCK)
        tty.setraw(self._handle)

    def __enter__(self) -> Terminal:
        return self

    def __exit__(self, *_: object) -> None:
        os.close(self._handle)

    def type(self, keys: bytes) -> None:
        """Send some characters."""
        os.write(self._handle, keys)

    def said_until(self, wanted: bytes, timeout_s: float) -> bytes:
        """What came until `wanted` was among it, or all that came in the time."""
        said, until = b"", time.monotonic() + timeout_s
        while wanted not in said and time.monotonic() < until:
            try:
                said += os.read(self._handle, 4096)
            except BlockingIOError:
                time.sleep(0.02)
        return said


def press_reset(chip: subprocess.Popen[bytes]) -> None:
    """A pseudo-terminal has no DTR, by which avrdude resets a board."""
    assert chip.stdin is not None
    chip.stdin.write(b"r")
    chip.stdin.flush()


BOOT_S = 1.5  # the boot loader blinks for 0.3 s of its own time, four of ours each, before it listens


def uploaded(bench: Path, chip: subprocess.Popen[bytes], port: str) -> subprocess.CompletedProcess[str]:
    """The README's upload. What comes while the boot loader blinks is answered late, and avrdude takes the late answer
    for another one's. Where a busy computer lets the boot loader give up, a user presses reset and sends again.
    """
    line = next(line for line in commands(bench) if "flash" in line)
    for _ in range(3):
        press_reset(chip)
        time.sleep(BOOT_S)
        try:
            return make(bench, line, port)
        except AssertionError as error:
            failure = error
    raise failure


def test_upload_over_the_boot_loader_and_the_program_speaks(
    bench: Path, board: tuple[str, subprocess.Popen[bytes], Path]
) -> None:
    port, chip, flash = board
    make(bench, "make", port)
    done = uploaded(bench, chip, port)
    assert "bytes of flash verified" in done.stderr
    with Terminal(port) as terminal:
        # avrdude lets the boot loader go, and the program begins
        head = terminal.said_until(b"date,time,event", 30)
        assert b"# sunsched door log, revision 1\n# site Larch end\n" in head
        terminal.type(b"\r")
        assert b"# ready" in terminal.said_until(b"# ready", 10)
        output = sunsched("clock", "larch_end.toml", "--at", "2027-06-01 18:00", folder=bench).stdout
        line = next(line.strip() for line in output.splitlines() if line.strip().startswith("t 2027"))
        terminal.type(line.encode() + b"\r")
        assert b"2027-06-01,17:00:0" in terminal.said_until(b",clock,", 10)
    chip.send_signal(signal.SIGTERM)
    chip.wait(10)
    assert flash.read_bytes()[: len(built(bench))] == built(bench)


def test_isp_fuses_and_eeprom_as_the_readme_says(bench: Path) -> None:
    toolchain.needed("avrdude", "make", "avr-gcc", "avr-objcopy")
    socket = Socket()
    by_word = {line.split()[1]: line for line in commands(bench)}
    with Programmer(socket) as programmer:
        make(bench, by_word["isp"], programmer.port)
        assert socket.flash[: len(built(bench))] == built(bench)
        shown = make(bench, by_word["fuses"], programmer.port).stdout
        assert shown.split()[-3:] == ["0x62", "0xd9", "0xff"]  # a chip from the factory
        make(bench, by_word["write-fuses"], programmer.port)
        # ATmega328P data sheet: EESAVE is bit 3 of the high fuse, BODLEVEL 100 is 4.3 V, CKSEL 1111 a crystal
        assert (socket.low & 0x0F, socket.high & 0x08, socket.extended & 7) == (0x0F, 0, 4)
        table = by_word["table"].replace("YEAR", "2028").split()[1:]
        sunsched(*table, folder=bench)
        image = (bench / "larch_end_2028.bin").read_bytes()
        make(bench, by_word["eeprom"].replace("SITE_YEAR.bin", "../larch_end_2028.bin"), programmer.port)
        assert socket.eeprom[: len(image)] == image
        assert set(socket.eeprom[len(image) : 304]) == {0xFF}
        make(bench, by_word["isp"], programmer.port)
        assert socket.eeprom[: len(image)] == image  # a new program left the table
        make(bench, by_word["read-eeprom"], programmer.port)
        assert programmer.unknown == []
    shutil.move(bench / "larch door" / "eeprom.hex", bench / "eeprom.hex")
    done = sunsched(*by_word["readback"].split()[1:], folder=bench)
    assert "2028" in done.stdout


def test_a_new_program_erases_the_eeprom_without_the_advised_fuse(bench: Path) -> None:
    toolchain.needed("avrdude", "make", "avr-gcc")
    socket = Socket()
    socket.eeprom[:4] = b"door"
    with Programmer(socket) as programmer:
        make(bench, "make isp PROGRAMMER=usbasp", programmer.port)
    assert socket.eeprom[:4] == b"\xff\xff\xff\xff"


@pytest.mark.parametrize(
    ("line", "wanted"),
    [
        ("make flash", "say where the board is"),
        ("make eeprom PORT=x", "say which image"),
        ("make write-fuses HFUSE=0xD1", "say all three"),
    ],
)
def test_make_asks_for_what_is_missing(bench: Path, line: str, wanted: str) -> None:
    toolchain.needed("make", "avr-gcc")
    done = subprocess.run(["sh", "-c", line], cwd=bench / "larch door", capture_output=True, text=True, timeout=120)
    assert done.returncode == 2
    assert wanted in done.stderr


def test_every_alarm_is_explained() -> None:
    every = alarm_words(sum(alarm.value for alarm in Alarm))
    # one word more than bits: a bad cell with no time to go by is `no_witness` too
    assert len(every) == len(Alarm) + 1
    assert {"no_witness", "expired", "not_begun"} <= set(ALARMS)
    assert set(every) <= set(ALARMS)
