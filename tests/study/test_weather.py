"""The drawn weather against the measurements it was fitted to."""

import numpy as np
import pytest

from sunsched.base.errors import RangeError
from sunsched.hardware.assumed import assumptions
from sunsched.hardware.model import MODEL
from sunsched.study import weather


def test_the_monthly_means_come_back() -> None:
    drawn = weather.daily_clearness(weather.CLEARNESS_52, 200, 4)
    assert drawn.shape == (200, 365)
    assert drawn.min() >= 0.05
    for month, mean in enumerate(weather.CLEARNESS_52):
        # 200 years x 30 days of spread 0.2, memory 0.2: the mean is known to 0.004; the mapping adds up to 0.016.
        assert abs(drawn[:, month == weather.MONTH_OF_DAY].mean() - mean) < 0.02


@pytest.mark.parametrize("memory", [0.0, 0.2, 0.6])
def test_a_day_remembers_as_much_of_the_day_before_as_asked(memory: float) -> None:
    drawn = weather.daily_clearness((0.42,) * 12, 200, 9, memory)
    lag_one = np.corrcoef(drawn[:, 1:].ravel(), drawn[:, :-1].ravel())[0, 1]
    # 73 000 pairs know it to 0.004; the mapping from normal to clearness takes a twentieth away.
    assert lag_one == pytest.approx(0.95 * memory, abs=0.015)


def test_the_memory_assumed_lies_among_the_measured_ones() -> None:
    # Lag-one correlation of daily clearness about its monthly mean, worked out from hourly global irradiance: Amsterdam
    # (IWEC) 0.15, 45 N 8 E (PVGIS typical year) 0.43, Greensboro (TMY3) 0.31; all three files ship with pvlib 0.16.1.
    measured = (0.15, 0.43, 0.31)
    assert min(measured) < MODEL.day_memory < max(measured)
    assert MODEL.day_memory == pytest.approx(np.mean(measured), abs=0.01)
    (memory,) = [a.span for a in assumptions(MODEL, "battery") if a.key == "model.day_memory"]
    assert memory.low < min(measured) and max(measured) < memory.high


def test_the_same_seed_gives_the_same_days_and_another_seed_others() -> None:
    first = weather.daily_clearness(weather.CLEARNESS_60, 3, 5)
    assert np.array_equal(first, weather.daily_clearness(weather.CLEARNESS_60, 3, 5))
    assert not np.array_equal(first, weather.daily_clearness(weather.CLEARNESS_60, 3, 6))


@pytest.mark.parametrize("monthly", [(0.4,) * 11, (0.4,) * 11 + (0.9,), (0.4,) * 11 + (float("nan"),)])
def test_a_wrong_clearness_is_refused(monthly: tuple[float, ...]) -> None:
    with pytest.raises(RangeError, match=r"twelve values from 0\.1 to 0\.8"):
        weather.daily_clearness(monthly, 1, 0)


def test_a_minute_differs_from_the_next_as_measured() -> None:
    # One June of one-minute irradiance (Payerne, BSRN, 2016): differences between minutes have sd 0.028 in log10.
    wander = weather.minute_wander(200, 3000, np.random.default_rng(2))
    assert np.diff(wander, axis=0).std() == pytest.approx(0.028, abs=0.001)
    # Stationary from the first minute: 3000 columns know the spread 0.21 to 0.003; four times that.
    assert np.abs(wander.std(axis=1) - 0.21).max() < 0.012


def test_the_south_has_its_summer_in_january() -> None:
    north, south = weather.assumed_climate(52.0), weather.assumed_climate(-52.0)
    assert north.monthly_clearness == weather.CLEARNESS_52
    assert south.monthly_clearness[0] == north.monthly_clearness[6]
    assert weather.assumed_climate(5.0).snowfalls_a_winter == 0
    assert weather.assumed_climate(75.0).snowfalls_a_winter == weather.SNOWFALLS_60
