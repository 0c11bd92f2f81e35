"""The battery: charge in and out, and what its inputs and their ranges give.

The first half holds the laws (numbers in, numbers out), the second the results that carry ranges.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import ArrayLike, NDArray

from sunsched.base.errors import RangeError
from sunsched.hardware.assumed import assumptions
from sunsched.hardware.figures import Assumption, Inputs, Number, Range, Span, exactly, spans_of
from sunsched.hardware.model import MODEL, Model
from sunsched.hardware.parts import Battery
from sunsched.hardware.solar_input import CLEARNESS_MOST, PanelYear, panel_kwh

Array = NDArray[np.float64]

HOURS_A_DAY = 24.0
MONTHS_A_YEAR, DAYS_A_YEAR = 12.0, 365.25
REFILL_DAYS = 30
# Share of the capacity at 20 C that a cold battery gives: typical VRLA datasheet, C/20, from memory.
COLD_C = (-20.0, 0.0, 20.0)
COLD_SHARE = (0.60, 0.85, 1.00)


def cold_share(temperature_c: ArrayLike) -> Array:
    """Share of the rated capacity left at `temperature_c` [deg C]: straight lines, level beyond -20 and 20.

    Source: typical sealed lead-acid datasheet at the 20-hour rate, from memory.
    """
    return np.asarray(np.interp(np.asarray(temperature_c, dtype=np.float64), COLD_C, COLD_SHARE))


def standing_ah_per_day(current_ma: Number, hours: Number = HOURS_A_DAY) -> Number:
    """Charge that `current_ma` takes in `hours` [Ah]."""
    return current_ma * hours / 1000.0


def board_ah_per_day(sleep_ma: Number, awake_ma: Number, awake_min_per_day: Number) -> Number:
    """Charge the board takes in a day [Ah], asleep but for `awake_min_per_day`."""
    awake_h = awake_min_per_day / 60.0
    return standing_ah_per_day(sleep_ma, HOURS_A_DAY - awake_h) + standing_ah_per_day(awake_ma, awake_h)


def self_discharge_share_per_day(share_month: Number) -> Number:
    """Share of the charge held that is lost in a day, from the share lost in a month."""
    return 1.0 - np.power(np.subtract(1.0, share_month), MONTHS_A_YEAR / DAYS_A_YEAR)


def usable_ah(capacity_ah: Number, usable_share: Number, cold: Number) -> Number:
    """Charge that may be taken out before the depth limit, in the cold [Ah]."""
    return capacity_ah * usable_share * cold


def autonomy_days(usable: Number, used_ah_per_day: Number) -> Number:
    """Days from full to the limit without any Sun; infinite where nothing is used."""
    with np.errstate(divide="ignore"):
        return np.divide(usable, used_ah_per_day)


def panel_ah(panel_w: Number, irradiation_kwh: Number, panel_yield: Number, volts: Number) -> Number:
    """Charge offered by the panel in a day [Ah]: W x kWh/m2 (hours at 1 kW/m2) x yield / V."""
    return panel_w * irradiation_kwh * panel_yield / volts


@dataclass(frozen=True)
class ChargeYear:
    """Charge of each day [Ah], shape (n_years, n_days), in the order of the calendar.

    start and end are the charge held at the day's beginning and end; on every day
    end = start + panel - overflow - used - self_discharge + unmet.
    unmet is what the door's electronics asked for and an empty battery could not give.
    """

    start: Array
    panel: Array
    overflow: Array
    used: Array
    self_discharge: Array
    unmet: Array
    end: Array


def charge_year(
    panel: ArrayLike,
    used_ah: ArrayLike,
    capacity_ah: ArrayLike,
    self_discharge_share_day: ArrayLike,
    start_row: int = 0,
    start_missing_ah: ArrayLike = 0.0,
) -> ChargeYear:
    """Follow the charge through each year, from full on `start_row` round the calendar to the day before it.

    panel   charge offered each day [Ah], (n_years, n_days); the rest (n_years, 1) or single numbers,
    used_ah also (n_years, n_days). Starting at midsummer keeps a whole winter in one run.
    Temperature does not enter: cold hides charge and gives it back, so it belongs to the limit, not to the
    balance. What is used goes on being used below the limits until nothing is held.
    Raises RangeError for a row outside the year.
    """
    offered = np.atleast_2d(np.asarray(panel, dtype=np.float64))
    n_years, n_days = offered.shape
    if not 0 <= start_row < n_days:
        raise RangeError(f"start_row is {start_row!r}; wanted 0 to {n_days - 1}")
    wanted = np.broadcast_to(np.asarray(used_ah, dtype=np.float64), offered.shape)
    full = np.broadcast_to(np.asarray(capacity_ah, dtype=np.float64), (n_years, 1))[:, 0]
    leak = np.broadcast_to(np.asarray(self_discharge_share_day, dtype=np.float64), (n_years, 1))[:, 0]
    missing = np.broadcast_to(np.asarray(start_missing_ah, dtype=np.float64), (n_years, 1))[:, 0]
    # A day of all years is a row: years lie side by side, and what nothing depends on is worked out at the end.
    by_day, used = np.ascontiguousarray(offered.T), np.ascontiguousarray(wanted.T)
    start, end = np.empty_like(by_day), np.empty_like(by_day)
    held, part = np.maximum(0.0, full - missing), np.empty(n_years)
    for row in (*range(start_row, n_days), *range(start_row)):
        start[row] = held
        np.multiply(held, leak, part)
        held = np.subtract(held, part, end[row])
        np.subtract(held, used[row], held)
        np.add(held, by_day[row], held)
        np.maximum(held, 0.0, out=held)
        np.minimum(held, full, out=held)
    lost = start * leak
    after = start - lost
    after -= used
    after += by_day
    overflow, unmet = np.maximum(0.0, after - full), np.maximum(0.0, -after)
    return ChargeYear(start.T, offered, overflow.T, wanted.copy(), lost.T, unmet.T, end.T)


def longest_runs(days: NDArray[np.bool_], start_row: int = 0) -> NDArray[np.int64]:
    """Longest run of true days in each year, followed from `start_row` round the calendar, shape (n_years,)."""
    rolled = np.roll(days.T, -start_row, axis=0)
    since = np.arange(1, len(rolled) + 1)[:, None]
    broken = np.maximum.accumulate(np.where(rolled, 0, since), axis=0)  # the last day that ends a run, from 1
    longest: NDArray[np.int64] = (since - broken).max(axis=0, initial=0)
    return longest


@dataclass(frozen=True)
class Winter:
    """What each year came to, shape (n_years,); what takes longer is worked out when it is asked for.

    over_limit_days   days that ended with more taken out than the depth limit allows at that cold
    flat_days         days that ended with nothing left at that cold: the door stops
    """

    over_limit_days: NDArray[np.int64]
    flat_days: NDArray[np.int64]
    _end: Array
    _flat: NDArray[np.bool_]
    _full: NDArray[np.bool_]
    _start_row: int

    @cached_property
    def longest_flat_run(self) -> NDArray[np.int64]:
        """The longest run of flat days."""
        return longest_runs(self._flat, self._start_row)

    @cached_property
    def longest_unfilled_run(self) -> NDArray[np.int64]:
        """The longest run of days in which the battery was never full."""
        return longest_runs(~self._full, self._start_row)

    @cached_property
    def lowest_ah(self) -> Array:
        """The least charge held."""
        return np.asarray(self._end.min(axis=1))

    @cached_property
    def lowest_row(self) -> NDArray[np.int64]:
        """The row of the day on which it was held."""
        return np.asarray(self._end.argmin(axis=1))

    @cached_property
    def refilled(self) -> NDArray[np.bool_]:
        """Full at least once in the last 30 days of the run."""
        last_rows = np.arange(self._start_row - REFILL_DAYS, self._start_row) % self._end.shape[1]
        return np.asarray(self._full[:, last_rows].any(axis=1))


def winter(
    year: ChargeYear, capacity_ah: ArrayLike, usable_share: ArrayLike, cold: ArrayLike, start_row: int = 0
) -> Winter:
    """Judge each year of `year` against the limits; `cold` is the share left by the cold, as `usable_ah` takes it.

    The capacity lost to cold is out of reach, not gone: taken out = capacity - held, limit = capacity x
    usable_share x cold, flat = capacity x cold.
    """
    capacity = np.broadcast_to(np.asarray(capacity_ah, dtype=np.float64), (year.end.shape[0], 1))
    taken = capacity - year.end
    slack = 1e-9 * capacity  # rounding of a day's sums
    flat = taken >= capacity * np.asarray(cold) - slack
    over_limit = taken > usable_ah(capacity, np.asarray(usable_share), np.asarray(cold)) + slack
    full = year.end >= capacity - slack
    return Winter(over_limit.sum(axis=1), flat.sum(axis=1), year.end, flat, full, start_row)


def chance_with_limits(n_hits: int, n_years: int) -> tuple[float, float, float]:
    """Chance per winter from `n_hits` of `n_years`, with its 95 % limits.

    Source: Wilson 1927, J. Am. Stat. Assoc. 22, 209: score interval.
    """
    z, share = 1.96, n_hits / n_years
    middle = (share + z * z / (2 * n_years)) / (1 + z * z / n_years)
    half = z / (1 + z * z / n_years) * np.sqrt(share * (1 - share) / n_years + z * z / (4 * n_years**2))
    return share, max(0.0, float(middle - half)), min(1.0, float(middle + half))


EXACT = (1.0, 1.0)
# Factors on the value: as the keeper measured it, and where the default stands in. Common practice where not said.
RANGES: dict[str, Range] = {
    # A battery is called worn out at 80 % of its capacity.
    "battery.capacity_ah": Range((0.8, 1.0), (0.5, 1.5)),
    "battery.usable_share": Range(EXACT, (0.8, 1.2), "half: handbook practice, from memory"),
    "battery.sleep_ma": Range((0.9, 1.1), (0.3, 2.5), "default: measure it with the door at rest"),
    "battery.awake_ma": Range((0.9, 1.1), (0.5, 2.0)),
    "battery.awake_min_per_day": Range((0.7, 1.5), (0.3, 3.0), "common practice"),
    "battery.sensor_ma": Range((0.7, 1.3), (0.5, 4.0), "5 V across divider and cell"),
    "battery.driver_ma": Range((0.8, 1.2), (0.1, 10.0), "common driver boards: from memory, look it up"),
    "battery.controller_ma": Range((0.8, 1.2), (0.4, 3.0), "small charge controllers: from memory, look it up"),
    # Gel 2 %, AGM 3 %, starter 6 % a month at 20 C: Victron Energy, Energy Unlimited, sec. 2.5.10.
    "battery.self_discharge_share_month": Range((0.7, 1.5), (0.67, 2.0), "sealed AGM at 20 C: Victron, read"),
    "battery.panel_w": Range((0.9, 1.0), (0.5, 2.0)),
    "battery.panel_yield": Range((0.9, 1.1), (0.7, 1.15), "dirt, heat, charging: common practice"),
    "battery.ground_reflectance": Range((0.7, 1.3), (0.5, 2.0), "grass 0.2, snow more: common practice"),
}
MOST = {"battery.panel_yield": 1.0, "battery.usable_share": 1.0, "battery.ground_reflectance": 1.0}
COLD_GIVEN_C, COLD_ASSUMED_C = 3.0, 10.0
COLD_CURVE = Span(1.0, 0.9, 1.05)  # factor on the share left by the cold, which is from memory
CLEARNESS_GIVEN = Span(1.0, 0.95, 1.05)  # from year to year a month's mean is drawn; this is the climate's error
CLEARNESS_ASSUMED = Span(1.0, 0.85, 1.15)
# Of the daily split and tilt against three stations' hourly data: an even sky gives 0.89 to 1.1 times the tool's, one
# brighter towards the Sun (Perez) up to 1.43 in winter on steep panels: tests/hardware/test_battery_sun.py.
SKY_MODEL = Span(1.0, 0.85, 1.45)


def battery_spans(
    battery: Battery, moves_ah_per_day: Span, climate_given: bool, model: Model = MODEL
) -> tuple[dict[str, Span], tuple[Assumption, ...]]:
    """The battery's inputs with their ranges, and the inputs that were assumed or rest on memory."""
    spans, assumed = spans_of({"battery": battery}, RANGES, MOST)
    cold_given = "coldest_c" in battery.model_fields_set
    reach_c = COLD_GIVEN_C if cold_given else COLD_ASSUMED_C
    spans["battery.coldest_c"] = Span(battery.coldest_c, battery.coldest_c - reach_c, battery.coldest_c + reach_c)
    spans["cold_curve"] = COLD_CURVE
    spans["clearness"] = CLEARNESS_GIVEN if climate_given else CLEARNESS_ASSUMED
    spans["sky_model"] = SKY_MODEL
    of_model = assumptions(model, "battery")
    spans |= {one.key: one.span for one in of_model}
    spans["moves_ah_per_day"] = moves_ah_per_day
    spans["battery.volts"] = exactly(battery.volts)
    extra = [
        Assumption("cold_curve", COLD_CURVE, "85 % at 0 C, 60 % at -20 C: typical datasheet, from memory"),
        Assumption("sky_model", SKY_MODEL, "daily split and tilt held to three stations' hourly data"),
        *of_model,
    ]
    if not cold_given:
        why = "default: measure in the battery's box on a frosty morning"
        extra.append(Assumption("battery.coldest_c", spans["battery.coldest_c"], why))
    if not climate_given:
        why = "monthly clearness of a web table, not verified: give --climate"
        extra.append(Assumption("clearness", spans["clearness"], why))
    return spans, (*assumed, *extra)


