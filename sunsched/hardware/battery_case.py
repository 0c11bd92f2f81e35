"""One battery in one place and weather: its figures, and how many winters it loses, for many sets of inputs at once.

What a verdict hangs on is found by moving one input at a time. Most of them leave the light on the panel as it is, many
the charge too: each light and each charge is followed once, all charges together, day by day.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from sunsched.hardware.battery import (
    Loads,
    Winters,
    battery_results,
    battery_spans,
    cold_of,
    hits_of,
    panel_ah_from,
    winters_of,
)
from sunsched.hardware.figures import Assumption, Inputs, Moves, Number, Span, exactly, inputs_at, values_of
from sunsched.hardware.model import MODEL, Model
from sunsched.hardware.parts import Battery
from sunsched.hardware.solar_input import (
    CLEARNESS_MOST,
    Panel,
    PanelYear,
    light_kwh,
    month_of_row,
    panel_year,
    sky_on_panel_kwh,
)

Array = NDArray[np.float64]
Bools = NDArray[np.bool_]
MEMORY = "model.day_memory"
# Each value of these inputs has a light on the panel of its own.
OF_THE_SKY = frozenset((MEMORY, "clearness", "battery.ground_reflectance"))
STATED = ("", 0.0)  # no input moved
MOST_REDRAWN = 3  # clearness of other memories that is kept: of both ends of the range, and the drawn one


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
    _redrawn: dict[bytes, Array] = field(default_factory=dict, init=False, repr=False, compare=False)
    _lights: dict[tuple[bytes, float | None, float], tuple[Array, Array]] = field(
        default_factory=dict, init=False, repr=False, compare=False
    )

    def remembering(self, memory: Number) -> Array:
        """The clearness with another memory from day to day."""
        if self.redraw is None:
            return self.clearness
        key = np.asarray(memory, dtype=np.float64).tobytes()
        found = self._redrawn.get(key)
        if found is None:
            found = self.redraw(memory)
            if len(self._redrawn) < MOST_REDRAWN:
                self._redrawn[key] = found
        return found

    def light_kwh(self, place: PanelYear, memory: float | None, factor: float) -> tuple[Array, Array]:
        """`light_kwh` of a place for clearness times `factor`: level ground and its diffuse part (n_years, n_days).

        memory   another one than the model's own, or None
        """
        key = place.level_kwh.tobytes(), memory, factor
        found = self._lights.get(key)
        if found is None:
            clearness = self.clearness if memory is None else self.remembering(memory)
            found = light_kwh(place, np.minimum(CLEARNESS_MOST, clearness * factor))
            if memory is None and factor == 1.0:  # changes of the battery and other panels ask for it again
                self._lights[key] = found
        return found


@dataclass(frozen=True)
class Place:
    """Where the panel stands: latitude and the hills round it [degrees]."""

    latitude_deg: float
    skyline_azimuth_deg: tuple[float, ...] = ()
    skyline_altitude_deg: tuple[float, ...] = ()


@dataclass(frozen=True)
class Case:
    """One battery in one place and weather."""

    battery: Battery
    place: PanelYear
    weather: Weather
    spans: Mapping[str, Span]
    assumptions: tuple[Assumption, ...]
    _hits: dict[tuple[str, float], tuple[int, int]] = field(default_factory=dict, init=False, repr=False, compare=False)
    _months: dict[float, tuple[float, float]] = field(default_factory=dict, init=False, repr=False, compare=False)

    @classmethod
    def of(cls, battery: Battery, moves: Span, where: Place, weather: Weather, model: Model = MODEL) -> Case:
        """The case of a battery whose moves take the charge `moves` a day [Ah]."""
        hills = where.skyline_azimuth_deg, where.skyline_altitude_deg
        panel = Panel(battery.panel_tilt_deg, battery.panel_azimuth_deg, *hills)
        spans, assumed = battery_spans(battery, moves, weather.is_given, model)
        if weather.redraw is None:  # days that were measured have the memory that they have
            spans[MEMORY] = exactly(spans[MEMORY].value)
            assumed = tuple(one for one in assumed if one.key != MEMORY)
        place = panel_year(panel, where.latitude_deg, weather.clearness.shape[1])
        return cls(battery, place, weather, spans, assumed)

    def changed(self, settings: Mapping[str, float], moves: Span, where: Place, model: Model = MODEL) -> Case:
        """The case with some settings changed; ranges, and what was given, stay as they are."""
        if not settings:
            return self
        found = Case.of(self.battery.model_copy(update=dict(settings)), moves, where, self.weather, model)
        if found.place is self.place and found.battery.ground_reflectance == self.battery.ground_reflectance:
            vars(found).update(_stated_sun_kwh=self._stated_sun_kwh, month_rows=self.month_rows, _months=self._months)
        return found

    @cached_property
    def values(self) -> dict[str, float]:
        """The inputs as stated."""
        return values_of(self.spans)

    @cached_property
    def start_row(self) -> int:
        """Midsummer, when the battery is taken for full."""
        return int(np.argmax(self.place.level_kwh))

    @cached_property
    def month_rows(self) -> Bools:
        """The days (n_days,) of the month in which the panel gains least."""
        month = month_of_row(len(self.place.level_kwh))
        daily = self._stated_sun_kwh.mean(axis=0)
        worst = int(np.argmin([daily[month == m].mean() for m in range(12)]))
        return np.asarray(month == worst)

    @cached_property
    def stated(self) -> Winters:
        """The winters with the inputs as stated."""
        return self.winters(self.values)

    def winters(self, x: Inputs) -> Winters:
        """The winters with inputs that are single numbers or one for each year."""
        clearness = self.weather.clearness
        memory = x.get(MEMORY, self.values[MEMORY])
        if np.any(np.asarray(memory) != self.values[MEMORY]):
            clearness = self.weather.remembering(memory)
        return winters_of(x, self.place, clearness, self.weather.warmer_c, self.start_row)

    def sun_kwh(self, x: Inputs) -> Array:
        """Irradiation of the panel [kWh/m2/day], (n_years, n_days), for inputs that are single numbers."""
        if all(x[key] == self.values[key] for key in OF_THE_SKY):
            return self._stated_sun_kwh
        return self._sun_kwh(x)

    @cached_property
    def _stated_sun_kwh(self) -> Array:
        return self._sun_kwh(self.values)

    def _sun_kwh(self, x: Inputs) -> Array:
        memory = None if x[MEMORY] == self.values[MEMORY] else float(x[MEMORY])
        level, diffuse = self.weather.light_kwh(self.place, memory, float(x["clearness"]))
        ground = x["battery.ground_reflectance"] * self.place.ground_per_reflectance
        return np.asarray(sky_on_panel_kwh(self.place, level, diffuse) + level * ground)

    def hits_at(self, moved: Moves, beside: Sequence[Case] = ()) -> list[tuple[int, int]]:
        """Winters past the depth limit and winters flat with each of these inputs moved by itself.

        What was followed once is known. The winters of the cases `beside`, as stated, are followed together with these.
        """
        asked = [move for move in dict.fromkeys(moved) if self._place(move) not in self._hits]
        others = [case for case in beside if STATED not in case._hits]
        of_inputs = [(self, {**self.values, key: value}) for key, value in asked]
        hits = hits_of_cases([*of_inputs, *((case, case.values) for case in others)])
        self._hits.update(zip(map(self._place, asked), hits, strict=False))
        for case, its in zip(others, hits[len(asked) :], strict=True):
            case._hits[STATED] = its
        return [self._hits[self._place(move)] for move in moved]

    def _place(self, move: tuple[str, float]) -> tuple[str, float]:
        return STATED if move[1] == self.values[move[0]] else move

    @property
    def hits(self) -> tuple[int, int]:
        """Winters past the depth limit and winters flat with the inputs as stated."""
        if STATED not in self._hits:
            self._hits[STATED] = self.stated.n_over_limit, self.stated.n_flat
        return self._hits[STATED]

    def beside_stated(self, moved: Moves) -> tuple[Bools, Bools]:
        """Where each of these inputs, moved by itself, can surely lose no more winters, and no fewer, (n,) each.

        All that the charge hangs on is compared. More use or self-discharge, less light or a nearer limit leave less of
        it on every day. With another capacity, clearness or memory that is not sure, and neither is said.
        """
        x = inputs_at(self.values, moved)
        loads = Loads.of(x)
        cold = cold_of(x, np.unique(self.weather.warmer_c)[:, None])
        enough = [-loads.used, loads.kept, loads.per_kwh, x["battery.ground_reflectance"]]
        more = np.concatenate([np.stack(enough), cold, cold * x["battery.usable_share"]])
        same = np.all([one == one[0] for one in (loads.full, x["clearness"], x[MEMORY])], axis=0)
        better, worse = (same & (sign * (more - more[:, :1]) >= 0.0).all(axis=0) for sign in (1.0, -1.0))
        return better[1:], worse[1:]

    def results(self, x: Inputs) -> dict[str, Number]:
        """Every figure, those of the worst month included; floats or arrays."""
        base = battery_results(x)
        clearness = np.asarray(x["clearness"], dtype=np.float64)
        means = np.array([self._month_mean_kwh(float(factor)) for factor in clearness.reshape(-1)])
        panel, level = np.moveaxis(means.reshape(*clearness.shape, 2), -1, 0)
        ground = x["battery.ground_reflectance"] * self.place.ground_per_reflectance
        sun_kwh = (panel + level * ground) * x["sky_model"]
        gain = panel_ah_from(x, sun_kwh)
        return {**base, "irradiation_kwh": sun_kwh, "gain_ah": gain, "gain_over_use": gain / base["used_ah"]}

    def _month_mean_kwh(self, factor: float) -> tuple[float, float]:
        """Mean irradiation of the panel without the ground's light, and of level ground, in the worst month."""
        if factor not in self._months:
            rows, whole = self.month_rows, self.place
            place = replace(
                whole, level_kwh=whole.level_kwh[rows], sunset_deg=whole.sunset_deg[rows], beam=whole.beam[rows]
            )
            level, diffuse = light_kwh(place, np.minimum(CLEARNESS_MOST, self.weather.clearness[:, rows] * factor))
            self._months[factor] = float(sky_on_panel_kwh(place, level, diffuse).mean()), float(level.mean())
        return self._months[factor]


def hits_of_cases(cases: Sequence[tuple[Case, Inputs]]) -> list[tuple[int, int]]:
    """Winters past the depth limit and winters flat, of cases of one weather with inputs that are single numbers."""
    if not cases:
        return []
    suns: dict[tuple[object, ...], int] = {}
    found: list[Array] = []
    for case, x in cases:
        key = id(case.place), x[MEMORY], x["clearness"], x["battery.ground_reflectance"]
        if key not in suns:
            suns[key] = len(found)
            found.append(case.sun_kwh(x))
    which = [suns[id(c.place), x[MEMORY], x["clearness"], x["battery.ground_reflectance"]] for c, x in cases]
    first = cases[0][0]
    together = {name: np.array([x[name] for _, x in cases]) for name in first.values}
    hits = hits_of(together, found, which, first.weather.warmer_c, first.start_row)
    return [(int(over), int(flat)) for over, flat in hits]
