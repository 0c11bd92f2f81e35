"""All of the battery's figures and verdicts for one place and panel, over many winters, and their words."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from sunsched.base import cautions
from sunsched.base.civil_time import MONTH_NAMES
from sunsched.base.rounding import rounded
from sunsched.hardware.battery import (
    Winters,
    battery_results,
    battery_spans,
    chance_with_limits,
    cold_of,
    hits_of,
    irradiation_kwh,
    panel_ah_from,
    panel_ah_of,
    winters_of,
)
from sunsched.hardware.figures import (
    Assumption,
    Figure,
    Inputs,
    Number,
    Span,
    Verdict,
    drawn,
    exactly,
    judged,
    propagated,
    turning_values,
    values_of,
    verdict,
)
from sunsched.hardware.model import MODEL, Model
from sunsched.hardware.parts import Battery
from sunsched.hardware.solar_input import Panel, PanelYear, month_of_row, panel_kwh, panel_year

I_T = "I t"
# group, name, label, unit, formula and source
ROWS: tuple[tuple[str, str, str, str, str], ...] = (
    ("used each day", "moves_ah", "one raising and one lowering", "Ah", "sum of I t"),
    ("used each day", "board_ah", "board, asleep and awake", "Ah", I_T),
    ("used each day", "sensor_ah", "light cell", "Ah", I_T),
    ("used each day", "driver_ah", "motor driver at rest", "Ah", I_T),
    ("used each day", "controller_ah", "charge controller", "Ah", I_T),
    ("used each day", "self_discharge_ah", "self-discharge, full battery", "Ah", "3 %/month AGM at 20 C: Victron"),
    ("used each day", "used_ah", "together", "Ah", "sum"),
    ("without Sun", "cold_share", "share of capacity left by the cold", "", "typical datasheet, from memory"),
    ("without Sun", "usable_ah", "charge down to the depth limit", "Ah", "capacity x usable share x cold"),
    ("without Sun", "autonomy_days", "days to the depth limit", "days", "charge / use"),
    ("without Sun", "flat_after_days", "days until the door stops", "days", "capacity x cold / use"),
    ("worst month", "irradiation_kwh", "Sun on the panel", "kWh/m2/day", "H0 K, Erbs 1982, Liu & Jordan 1962"),
    ("worst month", "gain_ah", "charge from the panel", "Ah/day", "W x kWh/m2 x yield / V"),
    ("worst month", "gain_over_use", "charge gained over charge used", "", "1.3 to 1.4 asked: IEEE 1562, from memory"),
)


CHANGES_HELP = "sunsched battery advises sizes that hold together; its --all shows what each change does."
NO_CHANGE_HELPS = (
    "No change by itself helps: several together may, as sunsched battery advises, or a charged spare battery or "
    "another supply for the dark weeks."
)


def battery_figures(results: Mapping[str, Span]) -> tuple[Figure, ...]:
    """The results in reading order with their names and formulas; those without a result are left out."""
    return tuple(Figure(group, name, label, results[name], unit, how) for group, name, label, unit, how in ROWS)


def at_disconnect(results: Mapping[str, Span]) -> tuple[str, ...]:
    """What the door does as the battery runs down; the keeper has to decide it beforehand."""
    lowering_mah = 1000.0 * results["moves_ah"].high
    return (
        "Battery low (about 11.8 V at rest): an alarm only; both moves go on.",
        "Nearly out (about 11.3 V, or the supply sags below the motor's least voltage): the door is lowered at its "
        f"planned time as usual, with gravity's help. It is not raised unless one more lowering, at most "
        f"{lowering_mah:.1f} mAh, is left; after one day shut it opens.",
        "Cut off: no motor, no clock, no alarm. The door stays as it is. Cut off by day, it stays open all night; cut "
        "off by night, it stays shut, and birds locked in need water and air.",
        "A clock with its own cell keeps the time through it; without one the chip starts again without the time.",
        "Settle it now: keep a charged spare, let the controller's alarm reach you, and leave water inside.",
    )


def autonomy_texts(days: Span, asked: float) -> tuple[str, str, str]:
    """Good and bad text for the days without Sun, and what to do."""
    stated = f"{days.value:.1f} days ({days.low:.1f} .. {days.high:.1f}) without Sun before the depth limit"
    return (
        f"{stated}; {asked:.0f} are asked.",
        f"{stated}, {asked:.0f} are asked: a dull week may end it.",
        "A board that sleeps deeper often helps more than a greater battery.",
    )


def worst_month_texts(month: str, ratio: Span, asked: float) -> tuple[str, str, str]:
    """Good and bad text for the month with least gain, and what to do."""
    stated = f"in {month} the panel gives {ratio.value:.1f} ({ratio.low:.1f} .. {ratio.high:.1f}) times what is used"
    return (
        f"{stated}; {asked:.1f} is asked.",
        f"{stated}, {asked:.1f} is asked: the battery may run down through the month.",
        "Use less, turn or tilt the panel better, or fit a greater one.",
    )


def winter_verdict(
    name: str, state: str, turning: tuple[str, ...], counts: tuple[int, int, int], fewest: int
) -> Verdict:
    """The verdict on many winters: `counts` are hits at the stated inputs, hits with inputs drawn, winters.

    `fewest` are the hits that the best of the changes leaves.
    """
    stated, drawn, n_years = counts
    happens = "the depth limit is passed" if name == "depth limit" else "the battery is flat and the door stops"
    text = (
        f"{happens} in {stated} of {n_years} winters with the inputs as stated, and in {drawn} of {n_years} with the "
        "inputs drawn from their ranges."
    )
    if state == "holds":
        return Verdict(name, state, turning, text)
    to_do = CHANGES_HELP if fewest < stated or not stated else NO_CHANGE_HELPS
    return Verdict(name, state, turning, f"{text} {to_do}", to_do=to_do)


Array = NDArray[np.float64]

AUTONOMY_ASKED_DAYS = Span(5.0, 5.0, 7.0)  # remote sites 5-10 days, high reliability 7-14: IEEE 1013, from memory
GAIN_ASKED = Span(1.3, 1.1, 1.4)  # array-to-load ratio 1.1-1.2, critical 1.3-1.4: IEEE 1562, from memory
WINTERS_SPARED = 0.05  # one flat winter in twenty: judged, no source
DRAW_SEED = 20
VERDICTS = ("depth limit", "flat battery", "days without Sun", "worst month")
MEMORY = "model.day_memory"
# The inputs that the panel's charge hangs on; the others leave it as it is.
OF_THE_PANEL = frozenset(
    ("battery.panel_w", "battery.panel_yield", "battery.ground_reflectance", "battery.volts", "clearness", "sky_model")
) | {MEMORY}
CASES_AT_ONCE = 8  # with a charge of their own: as many as the processor's cache holds
Key = tuple[tuple[str, float], ...]


@dataclass(frozen=True)
class Weather:
    """The weather of the battery's years.

    clearness  each day, (n_years, n_days), drawn with the model's own memory
    warmer_c   above the coldest weeks, each day [deg C], (n_days,)
    is_given   False where the climate was assumed
    redraw     the same years by the same random numbers, for another memory from day to day (a number, or one for
      each year (n_years,)); None where the days were measured
    """

    clearness: Array
    warmer_c: Array
    is_given: bool
    redraw: Callable[[Number], Array] | None = None

    def remembering(self, memory: Number) -> Array:
        """The clearness with another memory from day to day."""
        return self.clearness if self.redraw is None else self.redraw(memory)


@dataclass(frozen=True)
class Place:
    """Where the panel stands: latitude and the hills round it [degrees]."""

    latitude_deg: float
    skyline_azimuth_deg: tuple[float, ...] = ()
    skyline_altitude_deg: tuple[float, ...] = ()


@dataclass(frozen=True)
class Change:
    """What one change would do, the rest staying as it is."""

    settings: Mapping[str, float]
    autonomy_days: float
    gain_over_use: float
    n_over_limit: int
    n_flat: int


@dataclass(frozen=True)
class BatterySums:
    """Everything `battery` shows.

    stated, drawn    winters with the inputs as stated, and drawn from their ranges
    limit_held_ah, flat_held_ah   charge held at the depth limit and at a flat battery in that day's cold, (n_days,)
    """

    figures: tuple[Figure, ...]
    verdicts: tuple[Verdict, ...]
    assumptions: tuple[Assumption, ...]
    used_ah: Mapping[str, float]
    worst_month: str
    start_row: int
    limit_held_ah: Array
    flat_held_ah: Array
    stated: Winters
    drawn: Winters
    changes: tuple[Change, ...]
    at_disconnect: tuple[str, ...]
    cautions: tuple[str, ...]

    def figure(self, name: str) -> Span:
        """The value and range of the figure called `name`."""
        return next(figure.span for figure in self.figures if figure.name == name)

    @property
    def typical(self) -> int:
        """The median weather year by its least charge."""
        return int(np.argsort(self.stated.outcome.lowest_ah, kind="stable")[self.stated.n_years // 2])

    @property
    def worst(self) -> int:
        """The weather year with the least charge of all."""
        return int(np.argmin(self.stated.outcome.lowest_ah))

    def chance(self, n_hits: int) -> tuple[float, float, float]:
        """Chance per winter with its 95 % limits."""
        return chance_with_limits(n_hits, self.stated.n_years)


@dataclass(frozen=True)
class _Case:
    """One battery in one place and weather."""

    battery: Battery
    place: PanelYear
    weather: Weather
    spans: Mapping[str, Span]
    start_row: int
    month_rows: NDArray[np.bool_]
    # What was worked out: charges by the panel's inputs, winters by all inputs. Most inputs are moved one at a time.
    _of_month: dict[Key, tuple[float, float]] = field(default_factory=dict)
    _offered: dict[Key, Array] = field(default_factory=dict)
    _known: dict[Key, tuple[int, int]] = field(default_factory=dict)

    def winters(self, x: Inputs) -> Winters:
        clearness = self.weather.clearness
        memory = x.get(MEMORY, self.spans[MEMORY].value)
        if np.any(np.asarray(memory) != self.spans[MEMORY].value):
            clearness = self.weather.remembering(memory)
        return winters_of(x, self.place, clearness, self.weather.warmer_c, self.start_row)

    def offered(self, x: Inputs) -> Array:
        """The panel's charge of every day [Ah], (n_years, n_days), for inputs that are single numbers."""
        key = _panel_key(x)
        if key not in self._offered:
            if len(self._offered) > 1:  # the stated one, and the last
                del self._offered[next(reversed(self._offered))]
            self._offered[key] = self._offer(x)
        return self._offered[key]

    def _offer(self, x: Inputs) -> Array:
        clearness, memory = self.weather.clearness, x.get(MEMORY, self.spans[MEMORY].value)
        if np.any(np.asarray(memory) != self.spans[MEMORY].value):
            clearness = self.weather.remembering(memory)
        return panel_ah_of(x, self.place, clearness)

    def hits(self, x: Inputs) -> tuple[int, int]:
        """Winters past the depth limit and winters flat, for inputs that are single numbers."""
        key = tuple(x.items())
        if key not in self._known:
            over, flat = hits_of(x, self.offered(x), self.weather.warmer_c, self.start_row)
            self._known[key] = int(over.sum()), int(flat.sum())
        return self._known[key]

    def hits_at(self, moved: Sequence[tuple[str, float]]) -> list[tuple[int, int]]:
        """The same with each of these inputs moved by itself, many at a time."""
        values = values_of(self.spans)
        by_panel = [move for move in moved if move[0] in OF_THE_PANEL]
        others = [move for move in moved if move[0] not in OF_THE_PANEL]
        self._note_hits(values, others, self.offered(values))
        for first in range(0, len(by_panel), CASES_AT_ONCE):
            part = by_panel[first : first + CASES_AT_ONCE]
            self._note_hits(values, part, np.stack([self._offer({**values, key: end}) for key, end in part]))
        return [self.hits({**values, key: end}) for key, end in moved]

    def _note_hits(self, values: Inputs, moved: Sequence[tuple[str, float]], offered: Array) -> None:
        if not moved:
            return
        x = {name: np.full((len(moved), 1), value) for name, value in values.items()}
        for place, (key, end) in enumerate(moved):
            x[key][place] = end
        over, flat = hits_of(x, offered, self.weather.warmer_c, self.start_row)
        counts = zip(over.sum(axis=1).tolist(), flat.sum(axis=1).tolist(), strict=True)
        for (key, end), hits in zip(moved, counts, strict=True):
            self._known[tuple({**values, key: end}.items())] = hits

    @cached_property
    def _month(self) -> tuple[PanelYear, Array]:
        """The worst month's days: the panel's place and the clearness."""
        rows, whole = self.month_rows, self.place
        place = replace(
            whole, level_kwh=whole.level_kwh[rows], sunset_deg=whole.sunset_deg[rows], beam=whole.beam[rows]
        )
        return place, self.weather.clearness[:, rows]

    def results(self, x: Inputs) -> dict[str, Number]:
        """Every figure, those of the worst month included."""
        base, key = battery_results(x), _panel_key(x)
        if key not in self._of_month:
            sun_kwh = irradiation_kwh(x, *self._month)
            self._of_month[key] = float(panel_ah_from(x, sun_kwh).mean()), float(sun_kwh.mean())
        gain, mean_kwh = self._of_month[key]
        return {**base, "irradiation_kwh": mean_kwh, "gain_ah": gain, "gain_over_use": gain / base["used_ah"]}


