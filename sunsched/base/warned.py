"""A warning: what may happen, how bad it would be, and what to do about it; and the one order in which warnings stand.

Plan, drive, battery and cell each find their own; `job/warnings.py` gathers them into the one list that every command,
page and sheet shows and counts.
"""

from __future__ import annotations

from collections.abc import Iterable
from enum import IntEnum
from typing import NamedTuple


class Harm(IntEnum):
    """What a warning is about at its worst; the lowest number stands first. The order is a judgement, no source."""

    EVERY_DAY = 1  # every minute of the table may be wrong
    LIFE = 2  # fire, a plate that drops, a door open in the dark, a bird shut out
    DOOR = 3  # the door may stop: birds stay shut in
    PART = 4  # a part wears or fails early
    LIGHT = 5  # the cell decides less well; the clock goes on deciding
    DATES = 6  # may be as wanted; the dates are worth a look


class Warned(NamedTuple):
    """One warning.

    name   short, for programs; unique within a list
    text   what may happen, without a full stop; to_do is a whole sentence or more
    certain   False where the range of an input decides: it may not happen
    """

    name: str
    harm: Harm
    text: str
    to_do: str
    certain: bool = True

    def __str__(self) -> str:
        return self.text


def by_harm(found: Iterable[Warned]) -> tuple[Warned, ...]:
    """Each warning once: by harm, the certain ones before those in doubt, else in the order found."""
    each = {warned.text: warned for warned in found}
    return tuple(sorted(each.values(), key=lambda warned: (warned.harm, not warned.certain)))


def count_words(warned: Iterable[Warned]) -> str:
    """How many warnings there are, in words for the head of a page or sheet."""
    count = len(tuple(warned))
    return "No warnings" if not count else f"{count} warning{'' if count == 1 else 's'}, the most harmful first"
