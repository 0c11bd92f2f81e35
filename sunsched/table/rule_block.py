"""The rule block: rules that ride beside a table's curve and are applied by the decoder, in their order.

Each rule is the bit-exact twin of what sunsched_ruled of sunsched_rules.h does: `applied` goes
forward from the curve to the minutes, `undone` back from wanted minutes to the curve's bounds.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from enum import IntEnum

import numpy as np
from numpy.typing import NDArray

from sunsched.base.civil_time import year_days
from sunsched.plan.year import NO_MINUTE
from sunsched.table.wanted import FREE, Minutes

OPEN, CLOSE, BOTH = 1, 2, 3
YEAR_END = 366  # calendar row after 31 December


class What(IntEnum):
    """What a rule does to the minute."""

    ADD = 1
    AT_LEAST = 2
    AT_MOST = 3
    STAY_DOWN = 4


@dataclass(frozen=True, slots=True)
class DateWord:
    """A date of every year: days since 1 January in a leap year, and a weekday to move forward to (Monday 0)."""

    row: int
    weekday: int | None = None

    def word(self) -> int:
        """The 16 bits of the image."""
        return self.row | (0 if self.weekday is None else self.weekday + 1) << 9

    @classmethod
    def of_word(cls, word: int) -> DateWord:
        """The date of 16 bits of an image."""
        weekday = word >> 9 & 7
        return cls(word & 511, weekday - 1 if weekday else None)

    def day(self, year: int) -> int:
        """Days since 1 January of `year`."""
        first, n_days = year_days(year)
        day = self.row - (1 if self.row > 59 and n_days == 365 else 0)
        if self.weekday is not None:
            day += (self.weekday - (first + day + 3)) % 7
        return day


@dataclass(frozen=True, slots=True)
class Rule:
    """One rule: what it does, to which sides, on which dates (from, first day no longer) and weekdays."""

    what: What
    sides: int
    minutes: int = 0
    dates: tuple[DateWord, DateWord] | None = None
    weekdays: int | None = None
    year: int | None = None  # the only one in which it holds

    def to_bytes(self) -> bytes:
        """The bytes of the image."""
        head = self.what | self.sides << 3 | (self.dates is not None) << 5 | (self.weekdays is not None) << 6
        data = bytes([head]) if self.year is None else bytes([head | 128, self.year - 2000])
        if self.dates is not None:
            data += b"".join(date.word().to_bytes(2, "little") for date in self.dates)
        if self.weekdays is not None:
            data += bytes([self.weekdays])
        if self.what != What.STAY_DOWN:
            data += self.minutes.to_bytes(2, "little", signed=True)
        return data

    def holds(self, side: int, year: int) -> NDArray[np.bool_]:
        """The days of a year (n,) on which the rule holds for a side."""
        first, n_days = year_days(year)
        days = np.arange(n_days)
        mask = np.full(n_days, bool(self.sides >> side & 1) and self.year in (None, year))
        if self.dates is not None:
            begin, end = (date.day(year) for date in self.dates)
            after, before = days >= begin, days < end
            mask &= (after & before) if begin <= end else (after | before)
        if self.weekdays is not None:
            mask &= (self.weekdays >> ((first + days + 3) % 7) & 1).astype(np.bool_)
        return mask


def to_bytes(rules: Iterable[Rule]) -> bytes:
    """The rule block of an image."""
    return b"".join(rule.to_bytes() for rule in rules)


def of_bytes(data: bytes) -> tuple[Rule, ...]:
    """The rules of a block. Raises ValueError if the bytes are not whole rules."""
    rules = []
    at = 0
    while at < len(data):
        head = data[at]
        size = (
            1
            + (1 if head & 128 else 0)
            + (4 if head & 32 else 0)
            + (1 if head & 64 else 0)
            + (0 if head & 7 == What.STAY_DOWN else 2)
        )
        body = data[at + 1 : at + size]
        if len(body) != size - 1:
            raise ValueError("a rule is cut short")
        at += size
        dates = weekdays = year = None
        if head & 128:
            year, body = 2000 + body[0], body[1:]
        if head & 32:
            words = int.from_bytes(body[:2], "little"), int.from_bytes(body[2:4], "little")
            dates, body = (DateWord.of_word(words[0]), DateWord.of_word(words[1])), body[4:]
        if head & 64:
            weekdays, body = body[0], body[1:]
        minutes = int.from_bytes(body, "little", signed=True)
        rules.append(Rule(What(head & 7), head >> 3 & 3, minutes, dates, weekdays, year))
    return tuple(rules)


def applied(rules: Iterable[Rule], year: int, minutes: Minutes) -> Minutes:
    """The minutes (2, n) after all rules."""
    out = minutes.copy()
    for rule in rules:
        for side in (0, 1):
            up = rule.holds(side, year) & (out[side] != NO_MINUTE)
            if rule.what == What.ADD:
                out[side][up] += rule.minutes
            elif rule.what == What.AT_LEAST:
                out[side][up] = np.maximum(out[side][up], rule.minutes)
            elif rule.what == What.AT_MOST:
                out[side][up] = np.minimum(out[side][up], rule.minutes)
            else:
                out[side][up] = NO_MINUTE
    return out


def undone(rules: tuple[Rule, ...], year: int, least: Minutes, greatest: Minutes) -> tuple[Minutes, Minutes] | None:
    """Bounds (2, n) of the curve for which the rules give minutes within bounds; None where no curve can."""
    low, high = least.copy(), greatest.copy()
    settled = np.zeros(low.shape, np.bool_)  # a later rule keeps the day shut, whatever comes before it
    for rule in reversed(rules):
        for side in (0, 1):
            holds = rule.holds(side, year)
            down = low[side] == NO_MINUTE
            if rule.what == What.STAY_DOWN:
                if (holds & ~down & ~settled[side]).any():
                    return None
                low[side][holds], high[side][holds], settled[side][holds] = -FREE, FREE, True
                continue
            up = holds & ~down
            if not _undo_one(rule, up, low[side], high[side]):
                return None
    return low, high


def _undo_one(rule: Rule, up: NDArray[np.bool_], low: NDArray[np.int32], high: NDArray[np.int32]) -> bool:
    """Undo a rule in place where it holds; False if no curve gives the minutes wanted."""
    if rule.what == What.ADD:
        low[up & (low > -FREE)] -= rule.minutes
        high[up & (high < FREE)] -= rule.minutes
        return True
    if rule.what == What.AT_LEAST:
        low[up & (low <= rule.minutes)] = -FREE
        return not (up & (high < rule.minutes)).any()
    high[up & (high >= rule.minutes)] = FREE
    return not (up & (low > rule.minutes)).any()
