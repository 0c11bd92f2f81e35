"""A site, its weather, its flock and the settings to judge: what stays the same from one block to the next."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property

import numpy as np

from sunsched.hardware.light_cell import spread_sd_log10
from sunsched.hardware.model import MODEL, Model, Moved
from sunsched.hardware.parts import LightCell
from sunsched.study.flock import SunHabit
from sunsched.study.measured import MeasuredMeans
from sunsched.study.scene import Bools, HalfDays, Scene, Span, spans
from sunsched.study.settings import Setting
from sunsched.study.weather import BRIGHTEST_LOG, DARKEST_LOG, DRIFT_MIN_A_DAY, Climate, Floats


@dataclass(frozen=True)
class SecondChance:
    """How long after the closing it comes, and how long the door is up."""

    after_min: int = 10
    for_s: int = 180

    @property
    def words(self) -> str:
        """For a table's note."""
        return f"{self.for_s} s, {self.after_min} min after a closing by light"


MOST_CELL_Z, MOST_SKY_Z = 3.5, 2.5  # cells, and skies over them, further out than this are drawn in
SHIFT_FROM_MIN = 20  # rule M4: three nights' light correct a proven clock that is so far off
ROOMY_CELL_SD_LOG = 0.28
BOTH = (True, False)  # evenings, mornings
DAY_ALTITUDE_DEG = 5.0  # a closing with the Sun this high is no dusk


@dataclass(frozen=True)
class Stage:
    """A site, its weather, its flock and the settings to judge.

    late_min   (n_days,) study minute of the stated late hour of each evening
    linger_min more minutes of each twilight to look at
    measured   twilight means that take the place of drawn ones
    second_chance   the configuration's, or what it would be
    model      what weather, cell, clock and flock are taken for; scene must be of the same model
    drift_ppm  most that the clock gains or loses [parts in a million]
    roomy      hold the minutes that any model within its ranges needs: other models then meet the same weather
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
    model: Model = MODEL
    drift_ppm: float = 0.0
    roomy: bool = False

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
    def spans(self) -> dict[bool, list[Span]]:
        """The minutes that matter, for evenings (True) and mornings."""
        found = {}
        for evening in (True, False):
            acting = [s.window(evening) for s in self.settings if s.strategy == "both"] or [(0, 0)]
            room = self.clock_room_min
            widest = min(first for first, _ in acting) - room, max(last for _, last in acting) + room
            found[evening] = spans(
                self.half(evening),
                self.least_lux,
                self.most_lux,
                self.cell.sky_view,
                widest,
                self._cell_room_log,
                self.linger_min,
                self._most("dirt_log10"),
            )
        return found

    def _most(self, key: str) -> float:
        """A [model] key's value, or where the stage is roomy the top of its range."""
        value = float(getattr(self.model, key))
        tops = [m.high for m in Model.model_fields[key].metadata if isinstance(m, Moved)] if self.roomy else []
        return max(value, *tops) if tops else value

    @property
    def clock_room_min(self) -> int:
        """How far the window of clock and light may lie off [min]: beyond this the light corrects the clock."""
        most = 3.5 * self.model.clock_set_min + self.drift_ppm * DRIFT_MIN_A_DAY * self.model.clock_set_every_days
        return SHIFT_FROM_MIN if self.roomy else min(SHIFT_FROM_MIN, int(np.ceil(most)))

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
        sd_log = max(self.cell_sd_log, ROOMY_CELL_SD_LOG) if self.roomy else self.cell_sd_log
        return MOST_CELL_Z * sd_log + MOST_SKY_Z * self._most("cell_sky_log10") + 0.05

    @cached_property
    def sure_of_dark(self) -> dict[bool, Bools]:
        """Days (n,) whose evening (True) or morning surely holds half an hour of dark: the clear sky alone is dim."""
        least = np.log10(self.least_lux) - BRIGHTEST_LOG - np.log10(self.cell.sky_view) - self._cell_room_log
        return {evening: np.count_nonzero(self.half(evening).clear_log < least, axis=0) >= 40 for evening in BOTH}

    @cached_property
    def sure_of_light(self) -> dict[bool, Bools]:
        """Days (n,) whose half surely holds half an hour of light: the thickest cloud still leaves enough."""
        most = (
            np.log10(self.most_lux)
            - DARKEST_LOG
            - np.log10(self.cell.sky_view)
            + self._most("dirt_log10")
            + self._cell_room_log
        )
        return {evening: np.count_nonzero(self.half(evening).clear_log > most, axis=0) >= 40 for evening in BOTH}

    def on_same_minutes(self, other: Stage) -> Stage:
        """`other`, a stage of the same days, holding the minutes that this one holds."""
        vars(other).update(spans=self.spans, habits=self.habits)
        return other

    @cached_property
    def sunset_place(self) -> Floats:
        """Minutes into each evening (n,) at which the Sun passes the horizon; NaN where it does not."""
        up = self.scene.evening.altitude_deg > -0.3
        passed = up.any(axis=0) & ~up.all(axis=0)
        return np.where(passed, len(up) - up[::-1].argmax(axis=0), np.nan)
