"""The vectorised evenings of `compare` against the door's program, second by second, on drawn evenings.

Run: python -m tests.study.trial_proof [EVENINGS]        (10,000 evenings: about 5 min of one core)
Prints how many evenings moved in another minute, by kind. The clock is set wrong and drifts, as in `compare`: the
program is shown the wrong time and decides by its own rules; the trial moves its window by the clock's error. The clock
is proven and the nights before were healthy. tests/study/test_trial_proof.py holds a sample.
"""

from __future__ import annotations

import sys
from collections import Counter
from dataclasses import dataclass

import numpy as np

from sunsched.controller.door_settings import door_settings
from sunsched.hardware.model import Model
from sunsched.hardware.parts import ClockSource
from sunsched.study.passing import confirmed
from sunsched.study.scene import skies_of, spans
from sunsched.study.trial import Levels, Why, Window, dusk_in_window, steep_falls
from sunsched.study.weather import assumed_climate, draw_years
from tests.study.test_door_program import (
    CELL,
    FROM_MIN,
    RULES,
    UNTIL_MIN,
    by_program,
    levels_as_counted,
    northern_year,
)

MOST_FAST_MIN = 19  # from 20 min on the light of three nights corrects a proven clock
MODEL = Model(clock_set_min=3.0, clock_set_every_days=365.0)
DRIFT_PPM = 40.0


@dataclass(frozen=True)
class Outcome:
    """One evening: the minute and reason of the trial and of the program, and how fast the clock was [min]."""

    fast_min: int
    ours: tuple[int, Why]
    program: tuple[int, Why]

    @property
    def kind(self) -> str:
        """What differs."""
        if self.ours == self.program:
            return "same minute, same reason"
        if self.ours[0] == self.program[0]:
            return f"same minute, {self.ours[1].name} here and {self.program[1].name} in the program"
        later = self.program[0] - self.ours[0]
        return f"program {later:+d} min, {self.ours[1].name} here and {self.program[1].name} in the program"


def outcomes(n_evenings: int, seed: int = 77) -> list[Outcome]:
    """Drawn evenings of a year at 58 N, in the order of a permutation."""
    plan, scene = northern_year()
    assert plan.n_days == scene.n_days
    settings = door_settings(RULES, CELL, ClockSource())
    rng = np.random.default_rng(seed)
    n_years = max(2, -(-n_evenings // 300))
    years = draw_years(assumed_climate(58.0), scene.months, n_years, rng, MODEL, DRIFT_PPM)
    room = (FROM_MIN - MOST_FAST_MIN, UNTIL_MIN + MOST_FAST_MIN)
    found = spans(scene.evening, CELL.dark_lux, CELL.light_lux, CELL.sky_view, room, 1.0)
    every = list(skies_of(scene.evening, found, years, rng))
    sizes = np.array([len(skies.columns) for skies in every])
    done = []
    for skies, share in zip(every, np.ceil(n_evenings * sizes / sizes.sum()).astype(int), strict=True):
        fast = np.rint(years.clock_fast_min.ravel()[skies.columns]).astype(np.int64)
        levels = levels_as_counted(settings, len(skies.columns))
        planned = (scene.evening.planned_min[skies.rows] - skies.start_min).astype(np.int64) - fast
        window = Window(planned + FROM_MIN, planned, planned + UNTIL_MIN, np.ones(len(planned), dtype=np.bool_))
        moves = dusk_in_window(
            skies.cell_log,
            confirmed(skies.cell_log, levels.wait_min, True),
            _steep(skies.cell_log, levels),
            levels,
            window,
        )
        ours = np.random.default_rng(seed + 1).permutation(len(skies.columns))
        ours = ours[(skies.rows[ours] > 1) & (skies.rows[ours] < 363) & (np.abs(fast[ours]) <= MOST_FAST_MIN)][:share]
        for column in ours.tolist():
            program = by_program(skies, column, settings, int(fast[column]))
            done.append(Outcome(int(fast[column]), (int(moves.place[column]), Why(moves.why[column])), program))
    return done


def _steep(cell_log, levels: Levels):  # type: ignore[no-untyped-def]
    return steep_falls(cell_log, float((levels.light_log - levels.dark_log).min()))


def main() -> None:
    """Print the kinds with their numbers."""
    done = outcomes(int(sys.argv[1]) if len(sys.argv) > 1 else 10_000)
    print(f"{len(done)} evenings, clock {min(o.fast_min for o in done)} to {max(o.fast_min for o in done)} min fast")
    for kind, number in Counter(o.kind for o in done).most_common():
        print(f"{number:6d}  {kind}")


if __name__ == "__main__":
    main()