def _panel_key(x: Inputs) -> Key:
    return tuple((name, x[name]) for name in sorted(OF_THE_PANEL) if name in x)


def _case(battery: Battery, moves: Span, where: Place, weather: Weather, model: Model = MODEL) -> _Case:
    panel = Panel(
        battery.panel_tilt_deg,
        battery.panel_azimuth_deg,
        where.skyline_azimuth_deg,
        where.skyline_altitude_deg,
    )
    n_days = weather.clearness.shape[1]
    place = panel_year(panel, where.latitude_deg, n_days)
    spans, _ = _spans(battery, moves, weather, model)
    month = month_of_row(n_days)
    daily = panel_kwh(place, weather.clearness, battery.ground_reflectance).mean(axis=0)
    worst = int(np.argmin([daily[month == m].mean() for m in range(12)]))
    return _Case(battery, place, weather, spans, int(np.argmax(place.level_kwh)), month == worst)


def _spans(
    battery: Battery, moves: Span, weather: Weather, model: Model
) -> tuple[dict[str, Span], tuple[Assumption, ...]]:
    """Inputs and assumptions; days that were measured have the memory that they have."""
    spans, assumed = battery_spans(battery, moves, weather.is_given, model)
    if weather.redraw is None:
        spans[MEMORY] = exactly(spans[MEMORY].value)
        assumed = tuple(one for one in assumed if one.key != MEMORY)
    return spans, assumed


