"""How dusk's light differs from evening to evening, depth by depth, against measured evenings."""

import csv
from functools import cache
from pathlib import Path

import numpy as np
import pytest

from sunsched.hardware.model import MODEL, Model
from sunsched.plan.planning import span_plan
from sunsched.plan.site import Chip, Site
from sunsched.study.scene import scene_of, skies_of, spans, twilight_share
from sunsched.study.weather import Floats, assumed_climate, draw_years
from tests.study.test_skies import CELL_AT_5_DEG

AUTHORITIES = Path(__file__).parents[1] / "authorities"
OLD = MODEL.model_copy(update={"deep_twilight_share": 0.9, "storm_share": 1.0})


def measured() -> list[tuple[float, int, float]]:
    with (AUTHORITIES / "dusk_spread.csv").open(encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    return [(float(r["altitude_deg"]), int(r["evenings"]), float(r["p05_to_p95_log10"])) for r in rows]


@cache
def drawn_spread(model: Model) -> dict[float, Floats]:
    """Light over the clear sky [log10] of sixty drawn Junes at Payerne, within a quarter of a degree of each depth."""
    site = Site(name="Payerne", latitude_deg=46.815, longitude_deg=6.944, zone="Europe/Zurich")
    scene = scene_of(span_plan(site, Chip(), CELL_AT_5_DEG, 16_953, 30), model)  # 1 June 2016
    rng = np.random.default_rng(11)
    years = draw_years(assumed_climate(46.8), scene.months, 60, rng, model)
    (skies,) = skies_of(
        scene.evening, spans(scene.evening, 0.01, 1500.0, 1.0, (0, 0), 0.0), years, rng, model.minute_spread_log10
    )
    minute = skies.start_min - scene.evening.start_min[skies.rows] + np.arange(skies.n_min)[:, None]
    altitude = scene.evening.altitude_deg[minute, skies.rows]
    cloud = skies.sky_log - skies.clear_log
    return {depth: cloud[np.abs(altitude - depth) < 0.25] for depth, _, _ in measured()}


def width(values: Floats) -> float:
    return float(np.subtract(*np.percentile(values, [95, 5])))


@pytest.mark.parametrize(("depth_deg", "evenings", "found"), measured())
def test_the_spread_between_5_and_95_percent_is_that_of_measured_evenings(
    depth_deg: float, evenings: int, found: float
) -> None:
    # A spread from n evenings is known to 1 / sqrt(2 n): two of those either way, as ratios, and a quarter more where
    # the light was read in whole watts.
    allowed = 2.0 / np.sqrt(2.0 * evenings) + (0.25 if depth_deg <= 0 else 0.0)
    assert abs(np.log(width(drawn_spread(MODEL)[depth_deg]) / found)) < allowed


def test_where_doors_act_the_old_spread_was_too_narrow() -> None:
    # Six evenings of one logger: 1.31 in log10 at 5 to 5.5 degrees below the horizon; the earlier model gave 0.79.
    old, new = (width(drawn_spread(model)[-5.25]) for model in (OLD, MODEL))
    assert old == pytest.approx(0.79, abs=0.05)
    assert new == pytest.approx(1.31, rel=0.1)


def test_clouds_take_from_twilight_what_they_take_by_day_and_more_with_depth() -> None:
    share = twilight_share(np.array([10.0, 0.1, -0.5, -1.5, -3.25, -5.0, -9.0], dtype=np.float32), 1.5)
    assert share.tolist() == pytest.approx([1.0, 1.0, 0.9, 0.9, 1.2, 1.5, 1.5])


def test_the_fitted_minutes_hold_their_own_storms() -> None:
    # Payerne, June 2016, 2369 evening minutes with the Sun at 0.5 to 12 degrees: 16.8 % lie below -0.5 in log10, 7.6 %
    # below -0.7. The month had its storms; drawn minutes reach 16 % without any on top, so storms on top count twice.
    none, on_top = (drawn_spread(MODEL.model_copy(update={"storm_share": s}))[5.0] for s in (0.0, 1.0))
    assert (none < -0.5).mean() == pytest.approx(0.168, abs=0.03)
    assert (none < -0.7).mean() < (on_top < -0.7).mean()
    assert MODEL.storm_share == 0.0
