"""Which rules the decoder may apply: candidates worked out from the configuration's rules and the plans.

choose.py checks every candidate and rejects those that do not give the plan's exact minutes.

The rule block: rules stored beside a table's curve, which the decoder applies, in their order.

Each rule is the bit-exact twin of what sunsched_ruled of sunsched_rules.h does: `applied` goes
forward from the curve to the minutes, `undone` back from wanted minutes to the curve's bounds.
"""

from __future__ import annotations

import functools
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from enum import IntEnum
from itertools import groupby

import numpy as np
from numpy.typing import NDArray

from sunsched.base.civil_time import date_of, year_days
from sunsched.plan.rules import ByWeekday, MomentRule, Rules, Variant, evening_minute
from sunsched.plan.year import NO_MINUTE, YearPlan
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
        """The days of a year (n,) on which the rule holds for a side; not to be written to."""
        return _holds(self, side, year)

    def _days(self, side: int, year: int) -> NDArray[np.bool_]:
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


@functools.lru_cache(4096)  # a choice asks for the same days for every set of rules it tries
def _holds(rule: Rule, side: int, year: int) -> NDArray[np.bool_]:
    days = rule._days(side, year)
    days.flags.writeable = False
    return days


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


_MOMENT_KEYS = ("twilight", "depression_deg", "clear_sky_lux", "no_twilight", "fallback_lux")
_MONTH_STARTS = (0, 31, 60, 91, 121, 152, 182, 213, 244, 274, 305, 335)
_MOST_RANGES = 12
Groups = dict[str, tuple[Rule, ...]]
Span = tuple[DateWord, DateWord]


