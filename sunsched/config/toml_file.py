"""Reads a configuration from TOML; nothing else does.

It turns pydantic's errors into messages for a keeper: file, key, got, wanted, and the nearest key.
"""

from __future__ import annotations

import difflib
import itertools
import re
import tomllib
import types
from collections.abc import Iterable
from pathlib import Path
from typing import Any, Literal, Union, get_args, get_origin

from pydantic import BaseModel, ValidationError
from pydantic.fields import FieldInfo
from pydantic_core import ErrorDetails

from sunsched.base import inputs
from sunsched.base.errors import MOST_PROBLEMS, ConfigError, Problem, SunschedError
from sunsched.config import hints
from sunsched.config.configuration import Configuration
from sunsched.plan.rules import AS_WRITTEN, Rules

_LONGEST_GOT = 60


def problems_of(error: ValidationError, model: type[BaseModel], file: str) -> list[Problem]:
    """The mistakes of a validation, in the order of the file's sections; at most MOST_PROBLEMS places of it."""
    problems: list[Problem] = []
    for details in itertools.islice(error.errors(include_url=False), MOST_PROBLEMS):
        if details["type"] == "contradictions":
            problems += [Problem(file, key, got, wanted) for key, got, wanted in details["ctx"]["found"]]
        else:
            problems.append(_problem(details, model, file))
    # For a list with a wrong word only the word is reported; that the list is then too short or too long would mislead.
    return [p for p in problems if not any(other.key.startswith(f"{p.key}[") for other in problems)]


def key_text(loc: Iterable[int | str]) -> str:
    """A place in the file: season[0].evening.later_min."""
    text = ""
    for part in loc:
        if isinstance(part, int):
            text += f"[{part}]"
        else:
            plain = part if part.isprintable() else repr(part)
            plain = plain if len(plain) <= _LONGEST_GOT else f"{plain[:_LONGEST_GOT]}..."
            text += f".{plain}" if text else plain
    return text


def got_text(value: Any) -> str:
    """The value in the file, shortened where it is long."""
    if isinstance(value, dict):
        return "a section"
    if isinstance(value, list) and value and all(isinstance(part, dict) for part in value):
        return "a list of sections"
    if isinstance(value, bool):
        return "true" if value else "false"
    try:
        text = repr(value)
    except RecursionError:
        return "values nested too deeply"
    except ValueError:
        # Python does not print whole numbers of more than 4300 digits.
        return "a number of thousands of digits"
    return text if len(text) <= _LONGEST_GOT else f"{text[:_LONGEST_GOT]}... ({len(text)} characters)"


def _problem(details: ErrorDetails, model: type[BaseModel], file: str) -> Problem:
    loc, kind, value = details["loc"], details["type"], details["input"]
    field, owner = _field_at(model, loc)
    key = key_text(loc)
    if kind == "too_long" and isinstance(value, list):
        return Problem(file, key, f"a list of {len(value)} entries", f"at most {details['ctx']['max_length']}")
    if kind == "missing":
        return Problem(file, key, "missing", _wanted(field) + _needed_keys(field))
    if kind == "extra_forbidden":
        return _unknown_key(file, key, str(loc[-1])[:_LONGEST_GOT], owner)
    if kind == "value_error":
        wanted = str(details["ctx"]["error"])
        meant = hints.time_meant(value) if wanted.startswith("a civil time") else ""
        return Problem(file, key, got_text(value), wanted, f'write "{meant}"' if meant else "")
    if kind in ("model_type", "dict_type"):
        return Problem(file, key, got_text(value), "a section with keys")
    if kind in ("tuple_type", "list_type"):
        return Problem(file, key, got_text(value), "a list" if field is None else _wanted(field))
    if kind == "literal_error":
        return Problem(file, key, got_text(value), _literal_words(details), _near_word(value, details))
    wanted = _wanted(field) if field else details["msg"]
    meant = hints.number_meant(value) if wanted.startswith(("a number", "a whole number")) else ""
    return Problem(file, key, got_text(value), wanted, f"write {meant}, without quotes" if meant else "")


