"""Reads a configuration from TOML. The only place that does; errors name file, key, got and wanted."""

from __future__ import annotations

import sys
import tomllib
from pathlib import Path
from typing import Any

from pydantic import ValidationError

from sunsched.base.errors import ConfigError, MissingFileError, Problem
from sunsched.config.configuration import Configuration
from sunsched.config.problems import problems_of
from sunsched.plan.rules import Rules

# A configuration is a page of text; something far longer is a file named by mistake.
LARGEST_BYTES = 1_000_000
STDIN = "-"


def read(path: str | Path) -> Configuration:
    """The configuration in a TOML file, or on standard input when `path` is '-'.

    Raises MissingFileError when there is no such file, it is a folder or it may not be read;
    ConfigError with every mistake when it is not TOML or says what cannot be.
    """
    name = "standard input" if str(path) == STDIN else str(path) or "''"
    return parsed(_bytes_of(path, name), name)


def table_of(path: str | Path) -> dict[str, Any]:
    """The sections of a TOML file as plain data, for those that change keys before `validated`. Raises as `read`."""
    name = "standard input" if str(path) == STDIN else str(path) or "''"
    return _table(_bytes_of(path, name), name)


def parsed(data: bytes, name: str) -> Configuration:
    """The configuration in the bytes of a TOML file called `name`."""
    return validated(_table(data, name), name)


def validated(table: dict[str, Any], name: str = "configuration") -> Configuration:
    """The configuration in a table of sections, `{"site": {...}, "evening": {...}}`; `name` stands in the errors.

    Raises ConfigError with every mistake when it says what cannot be.
    """
    try:
        return Configuration.model_validate(table)
    except ValidationError as error:
        problems = problems_of(error, Configuration, name)
        raise ConfigError(*problems, *_contradictions(table, name, problems)) from None


def _contradictions(table: dict[str, Any], name: str, found: list[Problem]) -> list[Problem]:
    """What contradicts itself across rules that are each well formed, so that one reading shows all mistakes."""
    sections = {key: table[key] for key in ("morning", "evening", "season") if key in table}
    if any(problem.key.startswith(tuple(sections)) for problem in found if sections):
        return []
    try:
        Rules.model_validate(sections)
    except ValidationError as error:
        return problems_of(error, Rules, name)
    return []


def _bytes_of(path: str | Path, name: str) -> bytes:
    if str(path) == STDIN:
        if sys.stdin is None:
            raise MissingFileError(f"{name} is closed; wanted a configuration on it")
        return sys.stdin.buffer.read(LARGEST_BYTES + 1)
    try:
        with Path(path).open("rb") as file:
            return file.read(LARGEST_BYTES + 1)
    except FileNotFoundError:
        raise MissingFileError(
            f"{name}: there is no such file; wanted a configuration (sunsched sample writes one)"
        ) from None
    except IsADirectoryError:
        raise MissingFileError(f"{name} is a folder; wanted a TOML file") from None
    except PermissionError:
        raise MissingFileError(f"{name}: no permission to read it; wanted a readable TOML file") from None
    except OSError as error:
        raise MissingFileError(f"{name}: {error.strerror}; wanted a readable TOML file") from None


def _table(data: bytes, name: str) -> dict[str, Any]:
    if len(data) > LARGEST_BYTES:
        got = f"longer than {LARGEST_BYTES // 1000} kB"
        raise ConfigError(Problem(name, "", got, "a configuration, a page of TOML"))
    try:
        return tomllib.loads(data.decode("utf-8-sig"))
    except UnicodeDecodeError as error:
        raise ConfigError(Problem(name, f"byte {error.start}", "not UTF-8", "TOML, which is UTF-8 text")) from None
    except tomllib.TOMLDecodeError as error:
        message, _, place = str(error).rstrip(")").rpartition(" (at ")
        raise ConfigError(Problem(name, place or "the text", f"not TOML: {message or error}", "TOML")) from None
    except ValueError:
        # Not a TOMLDecodeError: Python reads no whole number of more than 4300 digits.
        got = "a number of thousands of digits"
        raise ConfigError(Problem(name, "a value", got, "numbers as a page of TOML has them")) from None
    except RecursionError:
        raise ConfigError(Problem(name, "", "nested too deeply", "TOML with sections and keys")) from None
