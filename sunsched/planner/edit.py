"""Keys set in the text of a configuration or taken out of it: comments, order and every other line stay.

tomlkit holds the text; the result is read back with the reader that all commands use and must be the old configuration
with these keys changed and nothing else. A new key stands below the last key of its section, not below the remarks that
lead to the next one. A key that is taken out leaves the remark that stood beside it.
"""

from __future__ import annotations

import copy
from collections.abc import Mapping
from typing import Any

import tomlkit
from tomlkit.container import Container
from tomlkit.exceptions import TOMLKitError
from tomlkit.items import Comment, Trivia

from sunsched.base.errors import ConfigError, Problem
from sunsched.config.toml_edit import with_line
from sunsched.config.toml_file import toml_of

Values = Mapping[str, Any]


def changed(text: str, values: Values, name: str) -> str:
    """The text with each dotted key of `values` ("evening.later_min") set, or taken out where its value is None.

    Raises ConfigError, naming the file `name`, where the text is no TOML or cannot be changed so.
    """
    try:
        for dotted, value in values.items():
            text = _one_changed(text, dotted, value)
    except (TOMLKitError, ValueError, RecursionError, AttributeError, TypeError, KeyError):
        by_hand = "; ".join(f"{key} = {value!r}" for key, value in values.items() if value is not None)
        wanted = f"by hand: {by_hand or ', '.join(values)}"
        raise ConfigError(Problem(name, "its sections", "not written so that they can be changed", wanted)) from None
    return text


def _one_changed(text: str, dotted: str, value: Any) -> str:
    before = toml_of(text)
    wanted = _wanted(before, dotted, value)
    if wanted == before:
        return text
    *sections, key = dotted.split(".")
    document = tomlkit.parse(text)
    table = _table_at(document, sections)
    if value is not None and (table is None or key not in table):
        after = with_line(text, dotted, tomlkit.item(value).as_string())
        if _reads_as(after, wanted):
            return after
        table = _table_at(document, sections, make=True)  # an inline table, or dotted keys
    if value is None:
        _take_out(table, key)
    else:
        table[key] = value
    after = tomlkit.dumps(document)
    if not _reads_as(after, wanted):
        raise ValueError("another configuration")
    return after


def _reads_as(text: str, wanted: dict[str, Any]) -> bool:
    try:
        return toml_of(text) == wanted
    except ValueError:
        return False


def _wanted(before: dict[str, Any], dotted: str, value: Any) -> dict[str, Any]:
    after = copy.deepcopy(before)
    *sections, key = dotted.split(".")
    table = after
    for section in sections:
        if value is None and section not in table:
            return after
        table = table.setdefault(section, {})
    if value is None:
        table.pop(key, None)
    else:
        table[key] = value
    return after


def _table_at(document: Any, sections: list[str], make: bool = False) -> Any:
    table = document
    for section in sections:
        if section not in table:
            if not make:
                return None
            table[section] = tomlkit.table()
        table = table[section]
    return table


def _take_out(table: Any, key: str) -> None:
    container = getattr(table, "value", None)
    remark = table[key].trivia.comment
    if isinstance(container, Container) and remark:
        at = next(n for n, (k, _) in enumerate(container.body) if k is not None and k.key == key)
        table.remove(key)
        container.body[at] = (None, Comment(Trivia(comment=remark)))
    else:
        table.remove(key)
