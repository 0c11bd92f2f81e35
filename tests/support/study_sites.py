"""Sites of our own invention for the study's tests."""

from typing import Any

import numpy as np

from sunsched.config.configuration import Configuration
from sunsched.hardware.model import MODEL, Model
from sunsched.hardware.parts import Flock, LightCell
from sunsched.plan.planning import year_plan
from sunsched.plan.rules import MomentRule
from sunsched.plan.site import Site
from sunsched.study.block import Block, run_block, run_clear_block, weather_rng
from sunsched.study.scene import Scene, scene_of
from sunsched.study.settings import Setting
from sunsched.study.stage import Stage
from sunsched.study.tally import Sums, year_figures
from sunsched.study.weather import Climate, assumed_climate

SHARES = (0.0, 0.5, 1.0)
NO_SPREAD = LightCell(spread=1.0)
# A world in which cell and birds see one sky, clouds take less from twilight and every clock is right: that of an
# earlier simulation, whose figures the tests hold.
ONE_SKY = Model(
    cell_sky_log10=0.0, deep_twilight_share=0.9, storm_share=1.0, day_memory=0.2, clock_set_min=0.0, snow_share=0.0
)


def configuration(latitude_deg: float = 52.3, cell: LightCell | None = None, birds: int = 6) -> Configuration:
    """A site on the meridian whose door closes and opens at 4.5 degrees, the cell within -10..+15 minutes."""
    both: dict[str, Any] = {"depression_deg": 4.5, "cell_from_min": -10, "cell_until_min": 15}
    return Configuration(
        site=Site(name="Meridian", latitude_deg=latitude_deg, longitude_deg=0.0, zone="UTC"),
        evening=MomentRule.model_validate({**both, "not_before": "14:00", "not_after": "23:30"}),
        morning=MomentRule.model_validate({**both, "not_before": "02:00", "not_after": "10:00"}),
        light_cell=cell or LightCell(),
        flock=Flock(birds=birds),
    )


def scene(c: Configuration, model: Model = MODEL) -> Scene:
    """Its year 2026."""
    return scene_of(year_plan(c.site, c.chip, c.rules, 2026, c.light_cell), model)


def settings(found: Scene, dark_lux: tuple[float, ...] = (5.0,), shifts_min: tuple[int, ...] = (0,)) -> list[Setting]:
    """Light at each lux, the clock at each shift, both at each lux."""
    closes, opens = found.evening.planned_min, found.morning.planned_min
    window = (-10, 15)
    made = [Setting("light", f"{lux:g} lux", lux, 3 * lux, closes, opens, role="own") for lux in dark_lux]
    made += [Setting("clock", f"{s:+d} min", 5.0, 15.0, closes + s, opens - s, role="own") for s in shifts_min]
    made += [
        Setting("both", f"{lux:g} lux", lux, 3 * lux, closes, opens, window, window, role="own") for lux in dark_lux
    ]
    return made


def stage(
    c: Configuration, made: list[Setting], found: Scene, climate: Climate | None = None, model: Model = MODEL
) -> Stage:
    """The stage with the settings given; the scene must be of the same model."""
    weather = climate or assumed_climate(c.site.latitude_deg)
    late = np.full(found.evening.start_min.shape, 23.5 * 60)
    return Stage(found, weather, c.light_cell, c.flock.birds, tuple(made), SHARES, late, model=model)


def summed(on: Stage, n_years: int, seed: int = 1, block_years: int = 16) -> Sums:
    """Sums over drawn years."""
    sums = Sums()
    for block in range(-(-n_years // block_years)):
        years = min(block_years, n_years - block * block_years)
        sums.add(year_figures(run_block(on, years, weather_rng(seed, block))))
    return sums


def clear_block(on: Stage) -> Block:
    """One year without weather."""
    return run_clear_block(on, 1)