def used_ah_per_day(x: Inputs) -> dict[str, Number]:
    """Charge used each day [Ah] by each user but self-discharge, which follows the charge held."""
    return {
        "moves_ah": x["moves_ah_per_day"],
        "board_ah": board_ah_per_day(x["battery.sleep_ma"], x["battery.awake_ma"], x["battery.awake_min_per_day"]),
        "sensor_ah": standing_ah_per_day(x["battery.sensor_ma"]),
        "driver_ah": standing_ah_per_day(x["battery.driver_ma"]),
        "controller_ah": standing_ah_per_day(x["battery.controller_ma"]),
    }


def cold_of(x: Inputs, warmer_c: Number = 0.0) -> Number:
    """Share of the capacity left by the cold; `warmer_c` [deg C] above the coldest weeks, each day."""
    return np.minimum(1.0, cold_share(x["battery.coldest_c"] + warmer_c) * x["cold_curve"])


def battery_results(x: Inputs) -> dict[str, Number]:
    """Every figure of the battery that needs no weather, from plain inputs; floats or arrays."""
    used = used_ah_per_day(x)
    leak = self_discharge_share_per_day(x["battery.self_discharge_share_month"]) * x["battery.capacity_ah"]
    total = sum(used.values()) + leak
    cold = cold_of(x)
    usable = usable_ah(x["battery.capacity_ah"], x["battery.usable_share"], cold)
    return {
        **used,
        "self_discharge_ah": leak,
        "used_ah": total,
        "cold_share": cold,
        "usable_ah": usable,
        "autonomy_days": autonomy_days(usable, total),
        "flat_after_days": autonomy_days(x["battery.capacity_ah"] * cold, total),
    }


