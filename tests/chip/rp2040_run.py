"""Days of a shipped configuration on an emulated RP2040: `python -m tests.chip.rp2040_run [NAME ...]`.

The C program lives the days on this computer (tests/chip/year); each second's light, switches and clock are written
down and given to the same program built for the RP2040. rp2040js runs it from its second stage on: pins, converter,
serial line, two-wire bus, timer and watchdog are the emulator's. It has no boot ROM and no flash behind its SSI: the
ROM's functions that change flash are stood in for by rp2040/rom.c. Compared are each second's inputs and outputs and
the motor's pins, and at the end the log and all kept bytes. Whole: the stretches of board_years.py at the four sites
with a clock chip, 20 min of one core; `--write` puts a record into sunsched/hardware/board_proofs.json.
"""

from __future__ import annotations

import argparse
import dataclasses
import json
import re
import shutil
import sys
import tempfile
import time
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from sunsched.emit import c_years, firmware
from sunsched.hardware.board_proofs import Proof
from sunsched.hardware.boards import BOARDS
from sunsched.hardware.pins import pins_on
from sunsched.job import firmware_folder
from sunsched.job.board_list import sources_of
from sunsched.job.chip import flash_tables
from sunsched.job.files import shipped_c
from tests.chip import board_years, header_matrix, recording, sites, skies
from tests.chip.emulated import DAY_S, FIRST_DAY
from tests.chip.recording import RUN, YEAR, Recording
from tests.support import board_proofs, objects, toolchain

SITES = ["larch_end", "birch_hollow", "east_terrace", "fig_yard"]  # tussock_flat has no clock chip, and no pulse
HERE = toolchain.HERE / "rp2040"
BOARD = BOARDS["rp2040"]
_MODULE = "npm/node_modules/rp2040js/dist/esm/index.js"
# Of door_decision.h: its inputs and outputs as they lie in memory.
_IN_BYTES = ("clock_valid", "clock_set", "top", "bottom", "hand", "keep_shut", "battery", "clock_cell_low")
_IN = np.dtype(
    [*((name, "<u2") for name in ("clock_day", "clock_min", "light_counts")), *((n, "u1") for n in _IN_BYTES)]
)
_OUT_BYTES = ("drive", "duty", "door", "want", "reason", "time")
_OUT = np.dtype([*((name, "<u2") for name in ("alarms", "own_day", "own_min")), *((n, "u1") for n in _OUT_BYTES)])
_GIVEN = np.dtype([("in", _IN), ("out", _OUT), ("motor", "u1"), ("speed", "u1")])


@dataclass(frozen=True, slots=True)
class Lived:
    """A run on the emulated chip.

    seconds, differing   lived, and those whose inputs, outputs or pins were others
    words   the first that differ, and what else is wrong
    awake   cycles a second not slept; stack, erases, programs of the flash
    """

    seconds: int
    differing: int
    words: tuple[str, ...]
    awake: float
    stack_bytes: int
    erases: int
    programs: int


def program_folder(name: str, folder: Path) -> None:
    """The folder that `firmware` writes for a shipped site with this board and one exact year."""
    work = sites.built(name, YEAR)
    made = flash_tables.flash_tables(work.configuration, (YEAR,), 0)
    machine = dataclasses.replace(firmware_folder.machine_of(work, name), board=BOARD, pins=pins_on(BOARD))
    header = c_years.text(made.plans, made.tables, work.stamp)
    shipped = {file: shipped_c(file).decode("ascii") for file in firmware.shipped_names(BOARD)}
    for file, text in firmware.texts(work.plan, header, work.stamp, machine, shipped, "door").items():
        (folder / file).write_text(text)


def built(folder: Path) -> Path:
    """The folder built by its own Makefile."""
    toolchain.needed("arm-none-eabi-gcc", "make")
    elf, binary = folder / "door.elf", folder / "door.bin"
    results = [elf, binary, folder / "door.uf2"]
    toolchain.run_once(["make", "-s", "door.uf2"], folder, results, build=lambda: objects.make(folder, "door.uf2"))
    return elf


def rom(folder: Path) -> Path:
    """The stand-in for the boot ROM."""
    out = folder / "rom.bin"
    chip = ("-mcpu=cortex-m0plus", "-mthumb", "-Os", "-nostdlib", "-ffreestanding", *toolchain.WARNINGS)
    toolchain.run(["arm-none-eabi-gcc", *chip, f"-T{HERE / 'rom.ld'}", HERE / "rom.c", "-o", folder / "rom.elf"])
    toolchain.run(["arm-none-eabi-objcopy", "-O", "binary", folder / "rom.elf", out])
    return out


