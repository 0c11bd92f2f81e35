"""Text that may stand in a C comment or string whatever a keeper wrote into the configuration."""

from __future__ import annotations

import unicodedata
from collections.abc import Iterable

# A C comment ends at the first */; a nested /* and a trigraph draw warnings; a backslash may join lines.
_HARMLESS = (("*/", "* /"), ("/*", "/ *"), ("??", "? ?"), ("\\", "/"))


def comment_text(text: str, longest: int = 90) -> str:
    """`text` in plain ASCII on one line, with nothing in it that ends or continues a comment.

    Letters lose their accents; what has no plain form becomes '?'; cut after `longest` characters.
    """
    plain = unicodedata.normalize("NFKD", text)
    kept = (
        ch if 32 <= ord(ch) < 127 else "" if unicodedata.combining(ch) else " " if ch.isspace() else "?" for ch in plain
    )
    line = "".join(kept).rstrip()
    previous = ""
    while previous != line:
        previous = line
        for bad, good in _HARMLESS:
            line = line.replace(bad, good)
    return line if len(line) <= longest else line[: longest - 3] + "..."


def comment_block(title: str, lines: Iterable[str]) -> str:
    """A block comment: a title, then one line each, made harmless."""
    body = [f" * {comment_text(line, 110)}".rstrip() for line in lines]
    return "\n".join([f"/* {comment_text(title, 110)}", *body, " */"])


def byte_rows(data: bytes, indent: str = "    ", per_row: int = 12) -> str:
    """Bytes as the inside of a C array, `per_row` to a line."""
    rows = (data[at : at + per_row] for at in range(0, len(data), per_row))
    return ",\n".join(indent + ", ".join(f"0x{byte:02X}" for byte in row) for row in rows)


def macro_name(name: str) -> str:
    """A site's file name as part of a macro's name."""
    return "".join(ch if ch.isascii() and ch.isalnum() else "_" for ch in name.upper())
