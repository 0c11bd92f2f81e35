"""An emulated chip on a pseudo-terminal, or spoken to directly: for tests of the serial line and of power cuts."""

from __future__ import annotations

import contextlib
import ctypes as C
import datetime as dt
import functools
import os
import select
import tempfile
import threading
import time
import tty
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

from sunsched.config import toml_file
from sunsched.job import compact, firmware_folder, pipeline
from sunsched.job.chip import flash_tables
from sunsched.job.chip.words import answered, asked
from tests.chip import emulated, sites
from tests.support import toolchain

HZ = 16_000_000
EEPROM_BYTES = 1024
TABLES_BYTES = 608  # both slots
ERASED = b"\xff" * EEPROM_BYTES
EPOCH = dt.datetime(2000, 1, 1)


@functools.cache
def program(name: str, first_year: int = 2027, last_year: int = 2047) -> Path:
    """An ELF of a shipped configuration with tables of many years."""
    toolchain.needed("avr-gcc", "avr-size", "avr-objcopy", "make")
    return built(sites.CONFIGS / f"{name}.toml", first_year, last_year)


def built(config: Path, first_year: int, last_year: int) -> Path:
    """An ELF of any configuration, by the Makefile of its folder."""
    folder = Path(tempfile.mkdtemp(prefix="door_")) / "door"
    folder.mkdir()
    work = pipeline.built(toml_file.read(str(config)), first_year, config.name)
    made = flash_tables.flash_tables(work.configuration, range(first_year, last_year + 1))
    for path, content in firmware_folder.files_of(work, made, folder, config.name).items():
        path.write_bytes(content)
    return emulated.made(folder)


@functools.cache
def library() -> C.CDLL:
    """The flat face over the emulator."""
    toolchain.needed("gcc", "simavr")
    out = Path(tempfile.mkdtemp(prefix="talk_")) / "talk.so"
    year, play = emulated.YEAR_DIR, emulated.PLAY_DIR
    sources = [Path(__file__).parent / "talk.c", year / "chip.c", play / "clock_chip.c"]
    flags = ["-std=gnu11", "-O2", "-shared", "-fPIC", "-Wall", "-Wextra", "-Werror"]
    toolchain.run(["gcc", *flags, f"-I{year}", f"-I{play}", *sources, "-lsimavr", "-o", out])
    found = C.CDLL(str(out))
    found.talk_new.restype = C.c_void_p
    found.talk_new.argtypes = [C.c_char_p, C.c_int64, C.c_char_p]
    taken: dict[str, list[Any]] = {
        "talk_run": [C.c_uint64],
        "talk_say": [C.c_uint8],
        "talk_heard": [C.c_char_p, C.c_uint32],
        "talk_eeprom": [C.c_char_p],
        "talk_clock": [C.c_int64],
        "talk_light": [C.c_uint32],
        "talk_switches": [C.c_int, C.c_int],
        "talk_hand": [C.c_int],
    }
    for name, arguments in taken.items():
        getattr(found, name).argtypes = [C.c_void_p, *arguments]
    found.talk_heard.restype = C.c_uint32
    for name in ("talk_cut", "talk_free", "talk_clock_now", "talk_cycle", "talk_driven", "talk_lamp", "talk_awake"):
        getattr(found, name).argtypes = [C.c_void_p]
    for name in ("talk_cycle", "talk_awake"):
        getattr(found, name).restype = C.c_uint64
    found.talk_clock_now.restype = C.c_int64
    return found


