"""Values put into the text of a configuration: its comments, its order and every other line stay as they are.

Only `key = value` lines of plain `[section]` tables are changed or added; the text is then read back and must be the
old configuration with these keys and nothing else: a way of writing that this does not know is refused, not spoiled.
"""

from __future__ import annotations

import copy
import re
from collections.abc import Mapping
from typing import Any

from sunsched.base.errors import ConfigError, Problem
from sunsched.config.toml_file import toml_of

_SECTION = re.compile(r"^\s*\[\s*([A-Za-z0-9_.-]+)\s*\]\s*(#.*)?$")
_ANY_SECTION = re.compile(r"^\s*\[")


def with_values(text: str, values: Mapping[str, float], name: str) -> str:
    """The text with each dotted key of `values` ("motor.cutoff_up_s") set; a missing key or section is added.

    Raises ConfigError, naming the file `name` and the lines to write by hand, where the text cannot be changed so.
    """
    newline = "\r\n" if "\r\n" in text else "\n"
    lines = text.split(newline)
    for dotted, value in values.items():
        section, _, key = dotted.partition(".")
        _set(lines, section, key, repr(value))
    changed = newline.join(lines)
    if _table_of(changed) != _wanted(text, values):
        by_hand = "; ".join(f"{key} = {value!r}" for key, value in values.items())
        problem = Problem(name, "its sections", "not written as [section] and key = value", f"by hand: {by_hand}")
        raise ConfigError(problem)
    return changed


def with_line(text: str, dotted: str, value: str) -> str:
    """The text with a line `key = value` in the [section] of a dotted key; a section that is missing stands at the end.

    value   as TOML writes it. The text is not read back: whoever calls this does.
    """
    lines = text.split("\n")
    section, _, key = dotted.rpartition(".")
    _set(lines, section, key, value)
    return "\n".join(lines)


def _table_of(text: str) -> dict[str, Any] | None:
    try:
        return toml_of(text)
    except ValueError:
        return None


def _wanted(text: str, values: Mapping[str, float]) -> dict[str, Any]:
    table = copy.deepcopy(toml_of(text))
    for dotted, value in values.items():
        section, _, key = dotted.partition(".")
        table.setdefault(section, {})[key] = value
    return table


def _set(lines: list[str], section: str, key: str, value: str) -> None:
    start = _start_of(section, lines)
    if start is None:
        parent = _start_of(section.rpartition(".")[0], lines)
        if parent is not None:  # beside its own section: apart from it, TOML would have that section twice
            at = _last_said(lines, parent) + 1
            lines[at:at] = [f"[{section}]", f"{key} = {value}"]
            return
        while lines and not lines[-1].strip():
            lines.pop()
        lines += ["", f"[{section}]", f"{key} = {value}", ""]
        return
    own = re.compile(rf"^(\s*{re.escape(key)}\s*=\s*)([^#\s]+)(\s*(?:#.*)?)$")
    for n in range(start + 1, _end_of(lines, start)):
        found = own.match(lines[n])
        if found:
            lines[n] = f"{found[1]}{value}{found[3]}"
            return
    lines.insert(_last_said(lines, start) + 1, f"{key} = {value}")


def _start_of(section: str, lines: list[str]) -> int | None:
    return next((n for n, line in enumerate(lines) if (m := _SECTION.match(line)) and m[1] == section), None)


def _end_of(lines: list[str], start: int) -> int:
    return next((n for n in range(start + 1, len(lines)) if _ANY_SECTION.match(lines[n])), len(lines))


def _last_said(lines: list[str], start: int) -> int:
    """The section's last line that says something, before the blank lines and remarks that lead to the next one."""
    own = range(start, _end_of(lines, start))
    return [n for n in own if lines[n].strip() and not lines[n].lstrip().startswith("#")][-1]
