"""What a keeper most likely meant by a value that is not what a key takes: a time, or a decimal comma."""

from __future__ import annotations

import re
from typing import Any

_TIME = re.compile(r"\s*(\d{1,2})\s*[:.h]?\s*(\d\d)?\s*(?:[:.]\s*00)?\s*([ap])?\.?(?:m\.?)?\s*", re.IGNORECASE)
_COMMA = re.compile(r"\s*([+-]?\d+)\s*,\s*(\d+)\s*(?:°|deg)?\s*")
_ANGLE = re.compile(
    r"""(\d{1,3}(?:\.\d{1,12})?)\s*(?:°\s*(?:(\d{1,2}(?:\.\d{1,12})?)\s*['′’]\s*(?:(\d{1,2}(?:\.\d{1,12})?)\s*["″”]\s*)?)?)?"""
)
_LONGEST_PLACE = 40
_LINE = re.compile(r"\s*([\w.\"'-]+)\s*=\s*(.*?)\s*(?:#.*)?")
_BARE_WORDS = re.compile(r"[A-Za-z][\w/+-]*")


def time_meant(value: Any) -> str:
    """'07:00' for what reads as a time of day, such as '7:00', '7.00', '7', '0700' or '7:30 pm'; else ''."""
    text = str(value)
    compact = re.fullmatch(r"\s*(\d\d)(\d\d)\s*", text)
    match = compact or _TIME.fullmatch(text)
    if match is None or isinstance(value, bool):
        return ""
    hour, minute = int(match[1]), int(match[2] or 0)
    half = None if compact else match[3]
    if half is not None:
        if not 1 <= hour <= 12:
            return ""
        hour = hour % 12 + (12 if half.lower() == "p" else 0)
    return f"{hour:02d}:{minute:02d}" if hour < 24 and minute < 60 else ""


def number_meant(value: Any) -> str:
    """'53.945' for a number in quotes or with a decimal comma; else ''."""
    if not isinstance(value, str):
        return ""
    comma = _COMMA.fullmatch(value)
    if comma is not None:
        return f"{comma[1]}.{comma[2]}"
    plain = re.fullmatch(r"\s*([+-]?\d+(?:\.\d+)?)\s*(?:°|deg)?\s*", value)
    return plain[1] if plain is not None else ""


def degrees_meant(text: str, letters: str) -> str:
    """'-44.62' for a place as maps write it: 44.62 S, 44,62° S, 44°37'12" S, S 44° 37.2'; else ''.

    letters   the positive and the negative side: "NS" or "EW". An O is east in one language and west in another: none.
    """
    if len(text) > _LONGEST_PLACE:
        return ""
    side = re.fullmatch(rf"\s*([{letters}])\s*(.+)|(.+?)\s*([{letters}])\s*", text, re.IGNORECASE)
    if side is None:
        return ""
    angle = _ANGLE.fullmatch((side[2] or side[3]).replace(",", "."))
    if angle is None or any(float(part or 0) >= 60 for part in (angle[2], angle[3])):
        return ""
    degrees = float(angle[1]) + float(angle[2] or 0) / 60 + float(angle[3] or 0) / 3600
    sign = "-" if degrees and (side[1] or side[4]).upper() == letters[1] else ""
    return f"{sign}{degrees:.6f}".rstrip("0").rstrip(".")


def line_meant(line: str) -> tuple[str, str, str] | None:
    """(key, got, wanted) for a line `key = value` that is not TOML but can be understood; else None.

    A number with a decimal comma, a time without its quotes, a word without its quotes.
    """
    match = _LINE.fullmatch(line)
    if match is None:
        return None
    key, value = match[1], match[2]
    if _COMMA.fullmatch(value):
        return key, value, f"a number with a point: {number_meant(value)}"
    if re.fullmatch(r"\d{1,2}[:.h]\d\d.*", value) and time_meant(value):
        return key, value, f'a time in quotes: "{time_meant(value)}"'
    if _BARE_WORDS.fullmatch(value):
        return key, value, f'words in quotes: "{value}"'
    return None
