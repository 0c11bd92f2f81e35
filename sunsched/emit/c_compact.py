"""The compact C header: a table image as bytes, read by sunsched_table.h beside it."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence

from sunsched.base.errors import DamagedError
from sunsched.base.text_digest import with_digest_line
from sunsched.emit.c_header import C_COMMENT, about, byte_rows, comment_block, guard_name, guard_open, refuse_cut_off
from sunsched.emit.c_reader import READER, reader_text
from sunsched.emit.read_table import ReadTable, of_image, text_of
from sunsched.emit.stamp import Stamp, file_stem
from sunsched.plan.year import YearPlan
from sunsched.table.choose import Table
from sunsched.table.framing import REVISION
from sunsched.table.image import HEAD_BYTES, Image, of_bytes


def files(plans: Sequence[YearPlan], table: Table, stamp: Stamp) -> dict[str, str | bytes]:
    """A table's header and the reader that it includes, by file name."""
    return {f"{file_stem(plans[0])}.h": text(plans, table, stamp), READER: reader_text()}


def text(plans: Sequence[YearPlan], table: Table, stamp: Stamp) -> str:
    """A table as a C header: its image, and functions from a date to the minutes.

    plans   of the table's years; the first gives site and clock
    C99 and C++11. Needs the reader beside it; only the decoder it needs is compiled in.
    """
    stem = file_stem(plans[0])
    many = len(plans) > 1
    parts = (
        comment_block(f"{stem}.h - when the door opens and closes, packed", _about(plans, table, stamp)),
        guard_open(stem, REVISION),
        _definitions(table),
        _image(table),
        _functions(many),
        f"#endif /* {guard_name(stem)} */",
    )
    return with_digest_line("\n\n".join(part.strip("\n") for part in parts) + "\n", C_COMMENT)


def _about(plans: Sequence[YearPlan], table: Table, stamp: Stamp) -> Iterator[str]:
    image = table.image
    yield from about(plans[0], stamp, last=plans[-1])
    yield ""
    yield f"Layout    {image.layout.name}: {table.data_bytes} bytes of minutes, {table.rule_bytes} of rules,"
    yield f"          {len(table.raw)} in all; decoder {table.decoder_bytes} bytes on an ATmega328P (avr-gcc 5.4 -Os)"
    if table.worst_error_min:
        yield f"Error     at most {table.worst_error_min} min, on {table.days_inexact} days"
    else:
        yield "Error     none: every minute read back equals the plan"
    yield f"Rules     applied by the decoder: {', '.join(table.decoder_rules) or 'none'}; all others are in the minutes"
    yield f"Reader    {READER}, which lies beside this file"


def _definitions(table: Table) -> str:
    layout, data = table.image.layout, table.image.data
    fixed = layout.header_constants(data).items()
    lines = [f"#define {name}(data) ((uint8_t){value}u)" for name, value in fixed]
    return "\n".join([f"#define SUNSCHED_WITH_{layout.c_name}", *lines, '#include "sunsched_table.h"'])


def _image(table: Table) -> str:
    image = table.image
    blocks: dict[str, int] = {
        "head": HEAD_BYTES,
        "settings": len(image.settings),
        "facts": len(image.facts),
        "rules": table.rule_bytes,
        "minutes": table.data_bytes,
        "checksum": 2,
    }
    at, rows = 0, []
    for name, size in blocks.items():
        if size:
            comma = "," if at + size < len(table.raw) else ""
            rows.append(f"    /* {name} */\n{byte_rows(table.raw[at : at + size])}{comma}")
        at += size
    return "\n".join(
        [
            f"#define DOOR_IMAGE_BYTES {len(table.raw)}",
            "static const uint8_t door_image[] SUNSCHED_IMAGE_MEMORY = {",
            *rows,
            "};",
            "/* Checked while compiling; a type that only checks departs from rule 2.3 of MISRA C:2012. */",
            "typedef char door_image_length_is_right[(sizeof(door_image) == DOOR_IMAGE_BYTES) ? 1 : -1];",
        ]
    )


def _functions(many: bool) -> str:
    takes = "uint16_t year, uint8_t month, uint8_t day" if many else "uint8_t month, uint8_t day"
    year = "year" if many else "sunsched_first_year(door_image)"
    return f"""
/* SUNSCHED_GOOD, or what is wrong with the image; reads every byte of it. */
static inline uint8_t door_check(void)
{{
    return sunsched_check(door_image, DOOR_IMAGE_BYTES);
}}

/* Minute at which the door opens [chip minutes]; SUNSCHED_NONE on a day when it stays down, SUNSCHED_ERR_DATE. */
static inline int16_t door_open_min({takes})
{{
    return sunsched_minute(door_image, 0u, {year}, month, day);
}}

/* Minute at which the door should be down [chip minutes]; it may pass 1439. */
static inline int16_t door_close_min({takes})
{{
    return sunsched_minute(door_image, 1u, {year}, month, day);
}}

/* The facts of a day, SUNSCHED_DARK_EXPECTED and so on, added up. */
static inline uint8_t door_facts({takes})
{{
    return sunsched_facts(door_image, {year}, month, day);
}}

/* Solar midnight after the noon of a day [chip minutes without summer time], within 1.3 min. */
static inline int16_t door_midnight_min({takes})
{{
    return sunsched_midnight_min(door_image, {year}, month, day);
}}"""


_ARRAY = re.compile(r"door_image\[\][^{]*\{(.*?)\};", re.DOTALL)


_WITHIN = re.compile(r"^ \* Error     at most ([0-9]{1,2}) min, ", re.MULTILINE)


def read(raw: bytes) -> ReadTable:
    """The table in a compact header. Raises DamagedError."""
    said = text_of(raw)
    refuse_cut_off(said)
    within = _WITHIN.search(said)
    return of_image(_image_of(said))._replace(within_min=int(within[1]) if within else 0, proof="")


def _image_of(said: str) -> Image:
    array = _ARRAY.search(said)
    if array is None:
        raise DamagedError("a compact header without its image")
    body = re.sub(r"/\*.*?\*/", "", array[1], flags=re.DOTALL)
    parts = [part.strip() for part in body.split(",")]
    if not all(re.fullmatch(r"0x[0-9A-F]{2}", part) for part in parts):
        raise DamagedError("the image in the header is not a list of bytes such as 0x5A")
    raw = bytes(int(part, 16) for part in parts)
    image = of_bytes(raw)
    if int.from_bytes(raw[3:5], "little") != len(raw):
        raise DamagedError(f"the header holds {len(raw)} bytes, its image says {int.from_bytes(raw[3:5], 'little')}")
    for name, value in image.layout.header_constants(image.data).items():
        if f"#define {name}(data) ((uint8_t){value}u)" not in said:
            raise DamagedError(f"the header's {name} is not that of its image")
    return image