def battery_sums(
    battery: Battery, moves_ah_per_day: Span, where: Place, weather: Weather, model: Model = MODEL
) -> BatterySums:
    """Figures, verdicts and winters of a battery, and what changes would do.

    moves_ah_per_day   charge of one raising and one lowering [Ah], from the drive's sums
    Raises RangeError where a clearness is outside 0 to 0.85.
    """
    case = _case(battery, moves_ah_per_day, where, weather, model)
    _, assumptions = _spans(battery, moves_ah_per_day, weather, model)
    results = propagated(case.results, case.spans)
    stated = case.winters(values_of(case.spans))
    with_ranges = case.winters(drawn(case.spans, stated.n_years, DRAW_SEED))
    cold = cold_of(values_of(case.spans), weather.warmer_c)
    month = MONTH_NAMES[int(month_of_row(weather.clearness.shape[1])[case.month_rows.argmax()])]
    changes = tuple(_changes(battery, moves_ah_per_day, where, weather, model))
    used = {name: results[name].value for name in ("moves_ah", "board_ah", "sensor_ah", "driver_ah", "controller_ah")}
    return BatterySums(
        figures=battery_figures(results),
        verdicts=(
            *_winter_verdicts(case, stated, with_ranges, changes[1:]),
            *_verdicts(case, results, month),
        ),
        assumptions=assumptions,
        used_ah=used,
        worst_month=month,
        start_row=case.start_row,
        limit_held_ah=battery.capacity_ah * (1.0 - battery.usable_share * cold),
        flat_held_ah=battery.capacity_ah * (1.0 - cold),
        stated=stated,
        drawn=with_ranges,
        changes=changes,
        at_disconnect=at_disconnect(results),
        cautions=cautions.BATTERY,
    )