def symbols(elf: Path) -> dict[str, int]:
    """Where each object of a program lies."""
    rows = (line.split() for line in toolchain.run(["arm-none-eabi-nm", elf]).stdout.splitlines())
    return {row[2]: int(row[0], 16) for row in rows if len(row) == 3}


def sizes(elf: Path) -> tuple[int, int]:
    """Flash and static RAM of a program [bytes]."""
    text, data, bss = (int(word) for word in toolchain.run(["arm-none-eabi-size", elf]).stdout.split()[6:9])
    return text + data, data + bss


def plan_of(record: NDArray[Any], run: Recording, folder: Path) -> Path:
    """What live.mjs reads, in a folder where the program has been built."""
    at = symbols(folder / "door.elf")
    (folder / "record.bin").write_bytes(record.tobytes())
    pins = {key: int(pin.removeprefix("GP")) for key, pin in pins_on(BOARD).model_dump(exclude_none=True).items()}
    text = (folder / "door_values.h").read_text()
    low, spent = (
        (int(n) for n in re.findall(r"DOOR_BATTERY_(?:LOW|SPENT)_COUNTS (\d+)u", text)) if "_LOW_" in text else (2, 1)
    )
    wanted: dict[str, object] = {
        "program": str(folder / "door.bin"),
        "rom": str(rom(folder)),
        "record": str(folder / "record.bin"),
        "cuts": run.cuts_s,
        "seconds": int(record["seconds"].sum()),
        "run_bytes": RUN.itemsize,
        "at": {name: place[1] for name, place in (RUN.fields or {}).items()},
        "in_at": at["in"],
        "in_bytes": _IN.itemsize,
        "out_at": at["out"],
        "out_bytes": _OUT.itemsize,
        "kept_at": at["bytes_now"],
        "stack_from": at["door_bss_end"],
        "first_s": (run.plan.first_day - FIRST_DAY) * DAY_S + run.first_s,
        "closed": run.configuration.door is not None and run.configuration.door.switches == "normally_closed",
        "battery": [min(low + 40, 1000), low - 1, spent - 1],
        "pins": {
            **{key: pins[f"{key}_switch"] for key in ("top", "bottom")},
            **{key: pins[f"{key}_motor"] for key in ("raise", "lower")},
            "pulse": pins["pulse"],
            "speed": pins["motor_speed"],
            "cell": pins["light_cell"] - 26,
            "battery": pins["battery"] - 26,
            "hand": {"up": pins["hand_up"], "down": pins["hand_down"], "keep_shut": pins["keep_shut"]},
        },
    }
    (folder / "plan.json").write_text(json.dumps(wanted))
    return folder / "plan.json"


def emulated(plan: Path, timeout_s: float, script: str = "live.mjs") -> dict[str, Any]:
    """What a script says at its end."""
    module = Path(sys.prefix) / _MODULE
    toolchain.needed_folder(module.parent, "tools/check (npm: rp2040js)")
    node = shutil.which("node") or str(Path(sys.prefix) / "bin" / "node")
    done = toolchain.run([node, HERE / script, module, plan], timeout_s)
    found: dict[str, Any] = json.loads(done.stdout.splitlines()[-1])
    return found


def compared(name: str, run: Recording, folder: Path, timeout_s: float = 600, runs: slice = slice(None)) -> Lived:
    """A recording lived again on the emulated chip; `runs`: the first of the record's runs alone."""
    program_folder(name, folder)
    built(folder)
    record = run.record[runs]
    end = emulated(plan_of(record, run, folder), timeout_s)
    given = np.frombuffer((folder / "given.bin").read_bytes(), _GIVEN)
    wanted = np.repeat(record, record["seconds"])
    words = _wrong_at_the_end(run, folder, end, len(given), len(wanted))
    apart = np.zeros(len(given), bool)
    for column in recording.COLUMNS:
        side = "in" if column in (_IN.names or ()) else "out"
        apart |= given[side][column] != wanted[column][: len(given)].astype(_GIVEN[side][column])
    apart |= _motor_apart(given, wanted)
    words += [f"second {at}: {wanted[at]} {given[at]}" for at in np.flatnonzero(apart)[:3].tolist()]
    seconds = max(int(end["seconds"]), 1)
    return Lived(
        int(end["seconds"]),
        int(np.count_nonzero(apart)),
        tuple(words),
        end["awake"] / seconds,
        int(end["stack"]),
        int(end["erases"]),
        int(end["programs"]),
    )


