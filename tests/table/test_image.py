"""The image as a whole: bytes and back, damage noticed, the worked example of FORMAT.md."""

from __future__ import annotations

import re
from importlib import resources

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sunsched.base.errors import DamagedError, RangeError
from sunsched.plan.rules import Rules
from sunsched.table import facts, rule_block
from sunsched.table.choose import Table, choose
from sunsched.table.codecs import curves
from sunsched.table.framing import crc16
from sunsched.table.image import ChipSettings, Image, of_bytes
from sunsched.table.layout import CODECS
from tests.support.made_plans import made_plan

SETTINGS = ChipSettings(4730, 890, 0, 0, -10, 15, 112, 170, 100)


@pytest.fixture(scope="module")
def table() -> Table:
    return choose([made_plan(shut=(320, 340))], Rules(), SETTINGS)


def test_crc_check_value() -> None:
    # RevEng, Catalogue of parametrised CRC algorithms, CRC-16/IBM-3740: check 0x29b1 for "123456789".
    assert crc16(b"123456789") == 0x29B1


def test_an_image_reads_back(table: Table) -> None:
    assert of_bytes(table.raw) == table.image
    assert of_bytes(table.raw + b"\xff" * 100) == table.image
    assert ChipSettings.of_bytes(table.image.settings) == SETTINGS
    plan = made_plan(shut=(320, 340))
    assert (table.image.minutes(2028) == np.array([plan.open_min, plan.close_min])).all()


def test_every_single_flipped_bit_is_noticed(table: Table) -> None:
    for bit in range(8 * len(table.raw)):
        damaged = bytearray(table.raw)
        damaged[bit // 8] ^= 1 << bit % 8
        with pytest.raises(DamagedError):
            of_bytes(bytes(damaged))


@settings(max_examples=300, deadline=None)
@given(st.binary(max_size=200))
def test_any_bytes_are_refused_or_read_without_a_crash(body: bytes) -> None:
    for raw in (body, b"\xd5\x01" + body, _sealed(body)):
        try:
            image = of_bytes(raw)
        except DamagedError:
            continue
        assert image.minutes(image.first_year).shape[0] == 2


def _sealed(body: bytes) -> bytes:
    """Nonsense with the right mark, length and checksum: past the checksum, sense must still be checked."""
    raw = b"\xd5\x01" + body[:1] + (len(body) + 6).to_bytes(2, "little") + body[1:]
    raw = raw[: len(body) + 4]
    return raw + crc16(raw).to_bytes(2, "little")


def test_facts_and_midnight_read_back(table: Table) -> None:
    plan = made_plan(shut=(320, 340))
    assert (facts.block_facts(table.image.facts, plan.first_day, 366) == plan.fact_bits).all()
    midnight = facts.block_midnight_min(table.image.facts, 366)
    # Whole minutes on both sides; how far the true midnight may be off is in tests/table/test_lateness.py.
    assert np.abs(midnight - plan.midnight_min).max() <= 1


@pytest.mark.parametrize("year", [1999, 2100])
def test_years_outside_2000_to_2099_are_refused(year: int) -> None:
    image = Image(CODECS["plain"], "standard", year, 1, 0, b"", b"", (), b"")
    with pytest.raises(RangeError, match="2000 to 2099"):
        image.to_bytes()


def test_the_worked_example_of_the_format() -> None:
    text = resources.files("sunsched.table").joinpath("FORMAT.md").read_text(encoding="utf-8")
    example = re.search(r"^    (23(?: [0-9A-F]{2})+)$", text, re.MULTILINE)
    assert example is not None
    data = bytes.fromhex(example[1])
    openings = [int(row[1]) for row in re.finditer(r"^\| \d \| \d+ \| -\d+ \| (\d+) \|$", text, re.MULTILINE)]
    closing = re.search(r"closing minutes are ((?:\d+ ?)+)\.", text)
    assert closing is not None and len(openings) == 9
    got = curves.unpack(data, 9)
    assert got.tolist() == [openings, [int(minute) for minute in closing[1].split()]]
    (rule,) = rule_block.of_bytes(bytes.fromhex("49401E00"))
    minutes = rule_block.applied([rule], 2028, np.pad(got, ((0, 0), (0, 357))))
    assert (minutes[0, [1, 8]] == [429, 421]).all()
    assert (minutes[0, [0, 2, 3, 4, 5, 6, 7]] == got[0, [0, 2, 3, 4, 5, 6, 7]]).all()


def test_the_format_lists_the_readers_lateness() -> None:
    text = resources.files("sunsched.table").joinpath("FORMAT.md").read_text(encoding="utf-8")
    header = resources.files("sunsched.controller").joinpath("c/sunsched_facts.h").read_text(encoding="ascii")
    in_c = re.search(r"sunsched_late\[24\][^{]*\{([^}]*)\}", header)
    assert in_c is not None
    assert tuple(int(value) for value in in_c[1].split(",")) == facts.LATE_QUARTERS
    assert " ".join(map(str, facts.LATE_QUARTERS)) in " ".join(text.split())
