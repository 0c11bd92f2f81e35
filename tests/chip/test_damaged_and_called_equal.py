"""Every damaged table that `readback` calls equal compiles, or loads, to the same minutes and facts on every day."""

from __future__ import annotations

import random
import subprocess
from pathlib import Path

import numpy as np
import pytest

from sunsched.base.errors import DamagedError
from sunsched.config import toml_file
from sunsched.emit.eeprom_hex import raw_of
from sunsched.job import readback
from sunsched.job.tables import Ask, tables
from sunsched.plan.year import YearPlan
from sunsched.table.image import of_bytes
from tests.fuzz.mutations import damaged
from tests.support.reader import WARNINGS
from tests.support.toolchain import needed

CONFIG = Path(__file__).parents[2] / "configs" / "fig_yard.toml"
YEAR = 2028
DRAWS = 250
MAIN = """
#include "table.h"
#include <stdio.h>
int main(void)
{
    uint8_t month, day;
    for (month = 1; month < 13; month++) {
        for (day = 1; day < 32; day++) {
            if (door_open_min(month, day) != DATE_ERROR) {
                printf("%d %d %d\\n", door_open_min(month, day), door_close_min(month, day), door_facts(month, day));
            }
        }
    }
    return 0;
}
"""


@pytest.fixture(scope="module")
def wholes() -> dict[str, tuple[bytes, dict[str, bytes], YearPlan]]:
    """Tables by form, with the files that they need beside them and the plan."""
    configuration = toml_file.read(CONFIG)
    plain = tables(configuration, Ask((YEAR,), ("c",)), CONFIG.name)
    packed = tables(configuration, Ask((YEAR,), ("c", "eeprom"), "auto"), CONFIG.name)
    stem = f"fig_yard_{YEAR}"
    beside = {name: content for name, content in packed.files.items() if name.startswith("sunsched_")}
    (plan,) = plain.plans
    return {
        "plain": (plain.files[f"{stem}.h"], {}, plan),
        "packed": (packed.files[f"{stem}.h"], beside, plan),
        "hex": (packed.files[f"{stem}.hex"], {}, plan),
        "bin": (packed.files[f"{stem}.bin"], {}, plan),
    }


def compiled(folder: Path, header: bytes, beside: dict[str, bytes], error: str) -> list[tuple[int, ...]]:
    """What a program with this header says on every day."""
    for name, content in {**beside, "table.h": header}.items():
        (folder / name).write_bytes(content)
    (folder / "main.c").write_text(MAIN)
    # A byte order mark and CRLF are the compiler's to take, as they are readback's.
    subprocess.run(
        ["gcc", "-std=c99", *WARNINGS, f"-DDATE_ERROR={error}", "main.c", "-o", "main"],
        cwd=folder, check=True, timeout=120,
    )  # fmt: skip
    out = subprocess.run([folder / "main"], capture_output=True, text=True, check=True, timeout=60).stdout
    return [tuple(int(word) for word in line.split()) for line in out.splitlines()]


@pytest.mark.parametrize("form", ["plain", "packed", "hex", "bin"])
def test_what_is_called_equal_is_equal_to_the_chip(
    form: str, wholes: dict[str, tuple[bytes, dict[str, bytes], YearPlan]], tmp_path: Path
) -> None:
    needed("gcc")
    whole, beside, plan = wholes[form]
    wanted = list(zip(plan.open_min.tolist(), plan.close_min.tolist(), plan.fact_bits.tolist(), strict=True))
    chance = random.Random(f"equal {form}")
    # What editors and programmers do to a whole file, and chance damage.
    cases = [whole, whole + b"\xff" * 40 if form == "bin" else whole.replace(b"\n", b"\r\n")]
    cases += [damaged(chance, whole) for _ in range(DRAWS)]
    equal: set[bytes] = set()
    for content in cases:
        try:
            differ, proof = readback.compared(readback.read_bytes(content), toml_file.read(CONFIG), CONFIG.name)
        except DamagedError:
            continue
        if proof and not differ:
            equal.add(content)
    assert 2 <= len(equal) < DRAWS
    for content in sorted(equal)[:8]:
        if form in ("plain", "packed"):
            error = "DOOR_ERR_DATE" if form == "plain" else "SUNSCHED_ERR_DATE"
            assert compiled(tmp_path, content, beside, error) == wanted
        else:
            raw = content if form == "bin" else raw_of(content.decode("utf-8-sig").replace("\r\n", "\n"))
            minutes = of_bytes(raw).minutes(YEAR)
            assert (minutes == np.array([plan.open_min, plan.close_min])).all()
