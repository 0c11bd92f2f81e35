"""A ZIP archive written from front to back, that can be broken off and gone on with.

Nothing is compressed and every date is 1980-01-01, so that the same files give the same bytes with any zlib. The list
of contents is kept in a file of its own until the end: memory does not grow with it.
Source of the layout: PKWARE APPNOTE 6.3.9, sections 4.3 and 4.4; ZIP64 where counts or offsets need it.
"""

from __future__ import annotations

import shutil
import struct
import zlib
from pathlib import Path
from typing import BinaryIO

_LONG, _SHORT = 0xFFFFFFFF, 0xFFFF
_DATE = 0x21  # 1980-01-01
_UNIX, _MODE = 3 << 8, 0o100644 << 16
_PLAIN, _ZIP64 = 20, 45


def entry(name: str, content: bytes) -> tuple[bytes, bytes]:
    """A stored file: its local header with the content, and its central header without the offset."""
    raw = name.encode("ascii")
    crc = zlib.crc32(content)
    sizes = struct.pack("<LLLHH", crc, len(content), len(content), len(raw), 0)
    local = struct.pack("<4sHHHHH", b"PK\x03\x04", _PLAIN, 0, 0, 0, _DATE) + sizes + raw + content
    return local, raw + sizes


def central(record: bytes, offset: int) -> bytes:
    """The line of contents of an entry that starts at `offset`."""
    raw, sizes = record[:-16], record[-16:]
    extra = struct.pack("<HHQ", 1, 8, offset) if offset >= _LONG else b""
    need = _ZIP64 if extra else _PLAIN
    head = struct.pack("<4sHHHHHH", b"PK\x01\x02", need | _UNIX, need, 0, 0, 0, _DATE)
    tail = struct.pack("<HHHLL", 0, 0, 0, _MODE, min(offset, _LONG))
    return head + sizes[:14] + struct.pack("<H", len(extra)) + tail + raw + extra


def finish(archive: BinaryIO, contents: Path, count: int) -> None:
    """Append the list of contents and the end records to an archive that stands at its end."""
    start = archive.tell()
    with contents.open("rb") as file:
        shutil.copyfileobj(file, archive)
    size = archive.tell() - start
    if count >= _SHORT or start >= _LONG or size >= _LONG:
        at = archive.tell()
        archive.write(struct.pack("<4sQHHLLQQQQ", b"PK\x06\x06", 44, _ZIP64, _ZIP64, 0, 0, count, count, size, start))
        archive.write(struct.pack("<4sLQL", b"PK\x06\x07", 0, at, 1))
    numbers = (min(count, _SHORT), min(count, _SHORT), min(size, _LONG), min(start, _LONG))
    archive.write(struct.pack("<4sHHHHLLH", b"PK\x05\x06", 0, 0, *numbers, 0))
