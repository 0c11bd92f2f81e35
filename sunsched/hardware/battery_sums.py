"""All of the battery's figures and verdicts for one place and panel, over many winters."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from sunsched.base.rounding import rounded
from sunsched.hardware import battery_words as words
from sunsched.hardware.battery import chance_with_limits
from sunsched.hardware.battery_results import (
    Winters,
    battery_results,
    battery_spans,
    cold_of,
    irradiation_kwh,
    panel_ah_of,
    winters_of,
)
from sunsched.hardware.figures import Assumption, Figure, Verdict, verdict
from sunsched.hardware.parts import Battery
from sunsched.hardware.solar_input import Panel, PanelYear, month_of_row, panel_kwh, panel_year
from sunsched.hardware.spread import Inputs, Number, Span, drawn, propagated, values_of

Array = NDArray[np.float64]

AUTONOMY_ASKED_DAYS = Span(5.0, 5.0, 7.0)  # remote sites 5-10 days, high reliability 7-14: IEEE 1013, from memory
GAIN_ASKED = Span(1.3, 1.1, 1.4)  # array-to-load ratio 1.1-1.2, critical 1.3-1.4: IEEE 1562, from memory
WINTERS_SPARED = 0.05  # one flat winter in twenty: judged, no source
DRAW_SEED = 20
# fmt: off
MONTHS = ("January", "February", "March", "April", "May", "June",
          "July", "August", "September", "October", "November", "December")
# fmt: on


@dataclass(frozen=True)
class Weather:
    """The weather the battery is held against.

    clearness  each day, (n_years, n_days); warmer_c  above the coldest weeks, each day [deg C], (n_days,)
    is_given   False where the climate was assumed
    """

    clearness: Array
    warmer_c: Array
    is_given: bool


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
    """Everything `battery` tells.

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

    def winters(self, x: Inputs) -> Winters:
        return winters_of(x, self.place, self.weather.clearness, self.weather.warmer_c, self.start_row)

    def results(self, x: Inputs) -> dict[str, Number]:
        """Every figure, those of the worst month included."""
        rows, whole = self.month_rows, self.place
        place = replace(
            whole, level_kwh=whole.level_kwh[rows], sunset_deg=whole.sunset_deg[rows], beam=whole.beam[rows]
        )
        base, clearness = battery_results(x), self.weather.clearness[:, rows]
        gain = float(panel_ah_of(x, place, clearness).mean())
        sun_kwh = float(irradiation_kwh(x, place, clearness).mean())
        return {**base, "irradiation_kwh": sun_kwh, "gain_ah": gain, "gain_over_use": gain / base["used_ah"]}


def _case(battery: Battery, moves: Span, where: Place, weather: Weather) -> _Case:
    panel = Panel(
        battery.panel_tilt_deg,
        battery.panel_azimuth_deg,
        where.skyline_azimuth_deg,
        where.skyline_altitude_deg,
    )
    n_days = weather.clearness.shape[1]
    place = panel_year(panel, where.latitude_deg, n_days)
    spans, _ = battery_spans(battery, moves, weather.is_given)
    month = month_of_row(n_days)
    daily = panel_kwh(place, weather.clearness, battery.ground_reflectance).mean(axis=0)
    worst = int(np.argmin([daily[month == m].mean() for m in range(12)]))
    return _Case(battery, place, weather, spans, int(np.argmax(place.level_kwh)), month == worst)


def battery_sums(battery: Battery, moves_ah_per_day: Span, where: Place, weather: Weather) -> BatterySums:
    """Figures, verdicts and winters of a battery, and what changes would do.

    moves_ah_per_day   charge of one raising and one lowering [Ah], from the drive's sums
    Raises RangeError where a clearness is outside 0 to 0.85.
    """
    case = _case(battery, moves_ah_per_day, where, weather)
    _, assumptions = battery_spans(battery, moves_ah_per_day, weather.is_given)
    results = propagated(case.results, case.spans)
    stated = case.winters(values_of(case.spans))
    with_ranges = case.winters(drawn(case.spans, stated.n_years, DRAW_SEED))
    cold = cold_of(values_of(case.spans), weather.warmer_c)
    month = MONTHS[int(month_of_row(weather.clearness.shape[1])[case.month_rows.argmax()])]
    changes = tuple(_changes(battery, moves_ah_per_day, where, weather))
    used = {name: results[name].value for name in ("moves_ah", "board_ah", "sensor_ah", "driver_ah", "controller_ah")}
    return BatterySums(
        figures=words.battery_figures(results),
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
        at_disconnect=words.at_disconnect(results),
        cautions=words.CAUTIONS,
    )


def _verdicts(case: _Case, results: Mapping[str, Span], month: str) -> tuple[Verdict, ...]:
    days, gain = results["autonomy_days"], results["gain_over_use"]
    asked = {**case.spans, "autonomy asked": AUTONOMY_ASKED_DAYS, "gain asked": GAIN_ASKED}
    return (
        verdict(
            "days without Sun",
            lambda x: float(battery_results(x)["autonomy_days"] - x["autonomy asked"]),
            asked,
            *words.autonomy_texts(days, AUTONOMY_ASKED_DAYS.value),
        ),
        verdict(
            "worst month",
            lambda x: float(case.results(x)["gain_over_use"] - x["gain asked"]),
            asked,
            *words.worst_month_texts(month, gain, GAIN_ASKED.value),
        ),
    )


def _hits(winters: Winters) -> tuple[int, int]:
    return winters.n_over_limit, winters.n_flat


def _winter_verdicts(case: _Case, stated: Winters, with_ranges: Winters, changes: tuple[Change, ...]) -> list[Verdict]:
    """Hold where at most one winter in twenty is lost, by the upper 95 % limit, with the inputs drawn."""
    n_years, values = stated.n_years, values_of(case.spans)
    limit = WINTERS_SPARED * n_years
    at_ends = {
        key: [_hits(case.winters({**values, key: end})) for end in (span.low, span.high)]
        for key, span in case.spans.items()
        if not span.fixed
    }
    judged = []
    for which, name in enumerate(("depth limit", "flat battery")):
        hits, hits_drawn = _hits(stated)[which], _hits(with_ranges)[which]
        fails = hits > limit
        turning = tuple(key for key, ends in at_ends.items() if any((end[which] > limit) is not fails for end in ends))
        certain = not turning and (fails or chance_with_limits(hits_drawn, n_years)[2] <= WINTERS_SPARED)
        state = ("fails" if fails else "holds") if certain else "in doubt"
        fewest = min((change.n_over_limit, change.n_flat)[which] for change in changes)
        judged.append(words.winter_verdict(name, state, turning, (hits, hits_drawn, n_years), fewest))
    return judged


def _changes(battery: Battery, moves: Span, where: Place, weather: Weather) -> list[Change]:
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
        case = _case(battery.model_copy(update=settings), moves, where, weather)
        values = values_of(case.spans)
        results, winters = case.results(values), case.winters(values)
        changes.append(
            Change(
                settings=settings,
                autonomy_days=rounded(results["autonomy_days"]),
                gain_over_use=rounded(results["gain_over_use"]),
                n_over_limit=winters.n_over_limit,
                n_flat=winters.n_flat,
            )
        )
    return changes
