"""Intel HEX of an image: the published record format, and damage noticed."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sunsched.base.errors import DamagedError
from sunsched.emit import eeprom_hex


# Intel, Hexadecimal Object File Format Specification, revision A, 1988: a data record is ":", length, load offset,
# type 00, data, and a checksum that makes the sum of all bytes 0; the end record is :00000001FF.
def test_records_are_as_specified() -> None:
    text = eeprom_hex.text(bytes(range(1, 20)))
    lines = text.splitlines()
    assert lines[-1] == ":00000001FF"
    assert [line[:9] for line in lines[:-1]] == [":10000000", ":03001000"]
    for line in lines:
        assert sum(bytes.fromhex(line[1:])) % 256 == 0


@given(st.binary(min_size=1, max_size=600))
def test_hex_reads_back(raw: bytes) -> None:
    assert eeprom_hex.raw_of(eeprom_hex.text(raw)) == raw


@pytest.mark.parametrize("text", ["", ":00000001FF\n", "no hex", ":1000000000\n"])
def test_what_is_no_hex_is_refused(text: str) -> None:
    with pytest.raises(DamagedError):
        eeprom_hex.raw_of(text)


def test_a_changed_digit_is_refused() -> None:
    text = eeprom_hex.text(bytes(range(32)))
    with pytest.raises(DamagedError):
        eeprom_hex.raw_of(text.replace("0A0B", "0A0C"))
