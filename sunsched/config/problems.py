"""A keeper's mistakes in a configuration, from pydantic's errors: file, key, got, wanted, and the nearest key."""

from __future__ import annotations

import datetime as dt
import difflib
import itertools
import types
from collections.abc import Iterable
from typing import Any, Literal, Union, get_args, get_origin

from pydantic import BaseModel, ValidationError
from pydantic.fields import FieldInfo
from pydantic_core import ErrorDetails

from sunsched.base.errors import MOST_PROBLEMS, Problem
from sunsched.config import hints

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
    if isinstance(value, (dt.date, dt.time)):
        return value.isoformat()
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
