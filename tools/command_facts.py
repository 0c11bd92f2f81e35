"""What the commands say of themselves, for the manual page and for docs/commands.md.

Typer's own wording of kinds, defaults and completion is left alone: another release of it makes the same pages.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Any, NamedTuple

import typer
from typer.core import TyperGroup

from sunsched.base import errors
from sunsched.cli.app import COMMANDS, app


class Option(NamedTuple):
    """An option: its names, what stands for its value (nothing for a flag), and its help with ranges and default."""

    names: str
    value: str
    words: str


def whole() -> TyperGroup:
    """The command line itself."""
    group = typer.main.get_command(app)
    assert isinstance(group, TyperGroup)
    return group


def commands() -> Iterator[tuple[str, Any]]:
    """Every command with its name, in the order of the list; one with commands of its own is followed by them."""
    group = whole()
    context = typer.Context(group, info_name="sunsched")
    for name in COMMANDS:
        command: Any = group.get_command(context, name)
        yield name, command
        for below, one in getattr(command, "commands", {}).items():
            yield f"{name} {below}", one


def caution() -> str:
    """What the list of commands ends with, before its examples."""
    return str(whole().epilog).partition("\b")[0].strip()


def arguments(command: Any) -> dict[str, str]:
    """The arguments of a command by what stands for them, with their help."""
    return {
        (one.metavar or str(one.name).upper()) + ("..." if one.nargs == -1 else ""): one.help or ""
        for one in command.params
        if one.param_type_name == "argument"
    }


def options(command: Any) -> Iterator[Option]:
    """Every option of a command, but for help and completion."""
    for one in command.params:
        if one.param_type_name != "option" or one.hidden or one.name.endswith("_completion"):
            continue
        value = "" if one.is_flag else str(one.metavar or "VALUE")
        yield Option(", ".join(sorted(one.opts, key=len)), value, " ".join([one.help or "", *_notes(one)]))


def _notes(parameter: Any) -> Iterator[str]:
    """What a value must be and what it is if not given, in brackets."""
    # Where typer keeps the range of a number has changed between its releases.
    kind = parameter if hasattr(parameter, "min") else parameter.type
    low, high = getattr(kind, "min", None), getattr(kind, "max", None)
    if low is not None:
        yield f"[{low} or more]" if high is None else f"[{low} to {high}]"
    if parameter.required:
        yield "[required]"
    if not parameter.is_flag and parameter.default not in (None, "", ()) and not callable(parameter.default):
        yield f"[default: {parameter.default}]"


def exit_codes() -> Iterator[tuple[int, str]]:
    """Exit codes with the errors that carry them, from the errors themselves."""
    kinds = [
        kind for kind in vars(errors).values() if isinstance(kind, type) and issubclass(kind, errors.SunschedError)
    ]
    yield 0, "Done."
    for code in sorted({kind.exit_code for kind in kinds}):
        words = [summary(kind) for kind in kinds if kind.exit_code == code and kind is not errors.SunschedError]
        yield code, " ".join(f"{word}." for word in words)


def summary(described: Any) -> str:
    """The first sentence of a command's help or of a class's docstring, without its full stop."""
    words = described.__doc__ if isinstance(described, type) else described.help
    return " ".join(re.split(r"\.(?:\s|$)|;", str(words), maxsplit=1)[0].split())