class Chip:
    """An emulated chip with a clock chip beside it, the door standing up."""

    def __init__(self, elf: Path, at: dt.datetime, eeprom: bytes = ERASED) -> None:
        self.library = library()
        seconds = int((at - EPOCH).total_seconds())
        self.head = self.library.talk_new(str(elf).encode(), seconds, eeprom)
        assert self.head, "the emulator cannot read the program"
        self.log = ""

    def run(self, seconds: float) -> None:
        """Live so many seconds."""
        assert self.library.talk_run(self.head, int(seconds * HZ)) == 0, "the emulated chip stopped"

    def received(self) -> str:
        """What it has said since last asked."""
        buffer = C.create_string_buffer(1 << 16)
        n = self.library.talk_heard(self.head, buffer, len(buffer))
        said = buffer.raw[:n].decode("ascii", "replace")
        self.log += said
        return said

    def say(self, data: bytes) -> None:
        """Characters at the line's pace."""
        for character in data:
            self.library.talk_say(self.head, character)

    def wake(self) -> None:
        """Until it listens."""
        for _ in range(5):
            self.say(b"\r")
            self.run(0.3)
            if "# ready" in self.received():
                return
        raise AssertionError("the chip does not wake")

    def answer(self, text: str, wait_s: float = 1.0) -> str:
        """The answer to a line with its checksum; "" if there is none."""
        self.received()
        self.say(asked(text))
        said = b""
        for _ in range(int(wait_s / 0.02)):
            self.run(0.02)
            said += self.received().encode()
            for line in said.split(b"\n")[:-1]:
                found = answered(line)
                if found is not None and found[:1] in (text[:1], "!"):
                    return found
        return ""

    def eeprom(self) -> bytes:
        """All of its EEPROM."""
        buffer = C.create_string_buffer(EEPROM_BYTES)
        self.library.talk_eeprom(self.head, buffer)
        return buffer.raw

    def now(self) -> dt.datetime:
        """What its clock chip shows."""
        return EPOCH + dt.timedelta(seconds=self.library.talk_clock_now(self.head))

    def set_clock(self, at: dt.datetime) -> None:
        """The clock chip shows another time without a word to the program."""
        self.library.talk_clock(self.head, int((at - EPOCH).total_seconds()))

    def press(self, way: int | None) -> None:
        """Hold the hand switch: 1 up, 0 down, None lets go."""
        self.library.talk_hand(self.head, 0 if way is None else 2 - way)

    def cut(self) -> None:
        """Power off and on."""
        self.library.talk_cut(self.head)

    def cycle(self) -> int:
        """Cycles lived."""
        return int(self.library.talk_cycle(self.head))

    def free(self) -> None:
        """Let the emulator go."""
        self.library.talk_free(self.head)


def image(name: str, year: int, configuration: object = None) -> bytes:
    """The exact image of a shipped configuration's year."""
    c = toml_file.read(str(sites.CONFIGS / f"{name}.toml")) if configuration is None else configuration
    return compact.compact(c, (year,), "auto").table.raw  # type: ignore[arg-type]


Spoil = Callable[[bytes], bytes]


class Served:
    """A chip behind a pseudo-terminal, lived in a thread at many times its own speed."""

    def __init__(self, chip: Chip, speed: float = 15.0) -> None:
        self.chip, self.speed = chip, speed
        self.master, slave = os.openpty()
        tty.setraw(self.master)
        tty.setraw(slave)
        self.place = os.ttyname(slave)
        self._slave = slave
        self.to_chip: Spoil = lambda data: data
        self.from_chip: Spoil = lambda data: data
        self._ending = self._unplugged = False
        self.cut_after: int | None = None  # characters to the chip, then the cable is out
        self.said = 0
        self.thread = threading.Thread(target=self._live, daemon=True)
        self.thread.start()

    def _live(self) -> None:
        began, lived = time.monotonic(), 0.0
        while not self._ending:
            ready, _, _ = select.select([self.master], [], [], 0)
            data = os.read(self.master, 64) if ready else b""
            before = self.chip.cycle()
            for byte in data:
                if self.cut_after is not None and self.said >= self.cut_after:
                    self._unplug()
                    return
                self.said += 1
                self.chip.say(self.to_chip(bytes([byte])))
            self.chip.run(0.01)
            lived += (self.chip.cycle() - before) / HZ
            said = self.from_chip(self.chip.received().encode())
            if said:
                os.write(self.master, said)
            ahead = lived / self.speed - (time.monotonic() - began)
            if ahead > 0:
                time.sleep(ahead)
            else:
                began, lived = time.monotonic(), 0.0

    def _unplug(self) -> None:
        self._ending = True
        if not self._unplugged:
            self._unplugged = True
            os.close(self._slave)
            os.close(self.master)

    def end(self) -> None:
        """Stop the thread and close the terminal; the chip stays."""
        self._ending = True
        self.thread.join()
        self._unplug()


@contextlib.contextmanager
def served(chip: Chip, speed: float = 15.0) -> Iterator[Served]:
    """The chip behind a pseudo-terminal while the block runs."""
    line = Served(chip, speed)
    try:
        yield line
    finally:
        line.end()
