"""The page of rules as the play shows it: each rule's row, and which rules give a reason or raise an alarm."""

from __future__ import annotations

import re
from functools import lru_cache
from typing import NamedTuple

from sunsched.base.package_data import package_bytes

_ROW = re.compile(r"^\| ([A-Z]\d*) \| (.*) \|$", re.MULTILINE)


class Rule(NamedTuple):
    """A row of controller/RULES.md: plain text. `gives`: its reasons in lower case and its alarms in capitals."""

    name: str
    condition: str
    decision: str
    gives: str


@lru_cache(maxsize=1)
def rules() -> tuple[Rule, ...]:
    """Every rule, in the page's order."""
    text = package_bytes("sunsched.controller", "RULES.md").decode("utf-8")
    found = []
    for name, rest in _ROW.findall(text):
        cells = [cell.strip() for cell in f"{rest} ".split(" | ")]
        condition, decision, gives = (*cells, "", "")[:3]
        found.append(Rule(name, condition, decision, gives))
    return tuple(found)


def rules_that_give() -> dict[str, list[str]]:
    """Reason or alarm, in lower case -> the rules that give it."""
    given: dict[str, list[str]] = {}
    for rule in rules():
        for word in re.findall(r"[A-Za-z_]+", rule.gives):
            names = given.setdefault(word.lower(), [])
            if rule.name not in names:
                names.append(rule.name)
    for word in ("expired", "not_begun"):  # what the log says for NO_TABLE
        given[word] = given["no_table"]
    return given
