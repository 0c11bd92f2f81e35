"""A keeper's own log as weather, and the flock that noted nights tell."""

from __future__ import annotations

from pathlib import Path
from types import SimpleNamespace
from typing import cast

import numpy as np
import pytest

from sunsched.base.errors import LogError
from sunsched.job.logs.angle import AngleFit
from sunsched.job.logs.own_weather import learned_of, weather_of_log
from sunsched.job.pipeline import span_of
from sunsched.plan.year import YearPlan
from sunsched.study.observations import Following
from tests.job.test_replay import configuration
from tests.support.made_logs import light_lux, lux_log, times


def plan_of_2027() -> YearPlan:
    return span_of(configuration(), 20_819, 365, "yard")  # 20,819 days from 1970-01-01 to 2027-01-01


def logged(tmp_path: Path, n_days: int, factor: float, ahead_min: float = 0.0) -> tuple[Path, np.ndarray]:
    """A log of days that are clear, or dull by a stated amount [log10], through the whole day."""
    when = times("2027-03-01", n_days, 2)
    first = int(when[0] // 1440)
    dull = np.where(np.arange(n_days + 1) % 3 == 0, 0.0, 0.15 * (np.arange(n_days + 1) % 5))
    lux = light_lux(when, 0.4 * factor, lambda day: float(dull[min(day - first, n_days)]))
    path = tmp_path / "yard.csv"
    path.write_text("\n".join(lux_log(when, lux, ahead_min=ahead_min)) + "\n")
    return path, dull


@pytest.mark.parametrize(("factor", "ahead_min"), [(1.0, 0.0), (0.5, 4.0)])
def test_the_logs_own_evenings_are_the_weather(tmp_path: Path, factor: float, ahead_min: float) -> None:
    path, dull = logged(tmp_path, 40, factor, ahead_min)
    found = weather_of_log(configuration(), path, plan_of_2027())
    assert found.evening_log.shape == (1, 365) and found.n_years == 1
    # 1 March is row 59. Twilight takes 1.5 times what the day takes, near 4.8 degrees 1.47: the log's own darkness is
    # turned back. The cell's factor and the clock cancel against the log's clear evenings.
    for day in range(2, 38):
        got = found.evening_log[0, 59 + day]
        assert got == pytest.approx(-dull[day] / 1.46, abs=0.06), day
    assert np.isnan(found.evening_log[0, 200])


def test_a_short_log_is_no_weather(tmp_path: Path) -> None:
    path, _ = logged(tmp_path, 12, 1.0)
    with pytest.raises(LogError, match=r"2\d evenings and mornings with light through twilight; wanted 60 or more"):
        weather_of_log(configuration(), path, plan_of_2027())


def fit_of(clear_lux: float, n: int, following: Following | None = None) -> AngleFit:
    nights = SimpleNamespace(clear_lux=clear_lux * 10 ** np.linspace(-0.1, 0.1, n), n=n)
    return cast(AngleFit, SimpleNamespace(nights=nights, following=following))


def test_darker_last_birds_mean_a_lower_level_and_more_nights_a_narrower_one() -> None:
    few, many, darker = (learned_of(configuration(), fit_of(*args)) for args in ((100.0, 9), (100.0, 90), (30.0, 90)))
    assert darker.level_lux == pytest.approx(0.3 * many.level_lux)
    assert many.level_high_lux / many.level_low_lux < few.level_high_lux / few.level_low_lux
    assert few.level_low_lux < few.level_lux < few.level_high_lux and few.follow_light == ()


def test_birds_of_a_log_of_light_have_their_own_w() -> None:
    found = learned_of(configuration(), fit_of(100.0, 40, Following(0.8, 0.1, 40, 0.6, 1.0, 0)))
    assert found.follow_light == (0.6, 0.8, 1.0)
    assert found.plain()["follow_light"] == [0.6, 0.8, 1.0]
