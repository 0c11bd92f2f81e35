"""The digest that a text of ours carries of itself, so that a changed or cut text differs from a whole one.

    /* sunsched-text:0123456789abcdef0123456789abcdef */        the last line of a header

The 32 digits are the first half of the SHA-256 of the whole text with those digits taken out. The mark stands within
the last bytes, so a text that was cut off has lost it. Line ends do not count: an editor or a version control that
saves CRLF in place of LF changes nothing that a compiler or a spreadsheet reads. It finds chance damage and edits; it
is no signature, for whoever edits a text can work it out again.
"""

from __future__ import annotations

import hashlib
import re
import struct
import zlib

MARK = "sunsched-text:"
DIGITS = 32
EMPTY = MARK + "0" * DIGITS
_TAIL_BYTES = 160
# A picture's first bytes, its last chunk, and the chunk before that with the digest.
_PNG, _PNG_END, _PNG_TEXT = b"\x89PNG\r\n\x1a\n", 12, b"Comment\0" + MARK.encode()
_PNG_CHUNK = 12 + len(_PNG_TEXT) + DIGITS
# As headers, JSON and CSV carry it.
_IN_TABLES = (
    r"/\* sunsched-text:[0-9a-f]{32} \*/\n"
    r'|,\n"text_digest":"sunsched-text:[0-9a-f]{32}"(?=}\n$)'
    r"| sunsched-text:[0-9a-f]{32}"
)
_MARKED = rb"sunsched-text:([0-9a-f]{32})"


def with_digest(text: str) -> str:
    """`text` with the digits of its last `EMPTY` filled in; raises ValueError where it has none near its end."""
    head, mark, tail = text.rpartition(EMPTY)
    if not mark or len(tail.encode()) > _TAIL_BYTES - len(EMPTY):
        raise ValueError("a text without the place of its digest near its end")
    return f"{head}{MARK}{_digest(head.encode() + MARK.encode(), tail.encode())}{tail}"


def with_digest_line(text: str, line: str) -> str:
    """`text` with a last line that bears its digest; `line` is such as `/* {} */`."""
    return with_digest(f"{text}{line.format(EMPTY)}\n")


def proven(content: bytes) -> bool | None:
    """Whether a text, or a PNG picture, is as it was written; None where it carries no digest near its end."""
    if content.startswith(_PNG):
        marked = len(content) - _PNG_END - _PNG_CHUNK
        if content[marked + 8 : -_PNG_END - DIGITS - 4] != _PNG_TEXT:
            return None
        return content == png_with_digest(content[:marked] + content[-_PNG_END:])
    start = max(len(content) - _TAIL_BYTES, 0)
    found = list(re.finditer(_MARKED, content[start:]))
    if not found:
        return None
    first, end = (start + place for place in found[-1].span(1))
    return _digest(content[:first], content[end:]) == found[-1][1].decode()


def png_with_digest(png: bytes) -> bytes:
    """A PNG with the digest of all its other bytes in a text chunk (PNG, third edition, 11.3.3.2) before its end."""
    content = b"tEXt" + _PNG_TEXT + hashlib.sha256(png).hexdigest()[:DIGITS].encode()
    chunk = struct.pack(">I", len(content) - 4) + content + struct.pack(">I", zlib.crc32(content))
    return png[:-_PNG_END] + chunk + png[-_PNG_END:]


def without_digest(text: str) -> str:
    """A table's text without its digest: what a version that wrote none would have written."""
    return re.sub(_IN_TABLES, "", text)


def _digest(head: bytes, tail: bytes) -> str:
    plain = b"".join(_plain(part) for part in (head.removeprefix(b"\xef\xbb\xbf"), tail))
    return hashlib.sha256(plain).hexdigest()[:DIGITS]


def _plain(part: bytes) -> bytes:
    # Looking for one byte takes an eightieth of the time, and nearly no text has it.
    return part.replace(b"\r\n", b"\n") if b"\r" in part else part
