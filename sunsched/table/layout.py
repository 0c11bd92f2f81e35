"""The layouts of the minutes in an image, each with its packer, its reader, its C, its size and its limits.

A new one is described in FORMAT.md first; then come its file in `codecs/`, an entry here, its C reader and a line in
sunsched_table.h; see docs/adding.md. Places are named and loaded when they are called, so that a list of layouts costs
no start-up.
"""

from __future__ import annotations

import importlib
from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING, Any, NamedTuple

if TYPE_CHECKING:
    from sunsched.table.wanted import Minutes, Wanted


class Codec(NamedTuple):
    """One layout.

    name   what `--layout` takes; in capitals, what the C reader calls it
    number   the image's, 1 to 15
    packer   "module:function" of Wanted, which gives bytes, or None where it cannot hold what is wanted
    unpacker   "module:function" of (data, days of the year), and the year where the codec holds many
    c_files   files of the C reader that only some codecs need
    c_minute   C expression for a minute, given `door_data`, `side` and `day`
    decoder_bytes   flash of that expression on an ATmega328P, avr-gcc 5.4 -Os, table in flash: one figure, or one for
      each power of the step in the data's first byte. Date, checksum and rules are apart
    many_years   whether a table may hold several years
    shut_days   whether the minutes themselves can say that the door stays down
    beaten_by   codecs which, where they have packed a plan, make this one not worth trying
    constants   "module:function" of the data: what a header with one table fixes for a shorter decoder, name and value
    """

    name: str
    number: int
    packer: str
    unpacker: str
    c_minute: str
    decoder_bytes: tuple[int, ...]
    c_files: tuple[str, ...] = ()
    many_years: bool = False
    shut_days: bool = False
    beaten_by: tuple[str, ...] = ()
    constants: str = ""

    @property
    def c_name(self) -> str:
        """Its name in the C reader's macros."""
        return self.name.upper()

    def header_constants(self, data: bytes) -> dict[str, int]:
        """What a header with this one table fixes."""
        found: dict[str, int] = _at(self.constants)(data) if self.constants else {}
        return found


_CODECS = "sunsched.table.codecs"
_ALL = (
    Codec(
        name="plain",
        number=1,
        packer=f"{_CODECS}.plain:pack",
        unpacker=f"{_CODECS}.plain:unpack",
        c_minute="(int16_t)sunsched_word(door_data + 4u * day + 2u * side)",
        decoder_bytes=(24,),
        shut_days=True,
    ),
    Codec(
        name="blocks",
        number=2,
        packer=f"{_CODECS}.blocks:pack",
        unpacker=f"{_CODECS}.blocks:unpack",
        c_files=("sunsched_blocks.h",),
        c_minute="sunsched_blocks_min(door_data, side, day)",
        decoder_bytes=(198,),
        shut_days=True,
    ),
    Codec(
        name="slopes",
        number=3,
        packer=f"{_CODECS}.slopes:pack",
        unpacker=f"{_CODECS}.slopes:unpack",
        c_files=("sunsched_slopes.h",),
        c_minute="sunsched_slopes_min(door_data, side, day)",
        decoder_bytes=(124,),
        # Where curves fit, straight pieces are longer, and so are rules baked into curves.
        beaten_by=("curves",),
    ),
    Codec(
        name="curves",
        number=4,
        packer=f"{_CODECS}.curves:pack_one_year",
        unpacker=f"{_CODECS}.curves:unpack",
        c_files=("sunsched_curves.h",),
        c_minute="sunsched_curves_min(door_data, side, day)",
        decoder_bytes=(124, 126, 128, 130, 128, 126, 126, 126),
        beaten_by=("curves",),
        constants=f"{_CODECS}.curves:header_constants",
    ),
    Codec(
        name="years",
        number=5,
        packer=f"{_CODECS}.curves:pack_many_years",
        unpacker=f"{_CODECS}.curves:unpack_year",
        c_files=("sunsched_curves.h",),
        # The date's code turns year and day into the quarter day and takes 22 bytes more.
        c_minute="sunsched_years_min(door_data, side, day)",
        decoder_bytes=(128, 130, 132, 130, 128, 126, 126, 126),
        many_years=True,
        constants=f"{_CODECS}.curves:header_constants",
    ),
    # The next codec stands above this line.
)
CODECS: dict[str, Codec] = {codec.name: codec for codec in _ALL}
# Numbers of former layouts, with the message for each: they are never reused.
RETIRED: dict[int, str] = {}
# Files of the C reader that every table needs.
READER_FILES = ("sunsched_table.h", "sunsched_image.h", "sunsched_date.h", "sunsched_rules.h", "sunsched_facts.h")


def names() -> tuple[str, ...]:
    """What `--layout` takes."""
    return ("auto", *CODECS)


def of_number(number: int) -> Codec:
    """The codec of an image. Raises ValueError for a number that is none."""
    for codec in CODECS.values():
        if codec.number == number:
            return codec
    raise ValueError(RETIRED.get(number, f"{number} is no layout"))


def tried(n_years: int) -> Iterator[Codec]:
    """The codecs to try for the smallest table, the likeliest first."""
    many = n_years > 1
    return (codec for codec in reversed(CODECS.values()) if codec.many_years == many)


def reader_names(codecs: Sequence[Codec]) -> tuple[str, ...]:
    """The files of the C reader for tables of these layouts."""
    return tuple(dict.fromkeys([*READER_FILES, *(file for codec in codecs for file in codec.c_files)]))


def decoder_bytes(codec: Codec, data: bytes) -> int:
    """Flash of a table's decoder on an ATmega328P [bytes]; date, checksum and rules apart."""
    return codec.decoder_bytes[data[0] >> 5] if len(codec.decoder_bytes) > 1 else codec.decoder_bytes[0]


def pack(codec: Codec, wanted: Wanted) -> bytes | None:
    """The table's data, or None if this layout cannot hold what is wanted."""
    if (wanted.n_years > 1 and not codec.many_years) or (wanted.has_shut_days and not codec.shut_days):
        return None
    data: bytes | None = _at(codec.packer)(wanted)
    return data


def unpack(codec: Codec, data: bytes, year: int) -> Minutes:
    """The minutes (2, n) of a year before the rules. Raises IndexError or ValueError on data cut short."""
    from sunsched.base.civil_time import year_days

    n_days = year_days(year)[1]
    more = (year,) if codec.many_years else ()
    minutes: Minutes = _at(codec.unpacker)(data, n_days, *more)
    return minutes


def _at(place: str) -> Any:
    module, _, function = place.partition(":")
    return getattr(importlib.import_module(module), function)
