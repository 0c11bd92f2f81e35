"""What `angle` prints to paste can be pasted: in place of [evening] it makes the configuration that --write writes."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path

import pytest

from sunsched.config.toml_file import parsed
from sunsched.job.logs.angle import angle_of, evening_section, new_configuration
from sunsched.job.sun_list import sun_list
from sunsched.report.text.angle import angle_text
from tests.conftest import CONFIGS

EVENING = re.compile(r"^\[evening\].*?(?=^\[{1,2}(?!evening\.)|\Z)", re.DOTALL | re.MULTILINE)
WITHOUT = "[site]\nlatitude_deg = 47.3\nlongitude_deg = 8.9\nzone = 'Europe/Zurich'\n"


def pasted(file: str, section: str) -> str:
    """The file with a section in place of its [evening], or at its end where it has none."""
    if EVENING.search(file):
        return EVENING.sub(lambda _: f"{section}\n", file, count=1)
    return f"{file}\n{section}"


@pytest.mark.parametrize("path", CONFIGS, ids=[path.stem for path in CONFIGS])
def test_the_printed_section_can_be_pasted(path: Path, tmp_path: Path) -> None:
    nights = tmp_path / "nights.csv"
    file = path.read_text(encoding="utf-8")
    before = parsed(file.encode(), "before")
    # The birds of this list went in at civil dusk or a little after it.
    dusks = sun_list(before.site, 2027, [6.0])[90:114]
    nights.write_text("date,time\n" + "".join(f"{row['evening_utc'][:19]}\n".replace("T", ",") for row in dusks))
    fit = angle_of(before, nights, zone="utc")
    text = angle_text(fit)
    section = text[text.index("[evening]\n", text.index("TO PASTE")) : text.index("CAUTIONS")]
    after = parsed(pasted(file, section).encode(), "pasted")
    assert after.evening.depression_deg == pytest.approx(fit.depression_deg)
    assert after == parsed(new_configuration(tomllib.loads(file), fit).encode(), "written")
    assert after.model_copy(update={"evening": before.evening}) == before


def test_a_file_without_an_evening_takes_it_at_its_end() -> None:
    section = evening_section(parsed(WITHOUT.encode(), "x"), 4.25)
    assert section == "[evening]\ndepression_deg = 4.25\nlater_min = 0\n"
    assert parsed(pasted(WITHOUT, section).encode(), "x").evening.depression_deg == 4.25


def test_limits_and_weekdays_of_the_evening_are_kept() -> None:
    own = '[evening]\nclear_sky_lux = 30\nnot_after = "22:00"\nlater_min = 5\n'
    own += '[evening.weekday_not_after]\nfri = "23:00"\n'
    before = parsed((WITHOUT + own).encode(), "x")
    after = parsed(pasted(WITHOUT + own, evening_section(before, 3.0)).encode(), "x")
    assert after.evening.not_after == before.evening.not_after
    assert after.evening.weekday_not_after == before.evening.weekday_not_after
    assert (after.evening.depression_deg, after.evening.clear_sky_lux, after.evening.later_min) == (3.0, None, 0)
