"""One set of values that hold together: what `drive`, `battery` and `cell` advise.

A set is found by search and proven by running it: the values are put in the place of the configured ones, and the same
sums judge the result. What the set does not cure is named, so that no advice promises more than its own sums say.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from sunsched.base.model import Settings


@dataclass(frozen=True)
class Advice:
    """A set of values to take together.

    settings   dotted key of the configuration ("motor.cutoff_up_s") and its value; empty where nothing is to change
    before   the names of the verdicts or warnings that did not hold without the set
    remains   those that do not hold with it
    """

    settings: Mapping[str, float]
    before: tuple[str, ...]
    remains: tuple[str, ...]

    @property
    def cured(self) -> tuple[str, ...]:
        """What did not hold before and holds with the set."""
        return tuple(name for name in self.before if name not in self.remains)

    def words(self) -> str:
        """The set as a keeper writes it: `motor.cutoff_up_s = 21, motor.cutoff_down_s = 18`."""
        return ", ".join(f"{key} = {value:g}" for key, value in self.settings.items())

    def plain(self) -> dict[str, Any]:
        """The advice as plain values, for JSON."""
        return {"settings": dict(self.settings), "before": list(self.before), "remains": list(self.remains)}


def changed(parts: Mapping[str, Settings], tried: Mapping[str, Settings]) -> dict[str, float]:
    """The keys in which `tried` differs from `parts`, dotted, in the order of the sections and their keys."""
    found = {}
    for section, part in tried.items():
        for key in type(part).model_fields:
            value = getattr(part, key)
            if value != getattr(parts[section], key) and value is not None:
                found[f"{section}.{key}"] = value
    return found
