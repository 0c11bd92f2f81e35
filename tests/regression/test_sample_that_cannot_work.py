"""Samples between 59.2 and 60 degrees were refused by `table` (nights under two hours), and one for a longitude with
the wrong sign was written all the same. A name with a DEL in it gave text that is not TOML."""

from __future__ import annotations

from pathlib import Path

import pytest

from sunsched.base.errors import ConfigError
from sunsched.cli.sample_command import sample
from sunsched.config.sample import Answers, text
from sunsched.config.toml_file import parsed, read
from sunsched.job.pipeline import plan_of


@pytest.mark.parametrize("latitude_deg", [58.9, 59.0, 59.3, 59.9, 60.0, 60.5, 60.6, 66.0, 78.0, 89.0])
def test_samples_work_through_the_latitudes(latitude_deg: float) -> None:
    for south_north, place in ((1, (24.4, "Europe/Oslo")), (-1, (2.5, "Antarctica/Troll"))):
        answers = Answers("Somewhere", south_north * latitude_deg, *place)
        assert plan_of(parsed(text(answers).encode(), "sample"), 2028).n_days == 366


def test_a_longitude_of_the_wrong_sign_is_told_before_anything_is_written(tmp_path: Path) -> None:
    with pytest.raises(ConfigError, match=r"solar noon near 00:00 on the chip.*check the sign of site\.longitude_deg"):
        sample(41.0, 90.0, "America/Chicago", output=str(tmp_path / "hut.toml"))
    assert list(tmp_path.iterdir()) == []


def test_a_name_with_a_control_character(tmp_path: Path) -> None:
    sample(name="a\x7f\tb", output=str(tmp_path / "hut.toml"))
    assert read(tmp_path / "hut.toml").site.name == "a\x7f\tb"
