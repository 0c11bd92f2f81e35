"""A packed table as one MicroPython module: the image, and the reader of its layout."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator, Sequence

from sunsched.base.errors import DamagedError
from sunsched.base.package_data import package_bytes
from sunsched.base.text_digest import with_digest_line
from sunsched.emit.c_header import about
from sunsched.emit.read_table import ReadTable, of_image, text_of
from sunsched.emit.stamp import Stamp, file_stem
from sunsched.plan.year import YearPlan
from sunsched.table.choose import Table
from sunsched.table.image import of_bytes
from sunsched.table.layout import Codec

ROW_BYTES = 24
# What the module takes of a board's heap once imported, its source compiled there [bytes]; measured under MicroPython
# 1.27 by tests/chip/test_micropython.py, which holds it within a tenth.
HEAP_BYTES = 6600
_COPIED = "# copied from here on\n"
_IMAGE = re.compile(r"^IMAGE = \(\n(.*?)^\)\n", re.MULTILINE | re.DOTALL)
_WITHIN = re.compile(r"^# Error     at most ([0-9]{1,2}) min, ", re.MULTILINE)


def files(plans: Sequence[YearPlan], table: Table, stamp: Stamp) -> dict[str, str | bytes]:
    """A table's module, by file name."""
    return {f"{file_stem(plans[0])}.py": text(plans, table, stamp)}


def text(plans: Sequence[YearPlan], table: Table, stamp: Stamp) -> str:
    """A table as a module: `IMAGE`, `TABLE`, and open_min, close_min and facts of a year, month and day.

    plans   of the table's years; the first gives site and clock
    Raises nothing at import on a board unless a bit of it has changed: then ValueError.
    """
    reader = reader_text(table.image.layout)
    body = f"{_image(table.raw)}\n{reader}\n\n{_FUNCTIONS}"
    heading = "\n".join(f"# {line}".rstrip() for line in _about(plans, table, stamp))
    return with_digest_line(f"{heading}\n{body}", "# {}")


def reader_text(layout: Codec) -> str:
    """The reader's source with the one layout's decoder."""
    source = package_bytes("sunsched.controller", "micropython", "table_reader.py").decode("ascii")
    common, *parts = re.split(r"^# (?:layouts?|every) (.*)\n", source.partition(_COPIED)[2], flags=re.MULTILINE)
    decoders = [
        part.strip() for names, part in zip(parts[::2], parts[1::2], strict=True) if layout.name in names.split(", ")
    ]
    return "\n\n\n".join([common.strip(), *decoders, f"_LAYOUTS = {{{layout.number}: _{layout.name}}}"])


def _about(plans: Sequence[YearPlan], table: Table, stamp: Stamp) -> Iterator[str]:
    image = table.image
    yield f"{file_stem(plans[0])}.py - when the door opens and closes, for MicroPython"
    yield from about(plans[0], stamp, last=plans[-1])
    yield ""
    yield f"Layout    {image.layout.name}: an image of {len(table.raw)} bytes"
    if table.worst_error_min:
        yield f"Error     at most {table.worst_error_min} min, on {table.days_inexact} days"
    else:
        yield "Error     none: every minute read back equals the plan"
    yield f"Heap      about {HEAP_BYTES / 1000:.0f} kB once imported; mpy-cross makes the file and the import smaller"


def _image(raw: bytes) -> str:
    rows = [raw[at : at + ROW_BYTES] for at in range(0, len(raw), ROW_BYTES)]
    return "IMAGE = (\n" + "".join(f'    b"{_escaped(row)}"\n' for row in rows) + ")\n"


def _escaped(row: bytes) -> str:
    return "".join(f"\\x{byte:02x}" for byte in row)


_FUNCTIONS = '''
TABLE = Table(IMAGE)


def open_min(year: int, month: int, day: int) -> int | None:
    """Minute at which the door opens [chip minutes]; None on a day when it stays down."""
    return TABLE.open_min(year, month, day)


def close_min(year: int, month: int, day: int) -> int | None:
    """Minute at which the door should be down [chip minutes], which may pass 1439; None on such a day."""
    return TABLE.close_min(year, month, day)


def facts(year: int, month: int, day: int) -> int:
    """The facts of a day added up: 1 dark expected, 2 light expected, 4 opening and 8 closing by twilight."""
    return TABLE.facts(year, month, day)
'''


def read(raw: bytes) -> ReadTable:
    """The table in a module. Raises DamagedError."""
    said = text_of(raw)
    image = _IMAGE.search(said)
    if image is None:
        raise DamagedError("a MicroPython module without its image")
    try:
        content = ast.literal_eval(f"({image[1]})")
    except (SyntaxError, ValueError):
        raise DamagedError("the image in the module is no bytes of Python") from None
    if not isinstance(content, bytes):
        raise DamagedError("the image in the module is no bytes of Python")
    within = _WITHIN.search(said)
    return of_image(of_bytes(content))._replace(within_min=int(within[1]) if within else 0, proof="")
