"""The `replay` command's work: a recorded light log run through light alone, clock alone, and both.

It states a site's offset from the clear-sky model as keys of the configuration.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import asdict, dataclass, field, replace
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from sunsched.base import cautions
from sunsched.base.civil_time import DAY_MIN, date_of, iso_utc, month_day, zone_of
from sunsched.base.errors import LogError
from sunsched.base.rounding import printed_values
from sunsched.config.configuration import Configuration
from sunsched.hardware.light_cell import divider_counts, top_count
from sunsched.hardware.parts import LightCell
from sunsched.job.logs.door_nights import DoorNight, civil_clock, door_nights
from sunsched.job.logs.settling import SettledLog, settled
from sunsched.job.pipeline import span_of
from sunsched.plan.rules import MomentRule
from sunsched.plan.year import YearPlan
from sunsched.study import light_log
from sunsched.study.calibration import EveningFit, calibration, evening_fits, parted, rough_offset_log
from sunsched.study.log_clock import FILL_MIN
from sunsched.study.log_light import STRATEGIES, LoggedHalfDays, logged_half_days, lux_of, moves_of
from sunsched.study.scene import HalfDays, scene_of
from sunsched.study.trial import Moves, Why


@dataclass(frozen=True)
class Proposed:
    """A threshold set so that it is met at the true light: the reading [lux] and its counts, with their range."""

    key: str
    true_lux: float
    reading_lux: float
    low_lux: float
    high_lux: float
    counts: int | None
    counts_low: int | None
    counts_high: int | None


@dataclass(frozen=True)
class Offset:
    """What the cell in its place reads against the clear sky, as a factor, with two standard errors either way.

    clock_fast_min   how far the log's clock is ahead, parted from the cell by dusk and dawn together; None where the
      log has too few clear mornings: then the clock is right to a few minutes, and the factor's range holds that
    minute_as_factor   what a minute of the clock would count as, at dusk
    """

    factor: float
    factor_low: float
    factor_high: float
    sd_log10: float
    se_log10: float
    clear_evenings: tuple[str, ...]
    evenings: int
    proposed: tuple[Proposed, ...]
    paste: str
    clock_fast_min: float | None = None
    clock_low_min: float | None = None
    clock_high_min: float | None = None
    minute_as_factor: float = 1.0

    @property
    def clock_is_off(self) -> bool:
        """Dusk and dawn together tell that the log's clock is wrong."""
        low, high = self.clock_low_min, self.clock_high_min
        return low is not None and high is not None and not low <= 0.0 <= high

    def plain(self) -> dict[str, Any]:
        """Plain values, for JSON."""
        return asdict(self)


def offset_of(
    cell: LightCell, fits: list[tuple[int, EveningFit]], dawns: list[tuple[int, EveningFit]]
) -> Offset | None:
    """The offset and the thresholds that allow for it; fits of evenings and mornings with their day numbers.

    None with too few clear evenings.
    """
    clear = calibration([replace(fit, row=k) for k, (_, fit) in enumerate(fits)])
    if clear is None:
        return None
    slope = float(np.mean([fit.slope_log_min for _, fit in fits]))
    found = parted(clear, calibration([fit for _, fit in dawns]), slope)
    two = 10 ** (2 * found.se_log)
    fast, error = found.clock_fast_min, found.clock_se_min
    known = fast is not None and error is not None
    offsets = {"dark_lux": found.dark_log, "light_lux": found.light_log}
    proposed = tuple(_proposed(cell, key, getattr(cell, key), 10**off, two) for key, off in offsets.items())
    factor = 10**found.dark_log
    return Offset(
        factor=factor,
        factor_low=factor / two,
        factor_high=factor * two,
        sd_log10=clear.sd_log,
        se_log10=found.se_log,
        clear_evenings=tuple(date_of(fits[k][0]).isoformat() for k in clear.evenings),
        evenings=len(fits),
        proposed=proposed,
        paste=_paste(cell, proposed, factor),
        clock_fast_min=fast,
        clock_low_min=fast - 2 * error if known else None,  # type: ignore[operator]
        clock_high_min=fast + 2 * error if known else None,  # type: ignore[operator]
        minute_as_factor=10**slope,
    )


