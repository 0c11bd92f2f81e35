"""A table image for a programmer: Intel HEX at address 0, and the same as raw bytes."""

from __future__ import annotations

import io
from collections.abc import Sequence
from typing import TYPE_CHECKING

from sunsched.base.errors import DamagedError
from sunsched.emit.read_table import ReadTable, of_image, text_of
from sunsched.emit.stamp import Stamp, file_stem
from sunsched.plan.year import YearPlan
from sunsched.table.image import of_bytes

if TYPE_CHECKING:
    from sunsched.table.choose import Table

RECORD_BYTES = 16
END_RECORD = ":00000001FF"


def files(plans: Sequence[YearPlan], table: Table, stamp: Stamp) -> dict[str, str | bytes]:
    """The image of a table as Intel HEX and as raw bytes, by file name."""
    stem = file_stem(plans[0])
    return {f"{stem}.hex": text(table.raw), f"{stem}.bin": table.raw}


def text(raw: bytes) -> str:
    """Intel HEX of an image, records of 16 bytes from address 0, for the chip's EEPROM."""
    from intelhex import IntelHex

    image = IntelHex()
    image.frombytes(raw)
    out = io.StringIO()
    image.write_hex_file(out, write_start_addr=False, byte_count=RECORD_BYTES)
    return out.getvalue().replace("\r\n", "\n")


def raw_of(text: str) -> bytes:
    """The bytes of Intel HEX from its first address on; gaps are filled with 0xFF, as erased memory is.

    Raises DamagedError if it is not Intel HEX, a record's checksum is wrong, or it spans more than 64 KiB.
    """
    from intelhex import HexReaderError, IntelHex

    if text.rstrip().rpartition("\n")[2].strip() != END_RECORD:
        raise DamagedError("Intel HEX without its end record: cut off")
    image = IntelHex()
    try:
        image.loadhex(io.StringIO(text))
    except (HexReaderError, ValueError) as error:
        raise DamagedError(f"not whole Intel HEX: {error}") from None
    if image.minaddr() is None:
        raise DamagedError("Intel HEX without a byte of data")
    if image.minaddr() != 0:
        raise DamagedError(f"Intel HEX that begins at address {image.minaddr()}; a table image lies at 0")
    if image.maxaddr() - image.minaddr() >= 1 << 16:
        raise DamagedError("Intel HEX that spans more than 64 KiB, which is no table image")
    return bytes(image.tobinarray(start=image.minaddr(), end=image.maxaddr()))


def read(raw: bytes) -> ReadTable:
    """The table in Intel HEX. Raises DamagedError."""
    return of_image(of_bytes(raw_of(text_of(raw))))


def read_raw(raw: bytes) -> ReadTable:
    """The table in the bytes of an image. Raises DamagedError."""
    return of_image(of_bytes(raw))
