"""Whether a door's log of moves is what the plan and the light of each day ask for: worked out anew, from the plan's
minutes and the counts alone, without the decision core."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from sunsched.base.civil_time import date_of, day_number
from sunsched.controller.door_settings import DoorSettings
from sunsched.controller.words import Want, Why
from sunsched.plan.year import NO_MINUTE, YearPlan

DAY_S = 86_400
LAMP_S = 5400  # a steady lamp burns this long past the planned closing (skies.py)


class Move(NamedTuple):
    """A change of the wish: seconds since the plan's first midnight, what is wanted, why."""

    at_s: int
    wanted: str
    reason: str


def moves_of(events: NDArray[Any], first_s: int = 0) -> list[Move]:
    """The changes of the wish among a life's events; `first_s` is the life's first second from the plan's midnight."""
    wants = events["want"]
    changed = np.append(True, wants[1:] != wants[:-1])
    return [
        Move(
            first_s + int(event["at_s"]), Want(int(event["want"])).name.lower(), Why(int(event["reason"])).name.lower()
        )
        for event in events[changed]
    ]


def logged_moves(log: str, plan: YearPlan) -> list[Move]:
    """The same from the log's `move` lines; every line of data must have its eight columns."""
    moves = []
    for line in log.splitlines():
        words = line.split(",")
        if line.startswith("#") or words[0] == "date":
            continue
        assert len(words) == 8, line
        if words[2] == "move":
            time = dt.time.fromisoformat(words[1])
            day = day_number(dt.date.fromisoformat(words[0])) - plan.first_day
            at_s = day * DAY_S + time.hour * 3600 + time.minute * 60 + time.second
            moves.append(Move(at_s, {"raise": "up", "lower": "down", "stay": "stay"}[words[5]], words[6]))
    return moves


def run_lengths(held: NDArray[np.bool_]) -> NDArray[np.int64]:
    """How many seconds a condition has held, at each second."""
    at = np.arange(len(held))
    broken = np.maximum.accumulate(np.where(held, -1, at))
    return at - broken


class Side(NamedTuple):
    """One side of the day: its planned second, the window of the cell, seconds the light must have held."""

    planned_s: int
    from_s: int
    until_s: int
    held_s: NDArray[np.int64]  # from from_s on
    confirm_s: int
    sure_s: int  # the second from which on the cell has seen both since power-up
    proven: bool | None  # the cell has lately seen both dark and bright; None: within ten minutes of the limit

    def light_s(self) -> int | None:
        """The second at which the light decides within the window; None if it does not."""
        at_s = self.from_s + np.flatnonzero(self.held_s >= self.confirm_s)
        at_s = at_s[at_s >= self.sure_s]
        return int(at_s[0]) if len(at_s) else None

    def wanted(self, light_word: str, limit_word: str, minute_word: str) -> tuple[int, str]:
        """When and why the door should move."""
        if self.from_s == self.until_s or self.proven is False:
            return self.planned_s, minute_word
        light_s = self.light_s()
        return (self.until_s, limit_word) if light_s is None else (light_s, light_word)


def side(sight: Sight, row: int, evening: bool) -> Side | None:
    """A row's closing or opening."""
    plan, settings, counts = sight.plan, sight.settings, sight.counts
    minute = int((plan.close_min if evening else plan.open_min)[row])
    if minute == NO_MINUTE:
        return None
    planned = row * DAY_S + minute * 60
    if evening:
        around = (settings.evening_from_min, settings.evening_until_min)
    else:
        around = (settings.morning_from_min, settings.morning_until_min)
    first, last = planned + around[0] * 60, planned + around[1] * 60
    lead = settings.confirm_s + 1
    seen = counts[first - lead : last].astype(np.int64)
    held = seen < settings.dark_counts if evening else seen > settings.bright_counts
    proven = cell_proven(counts[max(sight.first_s, planned - 2 * DAY_S) : planned], settings)
    sure_s = _sure_s(sight, last)
    return Side(planned, first, last, run_lengths(held)[lead:], settings.confirm_s, sure_s, proven)