def open_verdicts(
    battery: Battery,
    moves_ah_per_day: Span,
    where: Place,
    weather: Weather,
    model: Model = MODEL,
    names: tuple[str, ...] = VERDICTS,
) -> tuple[str, ...]:
    """Those of `names` whose verdict does not hold, without figures and changes; the winters take longest."""
    case = _case(battery, moves_ah_per_day, where, weather, model)
    states: dict[str, str] = {}
    if set(names) & set(VERDICTS[:2]):
        stated = case.winters(values_of(case.spans))
        with_ranges = case.winters(drawn(case.spans, stated.n_years, DRAW_SEED))
        states |= {name: state for name, state, _ in _winter_states(case, stated, with_ranges)}
    asked = _asked(case)
    states |= {name: judged(margin, asked)[0] for name, margin in _margins(case).items() if name in names}
    return tuple(name for name, state in states.items() if state != "holds" and name in names)


def _asked(case: _Case) -> dict[str, Span]:
    return {**case.spans, "autonomy asked": AUTONOMY_ASKED_DAYS, "gain asked": GAIN_ASKED}


def _margins(case: _Case) -> dict[str, Callable[[Inputs], float]]:
    return {
        "days without Sun": lambda x: float(battery_results(x)["autonomy_days"] - x["autonomy asked"]),
        "worst month": lambda x: float(case.results(x)["gain_over_use"] - x["gain asked"]),
    }


