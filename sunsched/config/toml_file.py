"""Reads a configuration from TOML; nothing else does.

What tells a keeper's mistakes (`problems.py`, `hints.py`) is loaded when there is one.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterable
from pathlib import Path
from typing import Any

from pydantic import ValidationError

from sunsched.base import inputs
from sunsched.base.errors import MOST_PROBLEMS, ConfigError, Problem, SunschedError
from sunsched.config.configuration import Configuration
from sunsched.plan.rules import AS_WRITTEN, Rules

# A configuration is a page of text; something far longer is a file named by mistake.
LARGEST_BYTES = 250_000
# tomllib takes time and memory with the square of a dotted key's parts, and Python's stack bounds what it nests.
_MOST_DOTS, _MOST_DEPTH = 200, 50
_LONGEST_LINE = 200
_SECTION = re.compile(r"\s*\[{1,2}\s*([\w.]+)\s*\]{1,2}\s*(?:#.*)?")
STDIN = "-"


def read(path: str | Path) -> Configuration:
    """The configuration in a TOML file, or on standard input when `path` is '-'.

    Raises MissingFileError when there is no such file, it is a folder, a pipe or a device, or it may not be read;
    ConfigError with its mistakes when it is not TOML or not a possible configuration.
    """
    return validated(table_of(path), inputs.name_of(path))


def table_of(path: str | Path) -> dict[str, Any]:
    """The sections of a TOML file as plain data, for those that change keys before `validated`. Raises as `read`."""
    name = inputs.name_of(path)
    hint = "a configuration (sunsched sample writes one)"
    data = inputs.read_bytes(path, "a TOML file", LARGEST_BYTES, lambda text: _too_long(name), hint)
    return table_in(data, name)


def parsed(data: bytes, name: str) -> Configuration:
    """The configuration in the bytes of a TOML file called `name`."""
    return validated(table_in(data, name), name)


def validated(table: dict[str, Any], name: str = "configuration") -> Configuration:
    """The configuration in a table of sections, `{"site": {...}, "evening": {...}}`; `name` stands in the errors.

    Raises ConfigError with every mistake when it is not a possible configuration.
    """
    try:
        return Configuration.of_sections(table, AS_WRITTEN)
    except ValueError:
        pass  # the whole model names every mistake, with its place in the file
    try:
        return Configuration.model_validate(table, context=AS_WRITTEN)
    except ValidationError as error:
        from sunsched.config.problems import problems_of

        problems = problems_of(error, Configuration, name)
        others = max(error.error_count() - MOST_PROBLEMS, 0)
        raise ConfigError(*problems, *_contradictions(table, name, problems), others=others) from None


def _contradictions(table: dict[str, Any], name: str, earlier: list[Problem]) -> list[Problem]:
    """Contradictions between rules that are each well formed, so that one reading shows all mistakes."""
    sections = {key: table[key] for key in ("morning", "evening", "season") if key in table}
    if len(earlier) >= MOST_PROBLEMS or any(problem.key.startswith(tuple(sections)) for problem in earlier if sections):
        return []
    try:
        Rules.model_validate(sections)
    except ValidationError as error:
        from sunsched.config.problems import problems_of

        return problems_of(error, Rules, name)
    return []


def toml_of(text: str) -> dict[str, Any]:
    """The sections of a TOML text.

    Raises TOMLDecodeError; ValueError for keys or numbers without bound; RecursionError for values nested too deeply.
    """
    # A number such as 0.5 has one dot; a line with hundreds of them is a key that nobody wrote by hand.
    if any(line.count(".") > _MOST_DOTS for line in text.splitlines() if not line.lstrip().startswith("#")):
        raise ValueError(f"a line of more than {_MOST_DOTS} dots")
    try:
        table = tomllib.loads(text)
    except tomllib.TOMLDecodeError:
        raise
    except ValueError:
        # Python reads no whole number of more than 4300 digits.
        raise ValueError("a number of thousands of digits") from None
    level: list[Any] = [table]
    for _ in range(_MOST_DEPTH):
        level = [inner for value in level for inner in _inside(value)]
        if not level:
            return table
    raise RecursionError


def _inside(value: Any) -> Iterable[Any]:
    if isinstance(value, dict):
        return value.values()
    return value if isinstance(value, list) else ()


def _meant(text: str, place: str) -> list[tuple[str, str, str]]:
    """Key, what stands there and what was wanted, for each line that is not TOML but can be understood.

    Empty where the line at `place`, the first that is not TOML, is none of them.
    """
    from sunsched.config import hints
    from sunsched.config.problems import got_text

    found, lines = [], text.splitlines()
    stopped = re.match(r"line (\d+)", place)
    section = ""
    for number, line in enumerate(lines, 1):
        head = _SECTION.fullmatch(line[:_LONGEST_LINE])
        if head is not None:
            section = f"{head[1]}."
        meant = hints.line_meant(line) if len(line) <= _LONGEST_LINE else None
        if meant is not None and not _is_toml(line):
            found.append((f"{section}{meant[0]} (line {number})", got_text(meant[1]), meant[2]))
        elif stopped is not None and number == int(stopped[1]):
            return []
    return found


def _is_toml(line: str) -> bool:
    try:
        toml_of(line)
    except (ValueError, RecursionError):
        return False
    return True


def _too_long(name: str) -> SunschedError:
    return ConfigError(Problem(name, "", f"longer than {LARGEST_BYTES // 1000} kB", "a configuration, a page of TOML"))


def table_in(data: bytes, name: str) -> dict[str, Any]:
    """The sections in the bytes of a TOML file called `name`, not yet checked. Raises ConfigError for no TOML."""
    if len(data) > LARGEST_BYTES:
        raise _too_long(name)
    text = ""
    try:
        text = data.decode("utf-8-sig")
        return toml_of(text)
    except UnicodeDecodeError as error:
        raise ConfigError(Problem(name, f"byte {error.start}", "not UTF-8", "TOML, which is UTF-8 text")) from None
    except tomllib.TOMLDecodeError as error:
        message, _, place = str(error).rstrip(")").rpartition(" (at ")
        meant = _meant(text, place)
        if meant:
            raise ConfigError(*(Problem(name, *found) for found in meant)) from None
        raise ConfigError(Problem(name, place or "the text", f"not TOML: {message or error}", "TOML")) from None
    except RecursionError:
        raise ConfigError(Problem(name, "", "nested too deeply", "TOML with sections and keys")) from None
    except ValueError as error:
        raise ConfigError(Problem(name, "a value", str(error), "numbers as a page of TOML has them")) from None
