"""Text from a configuration made fit for a page, a picture or a cell of a spreadsheet."""

from __future__ import annotations

import re
from html import escape

# Characters that XML 1.0 (section 2.2) does not allow at all, and those that turn the direction of a whole line.
_NOT_ALLOWED = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f\ud800-\udfff\ufffe\uffff]")
_TURNS = re.compile("[\u200e\u200f\u202a-\u202e\u2066-\u2069]")
_FORMULA_HEADS = ("=", "+", "-", "@", "\t", "\r", "\n", "＝", "＋", "－", "＠")


def clean(text: str) -> str:
    """`text` with what no page or picture may hold replaced by U+FFFD; characters that turn a line's direction go."""
    return _NOT_ALLOWED.sub("\ufffd", _TURNS.sub("", text))


def one_line(text: str, longest: int) -> str:
    """`text` on one line, at most `longest` characters, an ellipsis in place of the rest."""
    flat = " ".join(clean(text).split())
    return flat if len(flat) <= longest else f"{flat[: longest - 1].rstrip()}…"


def markup(text: str) -> str:
    """`text` escaped for HTML, in elements and in quoted attributes."""
    return escape(clean(text))


def apart(text: str, longest: int = 10_000) -> str:
    """A name from the configuration for HTML, kept apart from the direction of the words around it."""
    return f"<bdi>{markup(one_line(text, longest))}</bdi>"


def cell(text: str) -> str:
    """`text` for a CSV cell that no spreadsheet takes for a formula: a leading sign is kept behind an apostrophe."""
    flat = " ".join(clean(text).split())
    return f"'{flat}" if flat.startswith(_FORMULA_HEADS) else flat