def irradiation_kwh(x: Inputs, place: PanelYear, clearness: Array) -> Array:
    """Irradiation of the panel [kWh/m2/day] for clearness (n_years, n_days), times climate's and model's errors."""
    dulled = np.minimum(CLEARNESS_MOST, clearness * x["clearness"])
    return np.asarray(panel_kwh(place, dulled, x["battery.ground_reflectance"]) * x["sky_model"])


def panel_ah_of(x: Inputs, place: PanelYear, clearness: Array) -> Array:
    """Charge offered by the panel [Ah]; inputs (n_years, 1) or single numbers."""
    return panel_ah_from(x, irradiation_kwh(x, place, clearness))


def panel_ah_from(x: Inputs, sun_kwh: Array) -> Array:
    """Charge offered by the panel [Ah] for its irradiation [kWh/m2/day]."""
    offered = panel_ah(x["battery.panel_w"], sun_kwh, x["battery.panel_yield"], x["battery.volts"])
    return np.asarray(offered)


@dataclass(frozen=True)
class Winters:
    """Many years of one set of inputs: each day's charge and what each year came to."""

    years: ChargeYear
    outcome: Winter

    @property
    def n_years(self) -> int:
        """Years followed."""
        return int(self.outcome.flat_days.size)

    @property
    def n_over_limit(self) -> int:
        """Winters that passed the depth limit."""
        return int(np.count_nonzero(self.outcome.over_limit_days))

    @property
    def n_flat(self) -> int:
        """Winters in which the door stopped."""
        return int(np.count_nonzero(self.outcome.flat_days))