def _sure_s(sight: Sight, last_s: int) -> int:
    """The second at which the cell has first seen both dark and bright for long, since power-up."""
    if last_s - sight.first_s > 2 * DAY_S:
        return sight.first_s
    seen, s = sight.counts[sight.first_s : last_s].astype(np.int64), sight.settings
    both = (np.flatnonzero(run_lengths(held) >= s.sure_s) for held in (seen < s.dark_counts, seen > s.bright_counts))
    return sight.first_s + max(int(at[0]) if len(at) else last_s for at in both)


def cell_proven(counts: NDArray[np.uint16], settings: DoorSettings) -> bool | None:
    """Whether the last 26 h had half an hour of dark and of bright on end, as far as ten-minute ages can tell."""
    seen = counts.astype(np.int64)
    dark, bright = seen < settings.dark_counts, seen > settings.bright_counts
    ages_s = [_age_s(run_lengths(held) >= settings.sure_s) for held in (dark, bright)]
    limit_s = settings.age_units * 600
    if max(ages_s) < limit_s - 600:
        return True
    return None if max(ages_s) <= limit_s + 1200 else False


def _age_s(true: NDArray[np.bool_]) -> int:
    found = np.flatnonzero(true)
    return len(true) - int(found[-1]) if len(found) else 10**9


def faults(sight: Sight, moves: list[Move], rows: range) -> list[str]:
    """Every evening of `rows`, and the morning after it, whose moves are not those plan and light ask for, in words."""
    found: list[str] = []
    plan, proven = sight.plan, False
    for row in rows:
        trust = Trust(sight.slack_s, row in sight.doubtful_rows, not proven and row in sight.lit_rows)
        for of_row, evening, word in ((row, True, "down"), (row + 1, False, "up")):
            if of_row >= plan.n_days:
                continue
            asked = side(sight, of_row, evening)
            first_s = of_row * DAY_S + int(plan.noon_min[of_row]) * 60 - (0 if evening else DAY_S)
            done = [move for move in moves if first_s <= move.at_s < first_s + DAY_S and move.wanted == word]
            found += _compare(f"{date_of(plan.first_day + of_row)} {word}", asked, done, evening, trust)
            if evening and asked is not None:
                late = any(move.at_s > asked.until_s for move in done)
                proven = proven or not (late or row in sight.doubtful_rows)
    return found


class Trust(NamedTuple):
    """How closely a day can be judged.

    slack_s   how far the chip's seconds may lie off the plan's
    doubtful   lamps or a sudden storm, where the fall of the light may rightly be disbelieved: the move may come
      anywhere in the window, by the clock not before the planned minute
    lit   a steady lamp before the first plain evening after power-up: the time is not proven, and an evening that
      will not get dark may hold the door up after its window, as long as the lamp burns
    """

    slack_s: int
    doubtful: bool
    lit: bool


@dataclass(frozen=True)
class Sight:
    """What the judge goes by; `counts` of the seconds from the plan's first midnight on, seen from `first_s` on."""

    plan: YearPlan
    settings: DoorSettings
    counts: NDArray[np.uint16]
    slack_s: int
    doubtful_rows: frozenset[int]
    lit_rows: frozenset[int]
    first_s: int


def _compare(name: str, asked: Side | None, done: list[Move], evening: bool, trust: Trust) -> list[str]:
    if asked is None:
        return [f"{name}: {move}, on a day when it stays down" for move in done]
    if len(done) != 1:
        return [f"{name}: {len(done)} moves {done}"]
    move = done[0]
    words = ("dusk", "dusk_limit", "close_minute") if evening else ("dawn", "dawn_limit", "open_minute")
    at_s, reason = asked.wanted(*words)
    if move.reason == reason and abs(move.at_s - at_s) <= trust.slack_s:
        return []
    inside = asked.from_s <= move.at_s <= asked.until_s
    by_clock_too_early = move.reason == words[2] and move.at_s < asked.planned_s
    if trust.doubtful and move.reason in words and inside and not by_clock_too_early:
        return []
    if asked.proven is None and (move.at_s, move.reason) == (asked.planned_s, words[2]):
        return []
    if trust.lit and evening and move.reason in words and asked.until_s < move.at_s <= asked.planned_s + LAMP_S:
        return []
    off_s = move.at_s - asked.planned_s
    return [f"{name}: {move.reason} {off_s} s after the planned second; wanted {reason} at {at_s - asked.planned_s} s"]