def calendar_row(month_day: int) -> int:
    """Days since 1 January in a leap year, of a date given as month * 100 + day."""
    return _MONTH_STARTS[month_day // 100 - 1] + month_day % 100 - 1


def groups(plans: Sequence[YearPlan], rules: Rules) -> Groups:
    """Rules that the decoder could apply, in the order in which they must be applied, by the name of their group."""
    variants = rules.variants()
    summer = _summer(plans)
    limits = _limits(variants, plans)
    civil = plans[0].chip.keeps == "civil"
    made: Groups = {"seasons": tuple(_season_shifts(variants)), "weekdays": tuple(_weekday_shifts(variants))}
    if civil:
        made["summer time"] = tuple(Rule(What.ADD, BOTH, minutes, span) for span, minutes in summer)
        made["limits"] = tuple(limits)
    elif limits:
        sides = 0
        for limit in limits:
            sides |= limit.sides
        forth = tuple(Rule(What.ADD, sides, minutes, span) for span, minutes in summer)
        back = tuple(Rule(What.ADD, sides, -minutes, span) for span, minutes in summer)
        made["limits"] = (*forth, *limits, *back)
    made["days kept shut"] = _shut(plans)
    return {name: rules for name, rules in made.items() if rules}


def _span(first: int, last: int) -> Span:
    """Dates month * 100 + day, both included, as from and first day no longer."""
    end = calendar_row(last) + 1
    return DateWord(calendar_row(first)), DateWord(end)


def _own_spans(variants: Sequence[Variant]) -> list[Span | None]:
    """The dates of no season; None for the whole year."""
    taken = np.zeros(YEAR_END, np.bool_)
    for variant in variants[1:]:
        for first, last in variant.spans:
            taken[calendar_row(first) : calendar_row(last) + 1] = True
    if not taken.any():
        return [None]
    return list(_joined([(DateWord(begin), DateWord(end)) for begin, end in _runs(~taken)]))


def _joined(spans: list[Span]) -> list[Span]:
    """The spans with the one that ends the year and the one that begins it as one that wraps."""
    begins = [span for span in spans if span[0].row == 0]
    ends = [span for span in spans if span[1].row == YEAR_END and span[0].row > 0]
    if not begins or not ends or begins[0][1].row == YEAR_END:
        return spans
    return [span for span in spans if span not in (begins[0], ends[0])] + [(ends[0][0], begins[0][1])]


def _runs(mask: NDArray[np.bool_]) -> list[tuple[int, int]]:
    """Runs of True as begin and end."""
    edges = np.flatnonzero(np.diff(np.concatenate([[False], mask, [False]]).astype(np.int8)))
    return [(int(a), int(b)) for a, b in zip(edges[::2], edges[1::2], strict=True)]


def _spans_of(number: int, variants: Sequence[Variant]) -> list[Span | None]:
    if number == 0:
        return _own_spans(variants)
    return list(_joined([_span(first, last) for first, last in variants[number].spans]))


def _side(variant: Variant, side: int) -> MomentRule:
    return variant.evening if side else variant.morning


def _season_shifts(variants: Sequence[Variant]) -> list[Rule]:
    """A season's own minutes later, where the Sun's moment is the year's own."""
    made = []
    for number, variant in enumerate(variants[1:], 1):
        for side in (0, 1):
            own, here = _side(variants[0], side), _side(variant, side)
            same = all(getattr(own, key) == getattr(here, key) for key in _MOMENT_KEYS)
            if same and here.later_min != own.later_min:
                by = here.later_min - own.later_min
                made += [Rule(What.ADD, 1 << side, by, span) for span in _spans_of(number, variants)]
    return made


def _weekday_shifts(variants: Sequence[Variant]) -> list[Rule]:
    made = []
    for side in (0, 1):
        shifts = [_side(variant, side).weekday_later_min.minutes() for variant in variants]
        alike = all(shift == shifts[0] for shift in shifts)
        for number, shift in enumerate(shifts[:1] if alike else shifts):
            spans = [None] if alike else _spans_of(number, variants)
            for minutes in sorted(set(shift) - {0}):
                days = sum(1 << day for day in range(7) if shift[day] == minutes)
                made += [Rule(What.ADD, 1 << side, minutes, span, days) for span in spans]
    return made


def _limits(variants: Sequence[Variant], plans: Sequence[YearPlan]) -> list[Rule]:
    """Not before and not after, in the chip's minutes without summer time."""
    plan = plans[0]
    base = 0 if plan.chip.keeps == "civil" else int(plan.civil_offset_min.min()) - plan.chip_offset_min
    made = []
    for side in (0, 1):
        befores = [_side(variant, side).not_before_by_weekday for variant in variants]
        afters = [_side(variant, side).not_after_by_weekday for variant in variants]
        for what, limits in ((What.AT_LEAST, befores), (What.AT_MOST, afters)):
            alike = all(limit == limits[0] for limit in limits)
            for number, by_weekday in enumerate(limits[:1] if alike else limits):
                spans = [None] if alike else _spans_of(number, variants)
                for limit, days in _weekdays_of(by_weekday):
                    minute = (evening_minute(limit) if side else limit) - base
                    made += [Rule(what, OPEN if side == 0 else CLOSE, minute, span, days) for span in spans]
    return made


def _weekdays_of(by_weekday: ByWeekday) -> list[tuple[int, int | None]]:
    """Each limit with the bits of its weekdays, None for all of them."""
    limits = dict.fromkeys(limit for limit in by_weekday if limit is not None)
    bits = {limit: sum(1 << day for day in range(7) if by_weekday[day] == limit) for limit in limits}
    return [(limit, None if days == 127 else days) for limit, days in bits.items()]


def _summer(plans: Sequence[YearPlan]) -> list[tuple[Span, int]]:
    """Runs of days with another civil offset than the year's least; one meaning for all years, or none."""
    yearly = []
    for plan in plans:
        shift = plan.civil_offset_min - plan.civil_offset_min.min()
        runs, at = [], 0
        for minutes, days in groupby(shift.tolist()):
            n = len(list(days))
            if minutes:
                runs.append((at, at + n, minutes))
            at += n
        yearly.append(_wrapped(runs, plan.n_days))
    if any(len(runs) != len(yearly[0]) for runs in yearly):
        return []
    made = []
    for run in zip(*yearly, strict=True):
        if any(minutes != run[0][2] for _, _, minutes in run):
            return []
        begin = _common(plans, [begin for begin, _, _ in run])
        end = _common(plans, [end for _, end, _ in run])
        if begin is None or end is None:
            return []
        made.append(((begin, end), run[0][2]))
    return made


def _wrapped(runs: list[tuple[int, int, int]], n_days: int) -> list[tuple[int, int, int]]:
    """Southern summers: the run that ends the year and the one that begins it are one that wraps."""
    if len(runs) > 1 and runs[0][0] == 0 and runs[-1][1] == n_days and runs[0][2] == runs[-1][2]:
        return [*runs[1:-1], (runs[-1][0], runs[0][1], runs[0][2])]
    return runs


def _common(plans: Sequence[YearPlan], rows: list[int]) -> DateWord | None:
    """One date for all years: the same calendar day, or the first of one weekday on or after a calendar day."""
    calendar = [_calendar(plan, row) for plan, row in zip(plans, rows, strict=True)]
    if len(set(calendar)) == 1:
        return DateWord(calendar[0])
    weekdays = {(plan.first_day + row + 3) % 7 for plan, row in zip(plans, rows, strict=True)}
    word = DateWord(min(calendar), weekdays.pop())
    same = all(word.day(date_of(p.first_day).year) == row for p, row in zip(plans, rows, strict=True))
    return word if same and not weekdays else None


def _calendar(plan: YearPlan, row: int) -> int:
    return row + (1 if plan.n_days == 365 and row >= 59 else 0)


def _shut(plans: Sequence[YearPlan]) -> tuple[Rule, ...]:
    """Ranges of days without a minute: those of every year, then those of one year; none if they are too many."""
    made: list[tuple[int, tuple[int, int], int | None]] = []
    for side, name in ((0, "open_min"), (1, "close_min")):
        yearly = []
        for plan in plans:
            runs = _runs(getattr(plan, name) == NO_MINUTE)
            yearly.append([(_calendar(plan, a), _end(plan, b)) for a, b in runs])
        every = [run for run in yearly[0] if all(run in runs for runs in yearly)]
        if len(every) > _MOST_RANGES:
            return ()
        made += [(1 << side, run, None) for run in every]
        for plan, runs in zip(plans, yearly, strict=True):
            made += [(1 << side, run, date_of(plan.first_day).year) for run in runs if run not in every]
    return tuple(
        Rule(What.STAY_DOWN, sides, 0, (DateWord(a), DateWord(b)), year=year) for sides, (a, b), year in _both(made)
    )


def _both(made: list[tuple[int, tuple[int, int], int | None]]) -> list[tuple[int, tuple[int, int], int | None]]:
    """The ranges of opening and closing as one where they are the same ones."""
    sides = [[entry[1:] for entry in made if entry[0] == side] for side in (OPEN, CLOSE)]
    return [(BOTH, run, year) for run, year in sides[0]] if sides[0] == sides[1] else made


def _end(plan: YearPlan, row: int) -> int:
    return YEAR_END if row == plan.n_days else _calendar(plan, row)