def winters_of(x: Inputs, place: PanelYear, clearness: Array, warmer_c: Array, start_row: int) -> Winters:
    """Follow `clearness` (n_years, n_days) with inputs that are single numbers or one for each year.

    warmer_c   above the coldest weeks, each day [deg C], shape (n_days,)
    start_row  the day on which the battery is full: midsummer, so that a run holds one whole winter
    """
    columns = {name: np.atleast_1d(np.asarray(value, dtype=np.float64))[:, None] for name, value in x.items()}
    capacity = columns["battery.capacity_ah"]
    used = sum(used_ah_per_day(columns).values())
    leak = self_discharge_share_per_day(columns["battery.self_discharge_share_month"])
    years = charge_year(panel_ah_of(columns, place, clearness), used, capacity, leak, start_row)
    outcome = winter(years, capacity, columns["battery.usable_share"], cold_of(columns, warmer_c[None, :]), start_row)
    return Winters(years, outcome)


@dataclass(frozen=True)
class Loads:
    """What the charge of some sets of inputs follows from, (n,) each.

    used   by all but self-discharge [Ah/day]; kept   share of the charge left by a day's self-discharge
    full   the capacity [Ah]; per_kwh   charge from the panel for its irradiation [Ah per kWh/m2]
    """

    used: Array
    kept: Array
    full: Array
    per_kwh: Array

    @classmethod
    def of(cls, x: Inputs) -> Loads:
        """Of inputs that are single numbers or (n,)."""
        columns = {name: np.asarray(value, dtype=np.float64) for name, value in x.items()}
        every = (
            sum(used_ah_per_day(columns).values()),
            1.0 - self_discharge_share_per_day(columns["battery.self_discharge_share_month"]),
            columns["battery.capacity_ah"],
            panel_ah_from(columns, columns["sky_model"]),
        )
        return cls(*(np.atleast_1d(one) for one in np.broadcast_arrays(*every)))


