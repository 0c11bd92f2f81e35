"""Why a minute is what it is: the last step that changed it."""

from __future__ import annotations

from enum import IntEnum


class Reason(IntEnum):
    """The reason that decided a minute, in the order in which the rules are applied."""

    TWILIGHT = 0
    LIGHT = 1
    LIMIT = 2
    LATER = 3
    WEEKDAY = 4
    NOT_BEFORE = 5
    NOT_AFTER = 6
    KEPT_IN = 7
    SHUT = 8

    @property
    def word(self) -> str:
        """The lower-case word used in every output."""
        return self.name.lower()


WORDS = tuple(reason.word for reason in Reason)