def _proposed(cell: LightCell, key: str, true_lux: float, factor: float, two: float) -> Proposed:
    reading = true_lux * factor
    lux = (reading, reading / two, reading * two)
    counts: tuple[int | None, ...] = (None, None, None)
    if cell.kind == "photoresistor":
        part = (cell.r10_ohm, cell.gamma, cell.fixed_ohm, cell.adc_steps)
        counts = tuple(int(divider_counts(value, *part)) for value in lux)
    return Proposed(key, true_lux, *lux, *counts)


def _paste(cell: LightCell, proposed: tuple[Proposed, ...], factor: float) -> str:
    if cell.kind == "photoresistor":
        # a cell that reads `factor` times too much has less resistance at 10 lux than configured, by factor^-gamma
        return f"[light_cell]\nr10_ohm = {float(f'{cell.r10_ohm * factor**-cell.gamma:.3g}'):.0f}\n"
    lines = "".join(f"{one.key} = {float(f'{one.reading_lux:.3g}'):g}\n" for one in proposed)
    return f"[light_cell]\n{lines}"


CHUNK_DAYS = 366
NEVER_AFTER_MIN = 120  # with light in the log for two hours more, a strategy that has not acted is said never to
DEFAULT_WINDOW_MIN = (-10, 15)  # tried where the configuration leaves the cell no minutes of its own: simulated
WORDS = {Why.NEVER: "never", Why.LIGHT: "light", Why.CLOCK: "clock", Why.LIMIT: "limit"}
FAR_OFF_LOG, HOPELESS_LOG = 1.2, 2.0  # weather and a cell's error together stay within a factor of 16


@dataclass(frozen=True)
class Did:
    """What a strategy would have done: when, how many minutes after the planned one, and what decided."""

    utc: str | None
    civil: str | None
    after_planned_min: int | None
    why: str


@dataclass(frozen=True)
class Twilight:
    """One evening or morning of the log; `did` is empty where the log has no light around the planned minute."""

    date: str
    side: str
    planned_civil: str
    lux_at_planned: float | None
    did: dict[str, Did]
    door: Did | None = None


@dataclass
class Replay:
    """Everything `replay` reports."""

    settled: SettledLog
    window_min: dict[str, tuple[int, int]]
    window_assumed: bool
    twilights: list[Twilight] = field(default_factory=list)
    not_judged: int = 0
    offset: Offset | None = None
    warnings: list[str] = field(default_factory=list)
    nights: list[DoorNight] = field(default_factory=list)

    def summary(self) -> dict[str, dict[str, dict[str, Any]]]:
        """For each side and strategy: how many, never, and minutes after the planned one (10, 50, 90 %, extremes)."""
        return {side: {name: self._of(side, name) for name in STRATEGIES} for side in ("evening", "morning")}

    def _of(self, side: str, name: str) -> dict[str, Any]:
        did = [one.did[name] for one in self.twilights if one.side == side and name in one.did]
        after = [one.after_planned_min for one in did if one.after_planned_min is not None]
        cuts = [float(np.quantile(after, share)) for share in (0.1, 0.5, 0.9)] if after else [None] * 3
        return {
            "judged": len(did),
            "never": len(did) - len(after),
            "after_planned_min": dict(zip(("p10", "median", "p90"), cuts, strict=True)),
            "earliest_min": min(after, default=None),
            "latest_min": max(after, default=None),
        }

    def plain(self) -> dict[str, Any]:
        """The replay as plain values, for JSON."""
        log, found = self.settled.log, self.settled.found
        values = {
            "nights": [asdict(night) for night in self.nights],
            "log": {
                "rows": log.rows,
                "bad_rows": log.bad_rows,
                "interval_min": log.interval_min,
                "unit": self.settled.unit,
                "unit_from": self.settled.unit_from,
                "clock": self.settled.clock.name,
                "clock_from": self.settled.clock_from,
                "nights": found.n_nights,
                "clock_off_min": found.off_min if found.n_nights else None,
                "clock_spread_min": found.spread_min if found.n_nights else None,
                "gaps": len(log.gaps),
                "steps_back": len(log.steps_back),
                "first_date": date_of(min(log.days)).isoformat(),
                "last_date": date_of(max(log.days)).isoformat(),
            },
            "window_min": {side: list(pair) for side, pair in self.window_min.items()},
            "window_assumed": self.window_assumed,
            "summary": self.summary(),
            "not_judged": self.not_judged,
            "offset": None if self.offset is None else self.offset.plain(),
            "twilights": [asdict(one) for one in self.twilights],
            "warnings": list(self.warnings),
            "cautions": list(cautions.REPLAY),
        }
        return dict(printed_values(values))


