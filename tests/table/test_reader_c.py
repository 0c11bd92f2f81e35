"""The C reader gives, day by day, what its Python twin gives; its text is clean for every compiler we name."""

from __future__ import annotations

import datetime as dt
import subprocess
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sunsched.base.civil_time import date_of, year_days
from sunsched.table import facts, rule_block
from sunsched.table.codecs import curves
from sunsched.table.image import ChipSettings, Image
from sunsched.table.layout import CODECS, Codec, pack, reader_names
from sunsched.table.rule_block import Rule
from sunsched.table.wanted import Minutes, Wanted, smooth_guide
from tests.support.made_plans import made_plan
from tests.support.reader import READER, WARNINGS, compiled
from tests.table.test_codecs import smooth
from tests.table.test_rule_block import rules

NONE, ERR_DATE = -32768, -32767


def image_of(
    layout: Codec, data: bytes, decoder_rules: tuple[Rule, ...] = (), years: tuple[int, int] = (2028, 1)
) -> Image:
    plan = made_plan(years[0])
    settings = ChipSettings(4730, -890, 0, 5, -10, 15, 112, 170, 100).to_bytes()
    return Image(layout, "standard", *years, 60, settings, facts.fact_block([plan]), decoder_rules, data)


def packed(layout: Codec) -> bytes:
    minutes = smooth(90, 0.01, 6)
    data = pack(layout, Wanted(minutes[None], minutes[None], 2028, smooth_guide(minutes, minutes)))
    assert data is not None
    return data


def in_c(image: Image, year: int) -> Minutes:
    raw = image.to_bytes()
    dates = [date_of(day) for day in range(year_days(year)[0], year_days(year + 1)[0])]
    return np.array([[compiled().minute(raw, side, year, d.month, d.day) for d in dates] for side in (0, 1)], np.int32)


@pytest.mark.parametrize("layout", [CODECS["plain"], CODECS["blocks"], CODECS["slopes"], CODECS["curves"]])
def test_every_layout_reads_as_its_twin(layout: Codec) -> None:
    image = image_of(layout, packed(layout))
    assert compiled().check(image.to_bytes(), 4000) == 0
    assert (in_c(image, 2028) == image.minutes(2028)).all()


@settings(max_examples=40, deadline=None)
@given(st.binary(min_size=11, max_size=150), st.integers(2000, 2090))
def test_any_bytes_of_curves_read_as_their_twin(data: bytes, year: int) -> None:
    # Any start and any changes, overflowing or not: the segments are filled up so that none is missing.
    body = data + bytes(400)
    image = image_of(CODECS["curves"], body, (), (year, 1))
    assert (in_c(image, year) == (curves.unpack(body, year_days(year)[1]) + 32768) % 65536 - 32768).all()


@settings(max_examples=10, deadline=None)
@given(st.binary(min_size=11, max_size=150))
def test_any_bytes_of_many_years_read_as_their_twin(data: bytes) -> None:
    body = data + bytes(400)
    image = image_of(CODECS["years"], body, (), (2027, 21))
    for year in (2027, 2028, 2046, 2047):
        assert (in_c(image, year) == image.minutes(year)).all()


@settings(max_examples=40, deadline=None)
@given(rules, st.integers(2000, 2099))
def test_any_rules_read_as_their_twin(decoder_rules: tuple[Rule, ...], year: int) -> None:
    n_days = year_days(year)[1]
    flat = np.tile(np.array([300, 1200], "<i2"), n_days).tobytes()
    image = image_of(CODECS["plain"], flat, decoder_rules, (year, 1))
    want = rule_block.applied(decoder_rules, year, np.repeat([[300], [1200]], n_days, axis=1).astype(np.int32))
    assert (in_c(image, year) == want).all()


def test_facts_midnight_and_settings() -> None:
    image = image_of(CODECS["plain"], packed(CODECS["plain"]))
    raw, reader = image.to_bytes(), compiled()
    dates = [dt.date(2028, 1, 1) + dt.timedelta(row) for row in range(366)]
    got = [(reader.facts(raw, 2028, d.month, d.day), reader.midnight(raw, 2028, d.month, d.day)) for d in dates]
    assert [f for f, _ in got] == facts.block_facts(image.facts, year_days(2028)[0], 366).tolist()
    assert [m for _, m in got] == facts.block_midnight_min(image.facts, 366).tolist()
    assert [reader.setting(raw, number) for number in range(10)] == [4730, -890, 0, 5, -10, 15, 112, 170, 100, -1]


