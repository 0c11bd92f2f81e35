"""The layouts: their numbers in an image, and how each is packed and read back."""

from __future__ import annotations

from collections.abc import Callable
from enum import IntEnum

from sunsched.base.civil_time import year_days
from sunsched.table.codecs import blocks, curves, plain, slopes
from sunsched.table.wanted import Minutes, Wanted


class Layout(IntEnum):
    """How the minutes are laid out; the number is the image's."""

    PLAIN = 1
    BLOCKS = 2
    SLOPES = 3
    CURVES = 4
    YEARS = 5

    @property
    def word(self) -> str:
        """The lower-case name."""
        return self.name.lower()


# Flash of the decoder, day index to minute, on an ATmega328P: avr-gcc 5.4 -Os, table in flash, the two
# constants of curves and years fixed by the generated header. Held by tests/table/test_decoder_bytes.py.
# Turning year and day into the quarter day of layout years is part of the date, and takes 22 bytes more.
_DECODER_BYTES = {Layout.PLAIN: 24, Layout.BLOCKS: 198, Layout.SLOPES: 124}
_CURVES_BYTES = (124, 126, 128, 130, 128, 126, 126, 126)  # by the power of the step
_YEARS_BYTES = (128, 130, 132, 130, 128, 126, 126, 126)


def decoder_bytes(layout: Layout, data: bytes) -> int:
    """Flash of a table's decoder on an ATmega328P [bytes]; date, checksum and rules apart."""
    if layout == Layout.CURVES:
        return _CURVES_BYTES[data[0] >> 5]
    if layout == Layout.YEARS:
        return _YEARS_BYTES[data[0] >> 5]
    return _DECODER_BYTES[layout]


_PACK: dict[Layout, Callable[[Wanted], bytes | None]] = {
    Layout.PLAIN: plain.pack,
    Layout.BLOCKS: blocks.pack,
    Layout.SLOPES: slopes.pack,
    Layout.CURVES: curves.pack_one_year,
    Layout.YEARS: curves.pack_many_years,
}


def pack(layout: Layout, wanted: Wanted) -> bytes | None:
    """The table's data, or None if this layout cannot hold what is wanted."""
    return _PACK[layout](wanted)


def unpack(layout: Layout, data: bytes, year: int) -> Minutes:
    """The minutes (2, n) of a year before the rules. Raises IndexError or ValueError on data cut short."""
    n_days = year_days(year)[1]
    if layout == Layout.YEARS:
        return curves.unpack_year(data, n_days, year)
    one_year = {
        Layout.PLAIN: plain.unpack,
        Layout.BLOCKS: blocks.unpack,
        Layout.SLOPES: slopes.unpack,
        Layout.CURVES: curves.unpack,
    }
    return one_year[layout](data, n_days)
