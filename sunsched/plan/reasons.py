"""Why a minute is what it is: the last step that changed it, with its texts and its drawing.

A new rule adds its reason here; there is no other list of reasons. See docs/adding.md.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import IntEnum

import numpy as np
from numpy.typing import NDArray


class Kind(IntEnum):
    """What decided a minute, in the few kinds that a chart can tell apart."""

    SUN = 0
    LIMIT = 1
    LIGHT = 2
    STAND_IN = 3
    DOWN = 4


@dataclass(frozen=True, slots=True, kw_only=True)
class Record:
    """What every output needs of a reason. No field has a default, so that none is forgotten.

    short   in a narrow column beside each day; each reason has its own
    meaning   what the short word means
    said   what decided, after "Decided by:"; empty where no minute is left to decide
    by_sun   whether the Sun decides such a minute, so that clock and light may be compared
    kind   how it is drawn
    instead   what took the place of a moment that never comes, in a warning; empty for all other reasons
    """

    short: str
    meaning: str
    said: str
    by_sun: bool
    kind: Kind
    instead: str


class Reason(IntEnum):
    """The reason that decided a minute, in the order in which the rules are applied.

    A plan holds the numbers, which count from 0; every output shows the word.
    """

    record: Record

    TWILIGHT = Record(
        short="Sun",
        meaning="the Sun's moment, unchanged",
        said="the Sun",
        by_sun=True,
        kind=Kind.SUN,
        instead="",
    )
    LIGHT = Record(
        short="sky light",
        meaning="no such moment that day: the clear sky's light decided",
        said="the light of a clear sky, for there is no twilight that day",
        by_sun=True,
        kind=Kind.LIGHT,
        instead="the clear sky's light",
    )
    LIMIT = Record(
        short="stand-in",
        meaning="no such moment that day: a civil limit stands in",
        said="your limit, for there is no twilight that day",
        by_sun=False,
        kind=Kind.STAND_IN,
        instead="a limit",
    )
    LATER = Record(
        short="Sun, shifted",
        meaning="the Sun's moment and the minutes later (or earlier) asked for",
        said="the Sun, with your minutes later or earlier",
        by_sun=True,
        kind=Kind.SUN,
        instead="",
    )
    WEEKDAY = Record(
        short="weekday",
        meaning="moved for the day of the week",
        said="the Sun, with your minutes for the day of the week",
        by_sun=True,
        kind=Kind.SUN,
        instead="",
    )
    NOT_BEFORE = Record(
        short="not before",
        meaning="held back to the not-before limit",
        said="your limit (not before)",
        by_sun=False,
        kind=Kind.LIMIT,
        instead="",
    )
    NOT_AFTER = Record(
        short="not after",
        meaning="brought forward to the not-after limit",
        said="your limit (not after)",
        by_sun=False,
        kind=Kind.LIMIT,
        instead="",
    )
    KEPT_IN = Record(
        short="kept in",
        meaning="your dates: the door stays down",
        said="",
        by_sun=False,
        kind=Kind.DOWN,
        instead="",
    )
    SHUT = Record(
        short="shut",
        meaning="no twilight: the door stays down",
        said="",
        by_sun=False,
        kind=Kind.DOWN,
        instead="",
    )

    def __new__(cls, record: Record) -> Reason:
        """The next number, with its record."""
        member = int.__new__(cls, len(cls.__members__))
        member._value_ = len(cls.__members__)
        member.record = record
        return member

    @property
    def word(self) -> str:
        """The lower-case word used in every output."""
        return self.name.lower()

    @property
    def stands_in(self) -> bool:
        """Whether it takes the place of a moment that never comes."""
        return self.record.instead != ""


WORDS = tuple(reason.word for reason in Reason)
_BY_SUN = np.array([reason.record.by_sun for reason in Reason])
_KINDS = np.array([reason.record.kind for reason in Reason], np.int64)


def by_sun(reasons: NDArray[np.uint8]) -> NDArray[np.bool_]:
    """Where the Sun decides such a minute (n,)."""
    return np.asarray(_BY_SUN[reasons], np.bool_)


def kinds_of(reasons: NDArray[np.uint8]) -> NDArray[np.int64]:
    """The Kind of each reason (n,)."""
    return np.asarray(_KINDS[reasons], np.int64)
