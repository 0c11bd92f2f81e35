"""When each strategy moves the door, for many twilights at once, by the rules of the door's own program.

Light is held for a whole minute and the rules step once a second, so a confirmation of 100 s beginning with minute m
is over in minute m + 1. The clock is taken as proven and the counters as they stand after healthy days; what the
program does when clock or cell is in doubt is not repeated here. Rules E3 to E5 and D2 to D4 of controller/RULES.md.

Twilights with an odd dusk (a fall too sudden, a cell dark for hours) are stepped minute by minute; all others take a
short way that gives the same minute: the first confirmed dark at or after the window's opening.
"""

from dataclasses import dataclass
from enum import IntEnum

import numpy as np

from sunsched.study.passing import Running, confirmed, first_above, last_reaching
from sunsched.study.scene import Bools
from sunsched.study.weather import Floats, Ints, Light

RAMP_LOG = float(np.log10(12.0))  # light twelve times dark_lux is well above any dusk's last minutes
FALL_MIN, QUICK_MIN = 4, 1  # whole minutes since above ramp (240 s) and since bright (45 s) that a natural dusk takes
ROUNDING_LOG = 1e-4  # more than the last bits of any sum of differences
STALE_MIN = 180  # dark for longer than this is a covered cell, not a dusk
AFTER_NOON_MIN = 120  # dark sooner after noon is never dusk
LONG_DARK_MIN = 60  # a door without a clock believes a sudden dark after this long


class Why(IntEnum):
    """What moved the door; NEVER when it did not move."""

    NEVER = 0
    LIGHT = 1
    CLOCK = 2
    LIMIT = 3


