"""All that stays the same from one block of weather years to the next."""

from dataclasses import dataclass, field
from functools import cached_property

import numpy as np

from sunsched.hardware.light_cell import spread_sd_log10
from sunsched.hardware.parts import LightCell
from sunsched.study.flock import SunHabit
from sunsched.study.measured import MeasuredMeans
from sunsched.study.scene import Bools, HalfDays, Scene, Span, spans
from sunsched.study.second_chance import SecondChance
from sunsched.study.settings import Setting
from sunsched.study.weather import BRIGHTEST_LOG, DARKEST_LOG, Climate, Floats

MOST_CELL_Z = 3.5  # cells further out than this are drawn in
DAY_ALTITUDE_DEG = 5.0  # a closing with the Sun this high is no dusk


@dataclass(frozen=True)
class Stage:
    """A site, its weather, its flock and the settings to judge.

    late_min   (n_days,) study minute of the stated late hour of each evening
    linger_min more minutes of each twilight to look at
    measured   twilight means that take the place of drawn ones
    second_chance   the configuration's, or what it would be
    """

    scene: Scene
    climate: Climate
    cell: LightCell
    birds: int
    settings: tuple[Setting, ...]
    follow_light: tuple[float, ...]
    late_min: Floats
    linger_min: int = 0
    measured: MeasuredMeans | None = None
    second_chance: SecondChance = field(default_factory=SecondChance)

    @cached_property
    def cell_sd_log(self) -> float:
        """Standard deviation of the part's spread [log10 lux]."""
        return spread_sd_log10(self.cell.spread)

    @cached_property
    def wait_min(self) -> int:
        """Whole minutes of confirmation beside the first."""
        return (self.cell.confirm_s - 1) // 60

    def half(self, evening: bool) -> HalfDays:
        """The evenings or the mornings."""
        return self.scene.evening if evening else self.scene.morning

    @cached_property
    def habits(self) -> dict[bool, SunHabit]:
        """What birds that follow the Sun go by, for evenings (True) and mornings."""
        return {evening: SunHabit.of(self.half(evening)) for evening in (True, False)}

    @cached_property
    def windows(self) -> dict[bool, list[Span]]:
        """The minutes that matter, for evenings (True) and mornings."""
        found = {}
        for evening in (True, False):
            acting = [s.window(evening) for s in self.settings if s.strategy == "both"] or [(0, 0)]
            widest = min(first for first, _ in acting), max(last for _, last in acting)
            found[evening] = spans(
                self.half(evening),
                self.least_lux,
                self.most_lux,
                self.cell.sky_view,
                widest,
                self._cell_room_log,
                self.linger_min,
            )
        return found

    @property
    def least_lux(self) -> float:
        """The lowest threshold of all settings [lux at the cell]."""
        return min((s.dark_lux for s in self.settings), default=self.cell.dark_lux)

    @property
    def most_lux(self) -> float:
        """The highest threshold of all settings [lux at the cell]."""
        return max((s.light_lux for s in self.settings), default=self.cell.light_lux)

    @property
    def _cell_room_log(self) -> float:
        return MOST_CELL_Z * self.cell_sd_log + 0.05

    def sure_of_dark(self, evening: bool) -> Bools:
        """Days (n,) whose half surely holds half an hour of dark: the clear sky alone is dim enough."""
        least = np.log10(self.least_lux) - BRIGHTEST_LOG - np.log10(self.cell.sky_view) - self._cell_room_log
        return np.asarray(np.count_nonzero(self.half(evening).clear_log < least, axis=0) >= 40)

    def sure_of_light(self, evening: bool) -> Bools:
        """Days (n,) whose half surely holds half an hour of light: the thickest cloud still leaves enough."""
        most = np.log10(self.most_lux) - DARKEST_LOG - np.log10(self.cell.sky_view) + 0.15 + self._cell_room_log
        return np.asarray(np.count_nonzero(self.half(evening).clear_log > most, axis=0) >= 40)

    @cached_property
    def sunset_place(self) -> Floats:
        """Minutes into each evening (n,) at which the Sun passes the horizon; NaN where it does not."""
        up = self.scene.evening.altitude_deg > -0.3
        passed = up.any(axis=0) & ~up.all(axis=0)
        return np.where(passed, len(up) - up[::-1].argmax(axis=0), np.nan)
