"""Text from a configuration, a log or a file's name, made fit for where it is shown.

A terminal obeys control characters and characters that turn a line's direction; a spreadsheet takes a cell that
begins like a formula for one. Both kinds of text come from outside and are only to be read.
"""

from __future__ import annotations

import re
import unicodedata

# Patterns are texts: `re` compiles each when it is first used, and most starts use few of them.
# C0 but tab and line feed, DEL, C1, line and paragraph separators, direction marks and turns, a byte order mark.
_CONTROLS = "[\x00-\x08\x0b-\x1f\x7f-\x9f\u061c\u200e\u200f\u2028\u2029\u202a-\u202e\u2066-\u2069\ufeff\ud800-\udfff]"
_FORMULA = ("=", "+", "-", "@", "\u2212")
_UNSEEN = ("Cc", "Cf", "Zs", "Zl", "Zp")


# Characters that XML 1.0 (section 2.2) does not allow at all, and those that turn the direction of a whole line.
_NOT_ALLOWED = "[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f\ud800-\udfff\ufffe\uffff]"
_TURNS = "[\u200e\u200f\u202a-\u202e\u2066-\u2069]"


def clean(text: str) -> str:
    """`text` with what no page or picture may hold replaced by U+FFFD; characters that turn a line's direction go."""
    if text.isascii() and text.isprintable():  # nearly every text, and nothing of either kind is in it
        return text
    return re.sub(_NOT_ALLOWED, "\ufffd", re.sub(_TURNS, "", text))


def shown(text: str) -> str:
    """`text` with control characters written out, as JSON and TOML write them: the escape character as \\u001b."""
    return re.sub(_CONTROLS, lambda found: f"\\u{ord(found[0]):04x}", text)


def cell(text: str) -> str:
    """`text` for a CSV cell that no spreadsheet takes for a formula: a leading sign is kept behind an apostrophe.

    Signs of full width are signs, and so is one behind blanks and characters that nobody sees.
    """
    first = next((ch for ch in text if unicodedata.category(ch) not in _UNSEEN), "")
    starts = unicodedata.normalize("NFKC", first).startswith(_FORMULA) or text.startswith(("\t", "\r", "\n"))
    return f"'{text}" if starts else text