def test_dates_that_are_none_or_not_covered() -> None:
    raw = image_of(CODECS["plain"], packed(CODECS["plain"]), (), (2027, 1)).to_bytes()
    none = [(2027, 2, 29), (2027, 4, 31), (2027, 0, 1), (2027, 13, 1), (2027, 1, 0), (2027, 1, 32)]
    for year, month, day in [*none, (2026, 12, 31), (2028, 1, 1)]:
        assert compiled().minute(raw, 0, year, month, day) == ERR_DATE


def test_a_damaged_image_is_noticed_in_c() -> None:
    image = image_of(CODECS["blocks"], packed(CODECS["blocks"])).to_bytes()
    assert compiled().check(image, len(image)) == 0
    assert compiled().check(image, len(image) - 1) == 1
    for bit in range(8 * len(image)):
        damaged = bytearray(image)
        damaged[bit // 8] ^= 1 << bit % 8
        assert compiled().check(bytes(damaged), len(image)) != 0


AVR = ("-mmcu=atmega328p",)
COMPILERS = [
    *(("gcc", f"-std={std}") for std in ("c99", "c11", "c17")),
    *(("g++", "-xc++", f"-std={std}") for std in ("c++11", "c++17", "c++20")),
    *(("avr-gcc", *AVR, f"-std={std}") for std in ("c99", "gnu99", "c11")),
    *(("avr-g++", *AVR, "-xc++", f"-std={std}") for std in ("c++11", "c++17")),
    ("avr-gcc", "-mmcu=attiny85", "-std=c99", "-DSUNSCHED_IMAGE_IN_EEPROM"),
    ("avr-gcc", *AVR, "-std=c99", "-DSUNSCHED_IMAGE_IN_RAM"),
    ("arm-none-eabi-gcc", "-mcpu=cortex-m0", "-mthumb", "-std=c99"),
]


@pytest.mark.parametrize("compiler", COMPILERS, ids=" ".join)
@pytest.mark.parametrize("layout", [None, *CODECS.values()])
def test_the_reader_is_clean(compiler: tuple[str, ...], layout: Codec | None, tmp_path: Path) -> None:
    source = tmp_path / "use.c"
    chosen = "" if layout is None else f"#define SUNSCHED_WITH_{layout.c_name}\n"
    source.write_text(
        f'{chosen}#include "sunsched_table.h"\n'
        "int16_t use(const uint8_t *image, uint16_t room);\n"
        "int16_t use(const uint8_t *image, uint16_t room)\n"
        "{\n    return (int16_t)(sunsched_check(image, room) + sunsched_open_min(image, 2u, 3u));\n}\n",
        encoding="ascii",
    )
    for name in reader_names([layout]) if layout else [path.name for path in READER.glob("sunsched_*.h")]:
        (tmp_path / name).write_bytes((READER / name).read_bytes())
    command = [*compiler, *WARNINGS, "-Os", "-c", str(source), "-o", str(tmp_path / "use.o")]
    done = subprocess.run(command, capture_output=True, text=True, timeout=60, check=False)
    assert done.returncode == 0, done.stderr


@pytest.mark.parametrize("name", sorted(path.name for path in READER.glob("sunsched_*.h")))
def test_each_part_includes_what_it_needs_and_not_the_whole(name: str, tmp_path: Path) -> None:
    source = tmp_path / "use.c"
    source.write_text(f'#include "{name}"\nint used;\n', encoding="ascii")
    command = ["gcc", "-std=c99", "-H", f"-I{READER}", *WARNINGS, "-c", str(source), "-o", str(tmp_path / "use.o")]
    done = subprocess.run(command, capture_output=True, text=True, timeout=60, check=False)
    assert done.returncode == 0, done.stderr
    assert name == "sunsched_table.h" or "sunsched_table.h" not in done.stderr