def replay_of(
    configuration: Configuration,
    path: Path,
    name: str = "",
    unit: str | None = None,
    zone: str | None = None,
    column: str | None = None,
) -> Replay:
    """A light log at `path` ("-": stdin) run through the strategies with the configuration's rules and thresholds.

    unit "lux" or "counts"; zone "civil", "chip", "utc" or an offset; column the heading of the light's column
    Raises LogError (damaged, or stated what cannot be true of it), MissingFileError, UsageError, ConfigError.
    """
    log = light_log.read(path, column)
    first = min(log.days)
    chip_offset_min = chip_offset_of(configuration, first)
    found = settled(log, configuration, chip_offset_min, unit, zone)
    windows, assumed = _windows(configuration)
    replay = Replay(found, windows, assumed, warnings=list(found.warnings))
    fits: dict[bool, list[tuple[int, EveningFit]]] = {True: [], False: []}
    rough: list[float] = []
    for start, n_days in chunks(sorted(log.days)):
        plan = span_of(configuration, start, n_days, name)
        _replay_span(replay, configuration, plan, rough, fits)
        if log.chip is not None:
            replay.nights += door_nights(log.chip.events, plan, found.clock)
    _check_offset(replay, rough)
    replay.offset = offset_of(configuration.light_cell, fits[True], fits[False])
    if replay.offset is not None and replay.offset.clock_is_off:
        replay.warnings.append(
            f"dusk and dawn together say that the log's clock is {replay.offset.clock_fast_min:+.0f} min fast "
            f"({replay.offset.clock_low_min:+.0f} .. {replay.offset.clock_high_min:+.0f}): set it, or state --zone"
        )
    replay.twilights.sort(key=lambda one: (one.date, one.side == "evening"))
    return replay


def chip_offset_of(configuration: Configuration, day: int) -> int:
    """The chip's offset from UTC [minutes] in the year of a day number."""
    if configuration.chip.keeps == "utc":
        return 0
    year_first = int(np.datetime64(date_of(day), "Y").astype("datetime64[D]").astype(np.int64))
    return zone_of(configuration.site.zone).standard_offset_min(year_first, 365)


def chunks(days: list[int]) -> Iterator[tuple[int, int]]:
    """Spans of days that cover all dates of the log, no longer than a year and without long empty stretches."""
    first = last = days[0]
    for day in days[1:]:
        if day - last > 30 or day - first >= CHUNK_DAYS:
            yield first, last - first + 1
            first = day
        last = day
    yield first, last - first + 1


def _windows(configuration: Configuration) -> tuple[dict[str, tuple[int, int]], bool]:
    rules = {"evening": configuration.evening, "morning": configuration.morning}
    given = {side: (rule.cell_from_min, rule.cell_until_min) for side, rule in rules.items()}
    if any(pair != (0, 0) for pair in given.values()):
        return given, False
    return dict.fromkeys(rules, DEFAULT_WINDOW_MIN), True


def _row_windows(
    replay: Replay, configuration: Configuration, plan: YearPlan, side: str
) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """The minutes (n,) in which the cell may act, seasons included."""
    first = np.full(plan.n_days, replay.window_min[side][0], np.int64)
    last = np.full(plan.n_days, replay.window_min[side][1], np.int64)
    if replay.window_assumed:
        return first, last
    date = month_day(plan.days)
    for variant in configuration.rules.variants()[1:]:
        rule: MomentRule = getattr(variant, side)
        for low, high in variant.spans:
            rows = (low <= date) & (date <= high)
            first[rows], last[rows] = rule.cell_from_min, rule.cell_until_min
    return first, last


def _replay_span(
    replay: Replay,
    configuration: Configuration,
    plan: YearPlan,
    rough: list[float],
    fits: dict[bool, list[tuple[int, EveningFit]]],
) -> None:
    cell, scene = configuration.light_cell, scene_of(plan)
    midnight = plan.days.astype(np.float64) * DAY_MIN - plan.chip_offset_min
    for half in (scene.morning, scene.evening):
        found = replay.settled
        logged = logged_half_days(found.log, found.unit, found.clock, cell, half, midnight)
        moves = moves_of(logged, cell, *_row_windows(replay, configuration, plan, _side(half)))
        _gather(replay, plan, logged, moves, midnight)
        least, most = readable_lux(configuration, found.unit, found.log.greatest)
        levels = (cell.dark_lux, cell.light_lux, cell.sky_view)
        own = evening_fits(logged, *levels, least, most)
        fits[half.evening] += [(plan.first_day + fit.row, fit) for fit in own]
        if half.evening:
            off = rough_offset_log(logged, *levels)
            rough += [] if off is None else [off]


