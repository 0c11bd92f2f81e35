"""The emulated year's workshop: the program's folder built for the chip and for this computer, and a life to lead."""

from __future__ import annotations

import ctypes as C
import datetime as dt
import functools
import re
import tempfile
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from sunsched.base.civil_time import day_number
from sunsched.emit import firmware
from sunsched.hardware.boards import BOARDS, Board
from sunsched.job import firmware_folder
from sunsched.job.chip import flash_tables
from tests.chip import sites
from tests.support import objects, toolchain

YEAR_DIR = toolchain.HERE / "year"
PLAY_DIR = toolchain.C_DIR / "play"  # machine, clock chip and board on a computer, as a play has them
DAY_S = 86_400
FIRST_DAY = day_number(dt.date(2000, 1, 1))

# life_second in life.h.
SECOND = np.dtype(
    [(name, "<u2") for name in ("clock_day", "clock_min", "light_counts")]
    + [(name, "u1") for name in ("clock_valid", "clock_set", "top", "bottom", "hand", "keep_shut", "battery")]
    + [(name, "u1") for name in ("drive", "duty", "door", "want", "reason", "time")]
    + [(name, "<u2") for name in ("own_day", "own_min", "alarms")],
    align=True,
)

SPARE = 8
LOG = C.create_string_buffer(1 << 22)  # one for all: a life may be led second by second

# life_event in life.h.
EVENT = np.dtype([("at_s", "<u4"), ("alarms", "<u2"), ("want", "u1"), ("reason", "u1")])


class Door(C.Structure):
    """door_model in door_model.h."""

    _fields_ = [
        ("travel_mm", C.c_double),
        ("raise_mm_s", C.c_double),
        ("cord_mm", C.c_double),
        ("top_stuck", C.c_uint8),
        ("bottom_stuck", C.c_uint8),
        ("wires_swapped", C.c_uint8),
        ("jam_mm", C.c_double),
        ("rigid", C.c_uint8),
        ("frozen", C.c_uint8),
        ("paid_mm", C.c_double),
        ("most_paid_mm", C.c_double),
        ("stalled_s", C.c_double),
        ("driven_s", C.c_double),
        ("held", C.c_uint8),
    ]


class DriveWatch(C.Structure):
    """drive_watch in drive_watch.h."""

    _fields_ = [
        ("longest_raise_s", C.c_double),
        ("longest_lower_s", C.c_double),
        ("least_turn_s", C.c_double),
        ("runs", C.c_uint32),
        ("both", C.c_uint32),
        ("now", C.c_int32),
        ("last", C.c_int32),
        ("began_s", C.c_double),
        ("ended_s", C.c_double),
    ]


class Head(C.Structure):
    """The front of `life` in life.h: what Python sets and reads."""

    _fields_ = [
        ("chip", C.c_void_p),
        ("door", Door),
        ("hand_pins", C.c_uint8),
        ("battery_counts", C.c_uint16),
        ("alone", C.c_uint8),
        ("seconds", C.c_uint64),
        ("differing", C.c_uint64),
        ("steps", C.c_uint64),
        ("first_difference", C.c_uint64),
        ("record", C.c_void_p),
        ("record_end", C.c_void_p),
        ("events", C.c_void_p),
        ("events_n", C.c_uint32),
        ("drive", DriveWatch),
    ]


def serial_of(board: Board) -> int:
    """The number of the serial line that the chip's header puts in use."""
    header = (toolchain.C_DIR / board.chip_header).read_text(encoding="ascii")
    return int(re.findall(r"^#define CHIP_SERIAL (\d)$", header, re.M)[0])


@functools.cache
def program_folder(name: str, year: int) -> Path:
    """The folder that `firmware` writes for a shipped configuration and one year, every minute of it exact."""
    folder = Path(tempfile.mkdtemp(prefix="door_")) / "door"
    folder.mkdir()
    work = sites.built(name, year)
    made = flash_tables.flash_tables(work.configuration, (year,), 0)
    for path, content in firmware_folder.files_of(work, made, folder, f"{name}.toml").items():
        path.write_bytes(content)
    return folder


@functools.cache
def chip_program(name: str, year: int) -> Path:
    """The folder built by its own Makefile: an ELF."""
    toolchain.needed("avr-gcc", "avr-size", "avr-objcopy", "make")
    folder = program_folder(name, year)
    return made(folder)