def hits_of(
    x: Inputs, suns_kwh: Sequence[Array], which: Sequence[int], warmer_c: Array, start_row: int
) -> NDArray[np.int64]:
    """Winters past the depth limit and winters flat, (n, 2), for n sets of inputs followed together.

    x         single numbers or (n,)
    suns_kwh  irradiations of a panel [kWh/m2/day], (n_years, n_days) each; set k of the inputs has number which[k]
    The charge of `charge_year` and the limits of `winter` but for the last bits, without the days' own figures.
    """
    loads, columns = Loads.of(x), {name: np.asarray(value, dtype=np.float64) for name, value in x.items()}
    # Sets of inputs that have the same charge follow it once; runs of one sun stand together.
    of_run = np.stack(np.broadcast_arrays(np.asarray(which, dtype=np.float64), *vars(loads).values()))
    runs, run = np.unique(of_run, axis=1, return_inverse=True)
    warmths, kind = np.unique(warmer_c, return_inverse=True)
    least = _least_held(Loads(*runs[1:]), suns_kwh, runs[0].astype(np.int64), kind.tolist(), start_row)
    full = np.broadcast_to(columns["battery.capacity_ah"], run.shape)[:, None]
    slack, shape = 1e-9 * full, (-1, 1)
    hits = np.zeros((2, len(run), least.shape[2]), dtype=np.bool_)
    for warmth, its in zip(warmths, least, strict=True):
        cold = np.reshape(cold_of(columns, warmth), shape)
        taken = full - its[run]
        hits[0] |= taken > usable_ah(full, np.reshape(columns["battery.usable_share"], shape), cold) + slack
        hits[1] |= taken >= full * cold - slack
    return np.asarray(hits.sum(axis=2).T, dtype=np.int64)


def _least_held(
    loads: Loads, suns_kwh: Sequence[Array], which: NDArray[np.int64], kind: list[int], start_row: int
) -> Array:
    """The least charge at the end of the days of each kind, (n_kinds, n_runs, n_years); `which` ascends."""
    n_years, n_days = suns_kwh[0].shape
    # Whole arrays, not a number for each run: numpy then goes through all runs in one loop.
    used, kept, full, per_kwh = (np.repeat(one[:, None], n_years, axis=1) for one in vars(loads).values())
    offered, held, empty = np.empty_like(full), np.maximum(0.0, full), np.zeros_like(full)
    of_sun = []
    for sun in np.unique(which).tolist():
        first, last = np.searchsorted(which, (sun, sun + 1)).tolist()
        of_sun.append((list(np.ascontiguousarray(suns_kwh[sun].T)), per_kwh[first:last], offered[first:last]))
    least = np.full((max(kind) + 1, *held.shape), np.inf)
    of_kind = list(least)
    for row in (*range(start_row, n_days), *range(start_row)):
        for rows, factor, charge in of_sun:
            np.multiply(rows[row], factor, charge)
        np.subtract(offered, used, offered)
        np.multiply(held, kept, held)
        np.add(held, offered, held)
        np.maximum(held, empty, out=held)
        np.minimum(held, full, out=held)
        low = of_kind[kind[row]]
        np.minimum(low, held, out=low)
    return least
