"""The tables of keys in docs/configuration.md, from the schema; tools/man_page.py writes them.

A table follows a line `<!-- keys: NAME -->`, where NAME is a part of the schema. Key, default and range come from the
schema, what the key means from the page itself: a new key gets a row with `?`, which tests/test_pages.py refuses.
The keys of [model] mean what `compare --assumptions` says of them.
"""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any

from sunsched.config.schema import schema
from sunsched.hardware.model import Model, Moved

PAGE = Path(__file__).parent.parent / "docs" / "configuration.md"
TABLE = re.compile(r"^<!-- keys: (\w+) -->\n\n?(?:\|.*\n)*", re.MULTILINE)
ROW = re.compile(r"^\| `(\w+)` \|.*\| ([^|]*) \|$", re.MULTILINE)
HEAD = "| key | if left out | may be | meaning |\n|---|---|---|---|\n"


def text() -> str:
    """The page with its tables fresh."""
    parts = schema()["$defs"]

    def again(match: re.Match[str]) -> str:
        meant = dict(ROW.findall(match[0])) | (model_meanings() if match[1] == "Model" else {})
        part = parts[match[1]]
        needed = part.get("required", [])
        rows = [
            f"| `{key}` | {default_of(about, key in needed)} | {range_of(about)} | {meant.get(key, '?')} |\n"
            for key, about in part["properties"].items()
        ]
        return f"<!-- keys: {match[1]} -->\n\n{HEAD}{''.join(rows)}"

    return TABLE.sub(again, PAGE.read_text(encoding="utf-8"))


def model_meanings() -> dict[str, str]:
    """What each key of [model] is and rests on, and how far `compare` moves it."""
    meanings = {}
    for key, field in Model.model_fields.items():
        moved = next(one for one in field.metadata if isinstance(one, Moved))
        meanings[key] = f"{moved.why}; moved from {moved.low:g} to {moved.high:g}"
    return meanings


def default_of(about: dict[str, Any], needed: bool) -> str:
    """What holds where the key is left out."""
    if needed:
        return "needed"
    default = about.get("default")
    return "" if default in (None, [], {}) or isinstance(default, dict) else f"`{json.dumps(default)}`"


def range_of(about: dict[str, Any]) -> str:
    """The values that the key takes, in words."""
    if "enum" in about:
        return "a zone of tzdata" if len(about["enum"]) > 100 else ", ".join(f"`{word}`" for word in about["enum"])
    low = about.get("minimum", about.get("exclusiveMinimum"))
    if low is not None:
        kind = "whole, " if about["type"] == "integer" else ""
        least = f"{'more than ' if 'exclusiveMinimum' in about else ''}{low:.10g}"
        return kind + (f"{least} to {about['maximum']:.10g}" if "maximum" in about else f"{least} or more")
    if about.get("type") == "array" and "enum" in about["items"]:
        return "a list of " + range_of(about["items"])
    if "$ref" in about or about.get("type") == "array":
        return "a section of its own"
    if "pattern" in about:
        return pattern_of(about["pattern"])
    return {"string": "a text", "boolean": "`true`, `false`"}[about["type"]]


def pattern_of(pattern: str) -> str:
    """A pattern by an example of what it takes."""
    for words in ('"06:30"', '"04-15"', '"2027-11-20"', '"2027-03-01 18:20"', '"PB0"'):
        if re.search(pattern, words.strip('"')):
            both = ', `"2027-11-20"`' if words == '"04-15"' and re.search(pattern, "2027-11-20") else ""
            return f"as `{words}`{both}"
    raise ValueError(f"no example for the pattern {pattern}")