def made(folder: Path) -> Path:
    """A program's folder built by its own Makefile: the ELF."""
    results = [folder / "door.elf", folder / "door.hex"]
    toolchain.run_once(["make", "-s", "door.hex"], folder, results, build=lambda: objects.make(folder, "door.hex"))
    return results[0]


@functools.cache
def bench(name: str, year: int) -> C.CDLL:
    """The emulator's bench as a library, with the same folder's program built for this computer inside."""
    return bench_of(program_folder(name, year), sites.built(name, year).configuration.chip.on)


def bench_of(folder: Path, board: Board = BOARDS["atmega328p"]) -> C.CDLL:
    """The same for any program's folder, written for `board`."""
    toolchain.needed("gcc", "simavr")
    out = folder.parent / "bench.so"
    program = [folder / Path(source).name for source in firmware.sources(board)]
    portable = [
        source for source in program if source.name != "door_main.c" and not source.name.startswith("door_board")
    ]
    flags = [
        "-std=gnu11",
        "-O1",  # built more often than it is lived with: the emulator's own library takes the time
        "-Wno-unused-function",
        "-shared",
        "-fPIC",
        "-Wall",
        "-Wextra",
        "-Werror",
    ]
    ours = {
        "DOOR_PROGRAM_SHOWN": "1",
        "LIFE_MCU": f'"{board.chip}"',
        "LIFE_HZ": f"{board.hz}",
        "LIFE_SUPPLY_MV": f"{board.supply_v * 1000:.0f}",
        "LIFE_SERIAL": f"'{serial_of(board)}'",
        "LIFE_RXD_PORT": f"'{board.own_pins['rxd'][0][1]}'",
        "LIFE_RXD_BIT": f"{board.own_pins['rxd'][0][2]}",
    }
    models = [PLAY_DIR / f"{name}.c" for name in ("clock_chip", "door_model", "host_board")]
    sources = [*sorted(YEAR_DIR.glob("*.c")), *models, *portable]
    # the program's folder before the models': it has this site's own door_values.h
    places = (YEAR_DIR, folder, PLAY_DIR)

    def build() -> None:
        objects.link(flags, places, sources, out, "-lsimavr", ours=ours)

    toolchain.run_once(
        ["gcc", *flags, str(ours), *sources, "-o", out], folder, [out], read=[YEAR_DIR, PLAY_DIR], build=build
    )
    library = C.CDLL(str(out))
    library.life_new.restype = C.POINTER(Head)
    library.life_new.argtypes = [C.c_char_p, C.c_int64]
    library.life_run.argtypes = [C.POINTER(Head), C.c_void_p, C.c_uint32, C.c_void_p]
    library.life_set_clocks.argtypes = [C.POINTER(Head), C.c_int64]
    library.life_clocks_by.argtypes = [C.POINTER(Head), C.c_int64]
    library.life_host_eeprom.restype = C.c_void_p
    library.life_cycles.restype = C.c_uint64
    library.life_cycles.argtypes = [C.POINTER(Head), C.c_int]
    library.life_put_eeprom.argtypes = [C.POINTER(Head), C.c_uint16, C.c_char_p, C.c_uint16]
    library.life_stack_used.restype = C.c_uint32
    library.life_stack_used.argtypes = [C.POINTER(Head), C.c_uint16]
    for function in ("life_chip_log", "life_host_log"):
        getattr(library, function).restype = C.c_uint32
        getattr(library, function).argtypes = [C.POINTER(Head), C.c_char_p, C.c_uint32]
    return library


