"""Messages that misled: a list with a wrong word was also called no list; two heights for one direction of the skyline
were found by the plan only, without file and key; an evening limit at 11:45 was said to come after 22:00."""

from __future__ import annotations

from typing import Any

import pytest

from sunsched.base.errors import ConfigError
from sunsched.config.toml_file import validated

SITE = {"latitude_deg": 69.1, "longitude_deg": 24.4, "zone": "Europe/Oslo"}
WORDS = "one of 'light', 'limit', 'shut'"


def messages(**sections: Any) -> list[str]:
    """The message for the keeper."""
    with pytest.raises(ConfigError) as caught:
        validated({"site": SITE, **sections}, "hut.toml")
    return str(caught.value).splitlines()


def test_a_wrong_word_is_told_as_that() -> None:
    assert messages(evening={"no_twilight": ["lamp"]}) == [
        f"hut.toml: evening.no_twilight[0] is 'lamp'; wanted {WORDS}"
    ]
    assert messages(evening={"no_twilight": "light"}) == [
        "hut.toml: evening.no_twilight is 'light'; wanted a list of one or more of 'light', 'limit', 'shut'"
    ]


def test_two_heights_for_one_direction() -> None:
    hills = [{"azimuth_deg": 0, "altitude_deg": 2}, {"azimuth_deg": 360, "altitude_deg": 5}]
    assert messages(site={**SITE, "skyline": hills}) == [
        "hut.toml: site.skyline is a list of sections; wanted one altitude_deg for each azimuth_deg, "
        "not two for 360 (0 is 360)"
    ]
    same = [hills[0], {"azimuth_deg": 360, "altitude_deg": 2}]
    assert len(validated({"site": {**SITE, "skyline": same}}, "x").site.skyline) == 2


def test_an_evening_limit_before_noon() -> None:
    assert messages(evening={"not_before": "11:45", "not_after": "22:00"}) == [
        "hut.toml: evening.not_before is '11:45', after not_after '22:00'; wanted a time at or before not_after; "
        "in the evening a time before 12:00 is one after midnight"
    ]