def _side(half: HalfDays) -> str:
    return "evening" if half.evening else "morning"


def readable_lux(configuration: Configuration, unit: str, greatest: float) -> tuple[float, float]:
    """The range of light with distinct readings: three steps from either end of the ADC, or the log's top."""
    cell = configuration.light_cell
    if unit == "lux":
        return 0.05, greatest * 0.95
    edges = lux_of(np.array([3.0, top_count(cell.adc_steps) - 3.0]), unit, cell)
    return float(edges[0]), float(edges[1])


def _gather(
    replay: Replay, plan: YearPlan, logged: LoggedHalfDays, moves: dict[str, Moves], midnight: NDArray[np.float64]
) -> None:
    half = logged.half
    doors = _door_moves(replay, half.evening)
    for row in range(half.n_days):
        if np.isnan(half.planned_min[row]) or not logged.known[:, row].any():
            continue
        planned_utc = float(midnight[row] + half.planned_min[row])
        date = date_of(plan.first_day + row).isoformat()
        start = float(midnight[row] + half.start_min[row])
        did, lux = {}, None
        if logged.judged[row]:
            at = int(half.planned_min[row] - half.start_min[row])
            lux = float(10 ** logged.lux_log[min(max(at, 0), len(logged.lux_log) - 1), row])
            did = {
                name: _did(plan, start, move, row, planned_utc)
                for name, move in moves.items()
                if _decided(logged, move, row)
            }
        else:
            replay.not_judged += 1
        door = next((one for one in doors if 0 <= one[0] - start < len(logged.lux_log)), None)
        own = None if door is None else _moved(plan, door[0], planned_utc, door[1])
        planned = civil_clock(plan, planned_utc)
        replay.twilights.append(Twilight(date, _side(half), planned, lux, did, own))


def _decided(logged: LoggedHalfDays, move: Moves, row: int) -> bool:
    """False where a strategy had not acted while the log had light: what came later is not in the log."""
    last = len(logged.known) - 1 - int(logged.known[::-1, row].argmax())
    at = int(move.place[row])
    planned = int(logged.half.planned_min[row] - logged.half.start_min[row])
    return at <= last if at >= 0 else last >= min(planned + NEVER_AFTER_MIN, len(logged.known) - FILL_MIN)


def _did(plan: YearPlan, start_utc: float, move: Moves, row: int, planned_utc: float) -> Did:
    if move.place[row] < 0:
        return Did(None, None, None, "never")
    return _moved(plan, start_utc + int(move.place[row]), planned_utc, WORDS[Why(int(move.why[row]))])


def _moved(plan: YearPlan, utc_min: float, planned_utc: float, why: str) -> Did:
    return Did(iso_utc(utc_min), civil_clock(plan, utc_min), int(np.floor(utc_min - planned_utc)), why)


def _door_moves(replay: Replay, evening: bool) -> list[tuple[float, str]]:
    """What the door's own log says it did: moments [utc_min] and reasons."""
    record = replay.settled.log.chip
    wanted = "lower" if evening else "raise"
    moves = record.moves if record is not None else []
    return [(replay.settled.clock.utc_min(move.chip_min), move.reason) for move in moves if move.move == wanted]


def _check_offset(replay: Replay, rough: list[float]) -> None:
    """Refuse, or warn of, light that no sky gives at that time: a wrong clock, unit, column or resistor."""
    if not rough:
        return
    off = float(np.median(rough))
    name = replay.settled.log.name
    text = (
        f"at dusk the log reads {10 ** abs(off):.3g} times {'more' if off > 0 else 'less'} than a clear sky gives the"
        " cell: a wrong clock (--zone), unit (--unit), column, resistor or sky_view"
    )
    if abs(off) > HOPELESS_LOG and not replay.settled.found.n_nights:
        raise LogError(f"{name}: {text}")
    if abs(off) > FAR_OFF_LOG:
        replay.warnings.append(text)
