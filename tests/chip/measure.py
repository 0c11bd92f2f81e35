"""What the chip needs, measured: `python -m tests.chip.measure` writes measured.json; test_measured.py holds it true.

Plain headers: cycles of the slowest look-up on an emulated ATmega328P, a date to its minute. The program: flash, static
SRAM, deepest stack and cycles awake of a day from noon to noon.
"""

from __future__ import annotations

import datetime as dt
import json
import tempfile
from pathlib import Path
from typing import Any

from sunsched.job import pipeline
from tests.chip import sites
from tests.chip.emulated import chip_program
from tests.chip.runs import DAY_S, ChipRun
from tests.support import toolchain

FILE = toolchain.HERE / "measured.json"
HZ = toolchain.AVR_HZ["atmega328p"]
NAME = "larch_end"
# Typical supply currents of an ATmega328P at 5 V, 16 MHz, from memory of its datasheet's curves: active, idle,
# power-down with the watchdog on. An estimate for the chip alone: a board's power lamp and USB chip draw far more.
ACTIVE_MA, IDLE_MA, POWER_DOWN_MA = 9.0, 2.8, 0.008


def headers() -> dict[str, int]:
    """Cycles of the slowest look-up in a plain header."""
    found = {}
    for name in sites.SHIPPED:
        with tempfile.TemporaryDirectory() as folder:
            header = Path(folder) / "table.h"
            header.write_bytes(pipeline.texts_of(sites.built(name, 2027), ["c"])["c"])
            source = toolchain.HERE / "dump_plain.c"
            elf = Path(folder) / "dump.elf"
            toolchain.avr_program([source], elf, "atmega328p", f'-DTABLE_HEADER="{header}"')
            found[name] = int(toolchain.simavr_output(elf, "atmega328p")[-1][6:10], 16)
    return found


def program() -> dict[str, Any]:
    """The door program's needs, lived through a day."""
    elf = chip_program(NAME, 2027)
    flash, sram = toolchain.avr_sizes(elf)
    chip_run = ChipRun(NAME, 2027, sites.built(NAME, 2027).plan.row(dt.date(2027, 10, 12)), ["clear"])
    chip_run.run()
    awake = chip_run.life.awake_cycles() / DAY_S
    idle = (chip_run.life.asleep_cycles(0) + chip_run.life.asleep_cycles(1)) / DAY_S / HZ
    stack = chip_run.life.stack_bytes(sram)
    chip_run.life.end()
    estimate_ma = awake / HZ * ACTIVE_MA + idle * IDLE_MA + (1 - idle - awake / HZ) * POWER_DOWN_MA
    return {
        "flash_bytes": flash,
        "static_sram_bytes": sram,
        "deepest_stack_bytes": stack,
        "cycles_awake_a_second": round(awake),
        "share_idle": round(idle, 5),
        "estimated_standby_ma_of_the_chip_alone": round(estimate_ma, 4),
    }


def measured() -> dict[str, Any]:
    """Everything, with the compiler it was measured with."""
    compiler = toolchain.run(["avr-gcc", "-dumpversion"]).stdout.strip()
    return {"avr_gcc": compiler, "program": program(), "plain_header_lookup_cycles": headers()}


if __name__ == "__main__":
    FILE.write_text(json.dumps(measured(), indent=2) + "\n")
