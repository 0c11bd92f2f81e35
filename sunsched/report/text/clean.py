"""A keeper's own text made fit for a page, a picture or a CSV cell."""

from __future__ import annotations

import re

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


def cell(text: str) -> str:
    """`text` for a CSV cell that no spreadsheet takes for a formula: a leading sign is kept behind an apostrophe."""
    flat = " ".join(clean(text).split())
    return f"'{flat}" if flat.startswith(_FORMULA_HEADS) else flat
