"""Table images of every shipped configuration and layout, read by the C reader on three emulated chips, from flash,
EEPROM and memory: every day of the year; of many years the first, the last and the leap years between.

A sample: every configuration and layout from an ATmega328P's flash, and each layout from everywhere. All of them
everywhere is `python -m tests.chip.table_proof`.
"""

from __future__ import annotations

from functools import cache
from pathlib import Path

import numpy as np
import pytest

from sunsched.base.errors import CapacityError
from sunsched.job.compact import Compact, compact
from sunsched.table import facts
from sunsched.table.layout import CODECS, Codec
from tests.chip import sites
from tests.support import toolchain

SOURCE = toolchain.HERE / "dump_image.c"
YEAR = 2028
ONE_YEAR = (CODECS["plain"], CODECS["blocks"], CODECS["slopes"], CODECS["curves"])
CASES = [(name, layout) for name in sites.SHIPPED for layout in ONE_YEAR]
# Where an image may lie: chip, how the reader learns it, and the most bytes there are.
PLACES = {
    "328p flash": ("atmega328p", (), 30_000),
    "328p eeprom": ("atmega328p", ("-DSUNSCHED_IMAGE_IN_EEPROM",), 1024),
    "tiny85 flash": ("attiny85", (), 5_000),
    "tiny85 eeprom": ("attiny85", ("-DSUNSCHED_IMAGE_IN_EEPROM",), 512),
    "m0 flash": ("m0", (), 100_000),
    "m0 memory": ("m0", ("-DSUNSCHED_IMAGE_IN_RAM",), 8_000),
}


@cache
def made(name: str, layout: Codec) -> Compact | None:
    """The exact table of a configuration; None where the layout cannot hold the plan exactly."""
    try:
        return compact(sites.built(name, YEAR).configuration, [YEAR], layout.name)
    except CapacityError:
        return None


def wanted(done: Compact, year: int) -> list[str]:
    """What the chip should print for a year: the minutes, facts and solar midnight of the image's Python twin."""
    image = done.table.image
    open_min, close_min = image.minutes(year)
    plan = done.plans[year - image.first_year]
    bits = facts.block_facts(image.facts, plan.first_day, plan.n_days)
    midnight = facts.block_midnight_min(image.facts, plan.n_days)
    rows = zip(open_min, close_min, bits, midnight, strict=True)
    return [f"{int(o) & 0xFFFF:04x}{int(c) & 0xFFFF:04x}{int(f):02x}{int(m) & 0xFFFF:04x}" for o, c, f, m in rows]


def printed(done: Compact, years: tuple[int, int, int], place: str, folder: Path) -> list[str]:
    """What the chip prints for `years`: first, last, step."""
    chip, where, _ = PLACES[place]
    array = folder / "image.txt"
    array.write_text(", ".join(map(str, done.table.raw)))
    first, last, step = years
    options = [f'-DIMAGE_FILE="{array}"', f"-DIMAGE_FIRST_YEAR={first}u", f"-DIMAGE_LAST_YEAR={last}u"]
    options += [f"-DIMAGE_YEAR_STEP={step}u", f"-DSUNSCHED_WITH_{done.table.image.layout.c_name}", *where]
    elf = folder / "dump.elf"
    if chip == "m0":
        return toolchain.qemu_output(toolchain.arm_program([SOURCE], elf, *options))
    return toolchain.simavr_output(toolchain.avr_program([SOURCE], elf, chip, *options), chip)


EVERYWHERE = dict(zip(ONE_YEAR, ("tussock_flat", "larch_end", "birch_hollow", "east_terrace"), strict=True))
SAMPLE = [(*case, "328p flash") for case in CASES]
SAMPLE += [(name, layout, place) for layout, name in EVERYWHERE.items() for place in PLACES if place != "328p flash"]


@pytest.mark.parametrize(("name", "layout", "place"), SAMPLE)
def test_every_day_read_on_the_chip_is_the_plans(name: str, layout: Codec, place: str, tmp_path: Path) -> None:
    done = made(name, layout)
    if done is None:
        assert layout is not CODECS["blocks"]  # which holds every plan
        return
    if len(done.table.raw) > PLACES[place][2]:
        assert layout is CODECS["plain"] or done.table.data_bytes > 200  # too much for this memory, and known to be
        return
    lines = printed(done, (YEAR, YEAR, 1), place, tmp_path)
    assert lines[-1][:2] == "#0"
    assert lines[:-1] == wanted(done, YEAR)
    plan = done.plans[0]
    assert [line[:8] for line in lines[:-1]] == [line[:8] for line in sites.told_lines(plan)]
    assert [line[8:10] for line in lines[:-1]] == [line[8:10] for line in sites.told_lines(plan)]
    midnight_min = np.array([int(line[10:], 16) for line in lines[:-1]])
    assert np.abs(midnight_min - plan.midnight_min).max() <= 1


@pytest.mark.parametrize("place", PLACES)
def test_many_years_read_on_the_chip_are_within_a_minute(place: str, tmp_path: Path) -> None:
    years = range(2027, 2048)
    done = _many(years)
    plans = dict(zip(years, done.plans, strict=True))
    for first, last, step in ((2027, 2047, 20), (2028, 2044, 4)):
        lines = printed(done, (first, last, step), place, tmp_path)
        assert lines[-1][:2] == "#0"
        asked = range(first, last + 1, step)
        assert lines[:-1] == [line for year in asked for line in wanted(done, year)]
        for year in asked:
            read = done.table.image.minutes(year)
            assert np.abs(read - np.array([plans[year].open_min, plans[year].close_min])).max() <= 1


@cache
def _many(years: range) -> Compact:
    """Twenty-one years of a site whose rules are the Sun's alone."""
    return compact(sites.built("fig_yard", 2027).configuration, list(years), "years", worst_error_min=1)