def _motor_apart(given: NDArray[Any], wanted: NDArray[Any]) -> NDArray[Any]:
    """The motor's pins half a second after a step: what the step asks, or nothing where the end switch is made."""
    asked = np.select([wanted["drive"] == 1, wanted["drive"] == 2], [1, 2], 0)
    at_end = ((asked == 1) & (wanted["top"] == 1)) | ((asked == 2) & (wanted["bottom"] == 1))
    # A run is never turned round in one step: the pins then rest for a second.
    rested = (given["motor"] == 0) & (at_end | (np.roll(asked, 1) != asked))
    pins = (given["motor"] == asked) & ((given["speed"] == 1) == (asked != 0))
    return np.asarray(~(pins | rested))


def _wrong_at_the_end(run: Recording, folder: Path, end: dict[str, Any], seconds: int, wanted: int) -> list[str]:
    found = [f"{seconds} seconds of {wanted}"] if seconds != wanted else []
    found += [f"{end[key]} {key}" for key in ("resets", "both", "faults") if end[key]]
    here = [line.replace("atmega328p", BOARD.name) for line in run.life.host_log.splitlines()]
    there = (folder / "log.txt").read_text("latin1").splitlines()
    whole = wanted == run.record["seconds"].sum()
    if here[: None if whole else len(there)] != there:
        first = next((pair for pair in zip(here, there, strict=False) if pair[0] != pair[1]), (len(here), len(there)))
        found.append(f"logs: {first}")
    kept = (folder / "kept.bin").read_bytes()
    if whole and kept != run.host_kept:
        places = [n for n in range(1024) if kept[n] != run.host_kept[n]]
        found.append(f"kept bytes differ at {places[:8]}")
    return found


class Tally:
    """What the stretches lived add up to."""

    def __init__(self) -> None:
        self.sites: set[str] = set()
        self.days = self.seconds = self.moves = self.wrong = 0
        self.awake_cycles = 0.0
        self.flash_bytes = self.ram_bytes = self.stack_bytes = 0

    def live(self, name: str, row: int, kinds: list[skies.Kind]) -> Lived:
        """Lead one stretch and add it."""
        run = Recording(name, row, kinds)
        with tempfile.TemporaryDirectory() as folder:
            lived = compared(name, run, Path(folder), 600 + 120 * len(kinds))
            flash_bytes, ram_bytes = sizes(Path(folder) / "door.elf")
        self.sites.add(name)
        self.days += len(kinds)
        self.seconds += lived.seconds
        self.moves += run.moves
        self.wrong += lived.differing + len(lived.words) + len(run.misjudged)
        self.awake_cycles += lived.awake * lived.seconds
        self.flash_bytes = max(self.flash_bytes, flash_bytes)
        self.ram_bytes = max(self.ram_bytes, ram_bytes)
        self.stack_bytes = max(self.stack_bytes, lived.stack_bytes)
        return lived

    def proof(self) -> Proof:
        """As the package keeps it."""
        return Proof(
            board=BOARD.name,
            part="program",
            executed_on=f"rp2040js {emulator_version()}",
            compiled_with=header_matrix.version("arm-none-eabi-gcc"),
            command="python -m tests.chip.rp2040_run --write",
            beside="the same program on a computer; moves: plan and light",
            sites=len(self.sites),
            days=self.days,
            decisions=self.seconds,
            moves=self.moves,
            differing=self.wrong,
            flash_bytes=self.flash_bytes,
            ram_bytes=self.ram_bytes,
            stack_bytes=self.stack_bytes,
            step_cycles=round(self.awake_cycles / self.seconds),
            sources=sources_of(BOARD),
        )


def emulator_version() -> str:
    """The version of the emulator that is installed."""
    package = Path(sys.prefix) / "npm" / "node_modules" / "rp2040js" / "package.json"
    return str(json.loads(package.read_text())["version"])


def main() -> int:
    """Live the stretches of the sites asked for."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("names", nargs="*", default=SITES)
    parser.add_argument("--write", action="store_true", help="put the figures into the package")
    asked = parser.parse_args()
    tally = Tally()
    for months in zip(*map(board_years.stretches, asked.names), strict=True):
        for name, (date, kinds) in zip(asked.names, months, strict=True):
            began = time.perf_counter()
            lived = tally.live(name, sites.built(name, YEAR).plan.row(date), kinds)
            print(f"{name} {date} {kinds}: {lived}, {time.perf_counter() - began:.0f} s here", flush=True)
        if asked.write and not tally.wrong:  # month by month: a run that is stopped keeps what it has seen
            board_proofs.put([tally.proof()])
    print(f"{tally.days} days, {tally.moves} moves, {tally.wrong} wrong")
    return int(tally.wrong > 0)


if __name__ == "__main__":
    sys.exit(main())