def _needed_keys(field: FieldInfo | None) -> str:
    models = _models_in(field.annotation) if field is not None else []
    needed = [name for model in models for name, info in model.model_fields.items() if info.is_required()]
    return f" with {', '.join(needed)}" if needed else ""


def _unknown_key(file: str, key: str, name: str, owner: type[BaseModel]) -> Problem:
    known = [info.alias or field for field, info in owner.model_fields.items()]
    close = difflib.get_close_matches(name, known, n=1, cutoff=0.6)
    close = close or [key for key in known if len(name) > 3 and key[:4] == name[:4]]
    hint = f"nearest is '{close[0]}'" if close else ""
    return Problem(file, key, "an unknown key", f"one of {', '.join(known)}", hint)


def _literal_words(details: ErrorDetails) -> str:
    return f"one of {details['ctx']['expected']}".replace(" or ", ", ")


def _near_word(value: Any, details: ErrorDetails) -> str:
    words = [word.strip("' ") for word in details["ctx"]["expected"].replace(" or ", ", ").split(",")]
    close = difflib.get_close_matches(str(value)[:_LONGEST_GOT], words, n=1, cutoff=0.6)
    return f"nearest is '{close[0]}'" if close else ""


def _models_in(annotation: Any) -> list[type[BaseModel]]:
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return [annotation]
    return [model for part in get_args(annotation) for model in _models_in(part)]


def _field_at(model: type[BaseModel], loc: tuple[int | str, ...]) -> tuple[FieldInfo | None, type[BaseModel]]:
    """The field that a place names, and the model that holds it."""
    owner, field = model, None
    for part in loc:
        if isinstance(part, int):
            continue
        names = {(info.alias or name): info for name, info in owner.model_fields.items()}
        inner: list[type[BaseModel]] = _models_in(field.annotation) if field is not None else []
        if inner:
            owner = inner[0]
            names = {(info.alias or name): info for name, info in owner.model_fields.items()}
        field = names.get(part)
    return field, owner


def _wanted(field: FieldInfo | None) -> str:
    """What a field takes, in words: its kind and its range."""
    if field is None:
        return "a key of this section"
    kind = _kind_words(field.annotation)
    bounds: dict[str, float] = {}
    for rule in _metadata(field):
        for name in ("ge", "gt", "le", "lt"):
            if getattr(rule, name, None) is not None:
                bounds[name] = getattr(rule, name)
    low = f"from {bounds['ge']:g}" if "ge" in bounds else f"above {bounds['gt']:g}" if "gt" in bounds else ""
    high = f"to {bounds['le']:g}" if "le" in bounds else f"below {bounds['lt']:g}" if "lt" in bounds else ""
    if not low and not high and kind.startswith("a text"):
        longest = next((rule.max_length for rule in _metadata(field) if getattr(rule, "max_length", None)), None)
        return f"{kind} of 1 to {longest} characters" if longest else kind
    return " ".join(part for part in (kind, low, high) if part)


def _metadata(field: FieldInfo) -> list[Any]:
    rules = list(field.metadata)
    for part in get_args(field.annotation):
        for inner in getattr(part, "__metadata__", ()):
            rules += inner.metadata if isinstance(inner, FieldInfo) else [inner]
    return rules


def _kind_words(annotation: Any) -> str:
    if get_origin(annotation) in (Union, types.UnionType):
        annotation = next(part for part in get_args(annotation) if part is not type(None))
    if hasattr(annotation, "__metadata__"):
        annotation = get_args(annotation)[0]
    if _models_in(annotation):
        return "a list of sections" if get_origin(annotation) is tuple else "a section"
    if get_origin(annotation) is tuple:
        inner = get_args(annotation)[0]
        words = ", ".join(repr(word) for word in get_args(inner)) if get_origin(inner) is Literal else ""
        return f"a list of one or more of {words}" if words else "a list"
    kinds = {int: "a whole number", float: "a number", str: "a text in quotes", bool: "true or false"}
    return kinds.get(annotation, "a value")


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
        return Configuration.model_validate(table, context=AS_WRITTEN)
    except ValidationError as error:
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
