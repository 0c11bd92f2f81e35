"""A season that replaced one end of the cell's minutes was refused: held against the other end's default, not the
year's own. And a contradiction of the year's own rules was reported again for each season that inherits it."""

from __future__ import annotations

from typing import Any

import pytest

from sunsched.base.errors import ConfigError
from sunsched.config.toml_file import validated

SITE = {"latitude_deg": 52.1, "longitude_deg": 5.2, "zone": "Europe/Amsterdam"}


def season(name: str = "late", first: str = "05-01", last: str = "06-01", **evening: Any) -> dict[str, Any]:
    """One season of the evening."""
    return {"name": name, "from": first, "to": last, "evening": evening}


def problems(table: dict[str, Any]) -> list[tuple[str, str]]:
    """Key and what stands there, of each mistake."""
    with pytest.raises(ConfigError) as caught:
        validated(table, "x")
    return [(problem.key, problem.got) for problem in caught.value.problems]


def test_one_end_replaced_is_held_against_the_years_other_end() -> None:
    table = {"site": SITE, "evening": {"cell_until_min": 30}, "season": [season(cell_from_min=20)]}
    late = validated(table, "x").rules.variants()[1].evening
    assert (late.cell_from_min, late.cell_until_min) == (20, 30)


def test_ends_that_cross_are_refused_in_the_season() -> None:
    table = {"site": SITE, "evening": {"cell_until_min": 15}, "season": [season(cell_from_min=20)]}
    assert problems(table) == [("season[0].evening.cell_from_min", "20, after cell_until_min 15")]


def test_what_a_season_only_inherits_is_told_once() -> None:
    evening = {"not_before": "21:00", "not_after": "20:00"}
    seasons = [season(), season("dim", "07-01", "08-01")]
    assert [key for key, _ in problems({"site": SITE, "evening": evening, "season": seasons})] == ["evening.not_before"]


def test_each_overlapping_season_is_told_once() -> None:
    seasons = [season(f"s{n}") for n in range(20)]
    assert [key for key, _ in problems({"site": SITE, "season": seasons})] == [f"season[{n}]" for n in range(1, 20)]
