"""An angle that was asked for and is one of the four named ones was listed twice for each day."""

from __future__ import annotations

from sunsched.job.sun_list import NAMED_DEPRESSIONS_DEG, sun_list
from sunsched.plan.site import Site


def test_each_angle_once() -> None:
    site = Site(latitude_deg=52.1, longitude_deg=5.2, zone="Europe/Amsterdam")
    rows = sun_list(site, 2027, [*NAMED_DEPRESSIONS_DEG, 6.0, 4.5, 4.5])
    assert [row["depression_deg"] for row in rows[:5]] == [0.8333, 6.0, 12.0, 18.0, 4.5]
    assert len(rows) == 5 * 365
