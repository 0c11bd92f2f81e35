"""The stated size of each decoder on an ATmega328P is what avr-gcc makes of it."""

from __future__ import annotations

import subprocess
from pathlib import Path

import pytest

from sunsched.table.layout import CODECS, Codec, decoder_bytes
from tests.support.reader import READER

CASES = [(codec, power) for codec in CODECS.values() for power in range(len(codec.decoder_bytes))]


def size_of(call: str, defines: tuple[str, ...], folder: Path, takes: str = "uint8_t side, uint16_t day") -> int:
    source = folder / "size.c"
    source.write_text(
        '#include "sunsched_table.h"\nextern const uint8_t door_data[];\n'
        f"int16_t measured({takes});\nint16_t measured({takes})\n{{\n    return {call};\n}}\n",
        encoding="ascii",
    )
    made = folder / "size.o"
    command = [
        "avr-gcc",
        "-mmcu=atmega328p",
        "-Os",
        "-std=c99",
        f"-I{READER}",
        *defines,
        "-c",
        str(source),
        "-o",
        str(made),
    ]
    subprocess.run(command, check=True, timeout=60)
    names = subprocess.run(["avr-nm", "-S", str(made)], check=True, capture_output=True, text=True, timeout=60).stdout
    (line,) = [line for line in names.splitlines() if line.endswith(" measured")]
    return int(line.split()[1], 16)


def fixed(power: int) -> tuple[str, ...]:
    return ("-DSUNSCHED_CURVES_DAYS(data)=((uint8_t)8u)", f"-DSUNSCHED_CURVES_STEP(data)=((uint8_t){1 << power}u)")


@pytest.mark.parametrize(("codec", "power"), CASES, ids=lambda part: getattr(part, "name", str(part)))
def test_decoder_bytes_are_as_stated(codec: Codec, power: int, tmp_path: Path) -> None:
    data = bytes([7 | power << 5])
    assert size_of(codec.c_minute, fixed(power), tmp_path) == decoder_bytes(codec, data)


def test_making_the_quarter_day_takes_22_bytes(tmp_path: Path) -> None:
    call = "sunsched_years_min(door_data, side, sunsched_quarter_day(year, day))"
    takes = "uint8_t side, uint16_t day, uint16_t year"
    whole = size_of(call, fixed(0), tmp_path, takes)
    assert whole - decoder_bytes(CODECS["years"], bytes([7])) == 22