class Life:
    """One emulated chip, one door, one program on this computer beside it; only one can be led at a time."""

    def __init__(self, name: str, year: int, date: dt.date, second: int = 0, chip: bool = True) -> None:
        self.library = bench(name, year)
        # The clock's second changes first: lived second n is the chip's second n of the day.
        elf = str(chip_program(name, year)).encode()
        self.head = self.library.life_new(elf, self.clock_seconds(date, second) - 1)
        assert self.head, "the emulator does not know this chip or cannot read the program"
        self.state.alone = int(not chip)
        self.chip_log = ""
        self.host_log = ""

    @staticmethod
    def clock_seconds(date: dt.date, second: int = 0) -> int:
        """What the clock chip counts for a chip date and second of the day."""
        return (day_number(date) - FIRST_DAY) * DAY_S + second

    @property
    def state(self) -> Any:
        """The front of the C structure; its fields may be set."""
        return self.head.contents

    @property
    def height_mm(self) -> float:
        """How high the plate stands above its sill."""
        door = self.state.door
        paid = door.paid_mm if door.paid_mm <= door.cord_mm else 2 * door.cord_mm - door.paid_mm
        return max(float(door.travel_mm - paid), float(door.jam_mm))

    def run(self, light_counts: NDArray[np.uint16], recorded: bool = False) -> NDArray[Any]:
        """Live len(light_counts) seconds; with `recorded`, each step's inputs and outputs."""
        light = np.ascontiguousarray(light_counts, np.uint16)
        record = np.zeros(len(light) + SPARE if recorded else 0, SECOND)
        steps = int(self.state.steps)
        to = record.ctypes.data if recorded else None
        state = self.library.life_run(self.head, light.ctypes.data, len(light), to)
        assert state == 0, f"the emulated chip stopped (simavr state {state})"
        self._take_logs()
        return record[: int(self.state.steps) - steps]

    def say(self, text: str) -> None:
        """Type a line on the serial line."""
        self.library.life_say(self.head, text.encode())

    def type_in_step(self, character: str) -> None:
        """One character comes while the next second's step reads its light."""
        self.library.life_type(self.head, C.c_char(character.encode()))

    def _take_logs(self) -> None:
        for which in ("chip_log", "host_log"):
            n = getattr(self.library, f"life_{which}")(self.head, LOG, len(LOG))
            setattr(self, which, getattr(self, which) + C.string_at(LOG, n).decode("ascii"))

    def events(self) -> NDArray[Any]:
        """Every change of the wish or the alarms, by the second lived."""
        n = int(self.state.events_n)
        raw = C.string_at(self.state.events, n * EVENT.itemsize)
        return np.frombuffer(raw, EVENT, n)

    def power_cut(self) -> None:
        """Both programs start again; memory and clock chip stay."""
        self.library.life_power_cut(self.head)

    def reset(self, cause: int) -> None:
        """The same by another cause, of `Reset`."""
        self.library.life_reset(self.head, cause)

    def glitch(self, wires: int, microseconds: int) -> None:
        """For so long the wires of the upper (1) and lower (2) end switch say the contrary."""
        self.library.life_glitch(self.head, wires, microseconds)

    @property
    def driven(self) -> int:
        """What the driver makes of the chip's pins: +1 raises, -1 lowers, 0 rests."""
        return int(self.library.life_driven(self.head))

    def clock_cell(self, low: bool) -> None:
        """The clock chips find their backup cells low, or good."""
        self.library.life_clock_cell(self.head, int(low))

    def put_eeprom(self, image: bytes) -> None:
        """A programmer writes `image` from byte 0 on; the programs see it at their next start."""
        self.library.life_put_eeprom(self.head, 0, image, len(image))

    def set_clocks(self, date: dt.date, second: int) -> None:
        """The clock chips jump without a word to the program."""
        self.library.life_set_clocks(self.head, self.clock_seconds(date, second) - 1)

    def clocks_by(self, seconds: int) -> None:
        """The clock chips jump by so much."""
        self.library.life_clocks_by(self.head, seconds)

    @property
    def host_eeprom(self) -> bytes:
        """The EEPROM of the program on this computer."""
        return C.string_at(self.library.life_host_eeprom(), 1024)

    def clock_fault(self, absent: bool = False, halted: bool = False, stopped: bool = False) -> None:
        """Off the bus; standing still; marked as having stopped."""
        self.library.life_clock_fault(self.head, int(absent), int(halted), int(stopped))

    def sensor_fault(self, absent: bool = False, hangs: int = 0) -> None:
        """A light sensor off the bus; or a line held from the n-th step of an exchange with it on."""
        self.library.life_sensor_fault(self.head, int(absent), hangs)

    @property
    def memories_differ(self) -> bool:
        """The EEPROM is not the same on chip and computer."""
        return bool(self.library.life_memories_differ(self.head, 0, 1024))

    def awake_cycles(self) -> int:
        """Cycles the chip has not slept."""
        return int(self.library.life_cycles(self.head, -1))

    def asleep_cycles(self, mode: int) -> int:
        """Cycles slept in a mode: 0 idle, 1 converter noise reduction, 2 power-down."""
        return int(self.library.life_cycles(self.head, mode))

    def stack_bytes(self, static_bytes: int) -> int:
        """The deepest the stack has been, above `static_bytes` of variables."""
        return int(self.library.life_stack_used(self.head, static_bytes))

    def end(self) -> None:
        """Free the emulator."""
        self.library.life_free(self.head)