@dataclass(frozen=True)
class Levels:
    """Thresholds of each twilight's own cell, as log10 lux of the open sky (n,), and the confirmation [whole minutes].

    Sky view, dirt and the cell's error are taken into the thresholds, so one sky serves every cell.
    """

    dark_log: Light
    light_log: Light
    ramp_log: Light
    wait_min: int

    @classmethod
    def of(cls, dark_lux: float, light_lux: float, cell_log: Floats, confirm_s: int) -> "Levels":
        """Levels of a setting; `cell_log` (n,) is what the cell sees of the sky [log10: view, dirt and error]."""
        dark, light = np.log10(dark_lux) - cell_log, np.log10(light_lux) - cell_log
        ramp = dark + RAMP_LOG
        as_light = [level.astype(np.float32) for level in (dark, light, ramp)]
        return cls(as_light[0], as_light[1], as_light[2], (confirm_s - 1) // 60)

    def part(self, columns: Ints) -> "Levels":
        """The levels of some of the twilights."""
        return Levels(self.dark_log[columns], self.light_log[columns], self.ramp_log[columns], self.wait_min)


@dataclass(frozen=True)
class Window:
    """Minutes in which the cell may act, (n,), as places in the minutes held; the planned minute lies between.

    usable   (n,) the cell has lately seen both dark and light, where the table expects them
    """

    first: Ints
    planned: Ints
    last: Ints
    usable: Bools

    def part(self, columns: Ints) -> "Window":
        """The windows of some of the twilights."""
        return Window(self.first[columns], self.planned[columns], self.last[columns], self.usable[columns])


@dataclass(frozen=True)
class Moves:
    """Place of the minute in which the door moved (n,), -1 for never, and why."""

    place: Ints
    why: Ints


def steep_falls(cell_log: Light, light_over_dark_log: float) -> Bools:
    """Twilights (n,) in which some fall is sudden enough to be no dusk, whatever the threshold in lux."""
    if len(cell_log) < 2:
        return np.zeros(cell_log.shape[1], dtype=np.bool_)
    steepest = (cell_log[:-1] - cell_log[1:]).max(axis=0)
    quick = min(light_over_dark_log, RAMP_LOG)
    found: Bools = steepest > quick
    # A fall of several minutes is too small where none of its minutes falls by its share; what is not known is odd too.
    share = min(quick / QUICK_MIN, RAMP_LOG / FALL_MIN) - ROUNDING_LOG
    odd = np.flatnonzero(~found & ~(steepest <= share))
    light = cell_log[:, odd]
    for minutes in range(1, min(FALL_MIN, len(light) - 1) + 1):
        least = quick if minutes <= QUICK_MIN else RAMP_LOG
        found[odd] |= (light[:-minutes] - light[minutes:]).max(axis=0) > least
    return found


def dusk_in_window(cell_log: Light, settled: Light, steep: Bools, levels: Levels, window: Window) -> Moves:
    """Evenings of a door with clock and cell.

    cell_log (n_min, n) light at the cell [log10 lux of open sky]; settled is `confirmed(cell_log, wait_min, True)`;
    steep is `steep_falls(cell_log, ...)` for these levels
    """
    place, why = _first_in_window(settled, levels.dark_log, window, below=True)
    hours_back = np.maximum(window.first - (STALE_MIN - int((window.last - window.first).max(initial=0))), 0)
    stale = _dark_at(cell_log, levels, window.first) & _dark_at(cell_log, levels, hours_back)
    odd = np.flatnonzero(window.usable & (steep | stale))
    if len(odd):
        stepped = stepped_dusk(cell_log[:, odd], levels.part(odd), window.part(odd), window.first[odd])
        place[odd], why[odd] = stepped.place, stepped.why
    return Moves(place, why)


def dawn_in_window(settled: Light, levels: Levels, window: Window) -> Moves:
    """Mornings of a door with clock and cell: `settled` is `confirmed(skies.cell_log, wait_min, False)`."""
    place, why = _first_in_window(settled, levels.light_log, window, below=False)
    return Moves(place, why)


def falling_from(settled: Light, first: Ints) -> Running:
    """The dimmest confirmed light of each minute and all before it from minute `first` (n,) on."""
    if first.max(initial=0) > 0:
        settled, last = settled.copy(), int(first.max())
        np.copyto(settled[:last], np.inf, where=np.arange(min(last, len(settled)))[:, None] < first)
    return Running.of(settled, np.minimum)


def dusks_by_light(cell_log: Light, falling: Running, steep: Bools, several: list[Levels], first: Ints) -> list[Moves]:
    """Evenings of a door without a clock: the first confirmed dark from minute `first` (n,) on, for several thresholds.

    The door then stays down until the morning. Thresholds share one confirmation.
    falling   `falling_from(settled, first)`
    """
    places = falling.leading(np.array([levels.dark_log for levels in several]), np.greater_equal)
    odd = np.flatnonzero(steep)
    found = []
    for levels, place in zip(several, places, strict=True):
        why = np.where(place < len(cell_log), Why.LIGHT, Why.NEVER)
        if len(odd):
            stepped = stepped_dusk(cell_log[:, odd], levels.part(odd), None, first[odd])
            place[odd], why[odd] = stepped.place, stepped.why
        found.append(Moves(np.where(why == Why.NEVER, -1, place), why))
    return found


def dawns_by_light(settled: Light, several: list[Levels]) -> list[Moves]:
    """Mornings of a door without a clock: the first confirmed light from midnight on, for several thresholds."""
    places = first_above(settled, np.array([levels.light_log for levels in several]))
    seen = places < len(settled)
    whys = np.where(seen, Why.LIGHT, Why.NEVER)
    return [Moves(*pair) for pair in zip(np.where(seen, places, -1), whys, strict=True)]


def lit_again(cell_log: Light, to_come: Running, levels: Levels, closed: Moves) -> Bools:
    """Evenings (n,) on which light is confirmed after the closing, by minutes that all lie after it.

    to_come   `lightest_to_come(cell_log)`
    """
    begin = closed.place + levels.wait_min
    again = np.zeros(len(begin), dtype=np.bool_)
    shut = np.flatnonzero((closed.place >= 0) & (begin < len(cell_log)))
    # Few evenings hold a minute of light after the closing: only of them it is asked whether it is confirmed.
    shut = shut[to_come.at(len(cell_log) - 1 - begin[shut], shut) >= levels.light_log[shut]]
    if len(shut):
        bright = confirmed(cell_log[:, shut], levels.wait_min, False)
        again[shut] = last_reaching(bright, levels.light_log[shut]) > begin[shut]
    return again


def _first_in_window(settled: Light, level: Light, window: Window, below: bool) -> tuple[Ints, Ints]:
    """First minute of each window past the level, else its last; with no usable cell the planned minute."""
    n_min, n = settled.shape
    length = window.last - window.first
    minute = np.arange(max(int(length.max(initial=0)), 1))[:, None]
    at = minute + window.first
    np.clip(at, 0, n_min - 1, out=at)
    at *= n
    at += np.arange(n)
    inside = settled.reshape(-1).take(at, mode="clip")
    met = (inside < level) if below else (inside > level)
    met &= minute < length
    place = met.argmax(axis=0)
    any_met = met[place, np.arange(n)]
    first = np.where(any_met, window.first + place, window.last)
    place = np.where(window.usable, first, window.planned)
    why = np.where(window.usable, np.where(first < window.last, Why.LIGHT, Why.LIMIT), Why.CLOCK)
    return place, why


def _dark_at(cell_log: Light, levels: Levels, place: Ints) -> Bools:
    at = np.clip(place, 0, len(cell_log) - 1)
    dark: Bools = cell_log[at, np.arange(len(place))] < levels.dark_log
    return dark


def stepped_dusk(cell_log: Light, levels: Levels, window: Window | None, first: Ints) -> Moves:
    """The rules minute by minute from `first` (n,) on; without a window, those of a door that has no clock."""
    n = len(levels.dark_log)
    place, why = np.full(n, -1, dtype=np.int64), np.full(n, int(Why.NEVER), dtype=np.int64)
    run, since_ramp, since_light = np.zeros(n, dtype=np.int64), np.full(n, 999), np.full(n, 999)
    natural = np.ones(n, dtype=np.bool_)
    begin, end = 0, len(cell_log)
    if window is not None:  # nothing before the longest dusk that is still believed matters
        begin = max(int(window.first.min()) - STALE_MIN - FALL_MIN - 2, 0)
        end = min(int(window.last.max()) + 1, end)
    light_why, clock_why, limit_why = int(Why.LIGHT), int(Why.CLOCK), int(Why.LIMIT)
    for minute in range(begin, end):
        light = cell_log[minute]
        dark = light < levels.dark_log
        run = np.where(dark, run + 1, 0)
        enters = run == 1
        natural = np.where(enters, (since_ramp >= FALL_MIN) & (since_light >= QUICK_MIN), natural)
        since_ramp = np.where(light > levels.ramp_log, 0, since_ramp + 1)
        since_light = np.where(light > levels.light_log, 0, since_light + 1)
        ready = dark & (run > levels.wait_min)
        if window is None:
            by_light = ready & (natural | (run >= LONG_DARK_MIN)) & (minute >= first)
            by_clock = by_limit = np.zeros(n, dtype=np.bool_)
        else:
            stale = run > STALE_MIN
            # At the window's end its first second decides, before a confirmation that ends in that minute.
            acting = (minute >= first) & (minute < window.last)
            by_light = ready & natural & ~stale & window.usable & acting
            doubtful = ~window.usable | (dark & (stale | ~natural))
            by_clock = doubtful & (minute >= window.planned)
            by_limit = minute >= window.last
        moves = (place < 0) & (by_light | by_clock | by_limit)
        reason = np.where(by_light, light_why, np.where(by_clock, clock_why, limit_why))
        place, why = np.where(moves, minute, place), np.where(moves, reason, why)
        if minute % 16 == 0 and (place >= 0).all():
            break
    if window is not None:
        place, why = np.where(place < 0, window.last, place), np.where(place < 0, limit_why, why)
    return Moves(place, why)