def _verdicts(case: _Case, results: Mapping[str, Span], month: str) -> tuple[Verdict, ...]:
    days, gain = results["autonomy_days"], results["gain_over_use"]
    texts = {
        "days without Sun": autonomy_texts(days, AUTONOMY_ASKED_DAYS.value),
        "worst month": worst_month_texts(month, gain, GAIN_ASKED.value),
    }
    asked = _asked(case)
    return tuple(verdict(name, margin, asked, *texts[name]) for name, margin in _margins(case).items())


def _hits(winters: Winters) -> tuple[int, int]:
    return winters.n_over_limit, winters.n_flat


def _spared(case: _Case, which: int, limit: float) -> Callable[[Inputs], bool]:
    return lambda x: case.hits(x)[which] <= limit


def _winter_states(case: _Case, stated: Winters, with_ranges: Winters) -> list[tuple[str, str, tuple[str, ...]]]:
    """Name, state and turning inputs of both verdicts on the winters.

    They hold where at most one winter in twenty is lost, by the upper 95 % limit, with the inputs drawn.
    """
    n_years = stated.n_years
    limit = WINTERS_SPARED * n_years
    moved = [(key, end) for key, span in case.spans.items() if not span.fixed for end in (span.low, span.high)]
    hits = case.hits_at(moved)
    at_ends = {key: [hits[n], hits[n + 1]] for n, (key, _) in list(enumerate(moved))[::2]}
    found = []
    for which, name in enumerate(VERDICTS[:2]):
        fails = _hits(stated)[which] > limit
        turning = tuple(key for key, ends in at_ends.items() if any((end[which] > limit) is not fails for end in ends))
        drawn_limit = chance_with_limits(_hits(with_ranges)[which], n_years)[2]
        certain = not turning and (fails or drawn_limit <= WINTERS_SPARED)
        found.append((name, ("fails" if fails else "holds") if certain else "in doubt", turning))
    return found


def _winter_verdicts(case: _Case, stated: Winters, with_ranges: Winters, changes: tuple[Change, ...]) -> list[Verdict]:
    verdicts = []
    for which, (name, state, turning) in enumerate(_winter_states(case, stated, with_ranges)):
        counts = _hits(stated)[which], _hits(with_ranges)[which], stated.n_years
        fewest = min(((change.n_over_limit, change.n_flat)[which] for change in changes), default=counts[0])
        at = turning_values(_spared(case, which, WINTERS_SPARED * stated.n_years), case.spans, turning)
        verdicts.append(replace(winter_verdict(name, state, turning, counts, fewest), turns_at=at))
    return verdicts


def _changes(battery: Battery, moves: Span, where: Place, weather: Weather, model: Model = MODEL) -> list[Change]:
    """The present state first, then one change at a time."""
    toward_equator = 180.0 if where.latitude_deg >= 0 else 0.0
    tries: list[dict[str, float]] = [{}]
    tries += [{"panel_tilt_deg": tilt} for tilt in (45.0, 60.0, 75.0, 90.0) if tilt != battery.panel_tilt_deg]
    if battery.panel_azimuth_deg % 360.0 != toward_equator:
        tries.append({"panel_azimuth_deg": toward_equator})
    tries.append({"panel_w": 2.0 * battery.panel_w or 10.0})
    tries.append({"capacity_ah": 2.0 * battery.capacity_ah})
    tries += [{"sleep_ma": least} for least in (1.0, 0.1) if least < battery.sleep_ma]
    if battery.controller_ma > 1.0:
        tries.append({"controller_ma": 1.0})
    changes = []
    for settings in tries:
        # one dial turned, all else equal: ranges and what was given stay as they are
        case = _case(battery.model_copy(update=settings), moves, where, weather, model)
        values = values_of(case.spans)
        results, (n_over_limit, n_flat) = case.results(values), case.hits(values)
        changes.append(
            Change(
                settings=settings,
                autonomy_days=rounded(results["autonomy_days"]),
                gain_over_use=rounded(results["gain_over_use"]),
                n_over_limit=n_over_limit,
                n_flat=n_flat,
            )
        )
    return changes
