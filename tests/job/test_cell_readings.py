"""A light cell calibrated by readings of it under a clear sky; the cells here are of our own making."""

from __future__ import annotations

import math
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from typer.testing import CliRunner

from sunsched.base.civil_time import zone_of
from sunsched.base.errors import UsageError
from sunsched.cli.app import app
from sunsched.config.configuration import Configuration
from sunsched.config.toml_file import parsed, validated
from sunsched.hardware.light_cell import divider_counts
from sunsched.hardware.parts import CellReading
from sunsched.job.cell_readings import calibrated
from sunsched.job.clock import civil_utc_min
from sunsched.sky.daylight import clear_sky_lux_at

SITE = {"latitude_deg": 47.318, "longitude_deg": 8.949, "zone": "Europe/Zurich"}
CELL: dict[str, Any] = {"r10_ohm": 50_000.0, "gamma": 0.7, "fixed_ohm": 33_000.0, "sky_view": 0.4}


def configuration(**keys: Any) -> Configuration:
    """A site with a cell as its file describes it."""
    return validated({"site": SITE, "light_cell": {**CELL, **keys}})


def sky_lux(at: str) -> float:
    """A clear sky's light on level ground at a civil minute."""
    utc_min = civil_utc_min(zone_of(str(SITE["zone"])), at, "x")
    return float(clear_sky_lux_at(np.array([utc_min]), 47.318, 8.949)[0])


def reads(at: str, r10_ohm: float, gamma: float = 0.7) -> CellReading:
    """What a cell of another resistance reads there."""
    counts = int(divider_counts(sky_lux(at) * CELL["sky_view"], r10_ohm, gamma, CELL["fixed_ohm"]))
    return CellReading(at=at, counts=counts)


@given(st.floats(15_000, 160_000), st.floats(0.5, 0.9), st.integers(0, 45))
@settings(max_examples=40)
def test_the_cell_s_own_resistance_is_found_and_with_it_nothing_is_left(r10: float, gamma: float, minute: int) -> None:
    # Dusk of 1 March at 47.3 N, 8.9 E: sunset 18:10 civil, civil dusk 18:40.
    at = f"2027-03-01 {18 + minute // 60}:{minute % 60:02d}"
    reading = reads(at, r10, gamma)
    assume(10 <= reading.counts <= 1010)
    found = calibrated(configuration(gamma=gamma), [reading], "x")
    step = sum(one.sd_log10 for one in found.readings) + 0.01
    assert abs(math.log10(found.value / r10)) < gamma * step + 0.01
    again = calibrated(configuration(gamma=gamma, r10_ohm=found.value), [reading], "x")
    assert again.factor == pytest.approx(1.0, abs=1e-6)


def test_a_digital_sensor_moves_the_share_of_the_sky() -> None:
    at = "2027-03-01 18:20"
    reading = CellReading(at=at, counts=sky_lux(at) * 0.25)
    found = calibrated(configuration(kind="lux"), [reading], "x")
    assert found.key == "sky_view"
    assert found.value == pytest.approx(0.25)
    assert found.paste == "sky_view = 0.25\n"


def test_the_spread_has_its_parts_and_narrows_with_evenings() -> None:
    dates = [f"2027-03-{day:02d} 18:25" for day in range(1, 10)]
    one, nine = (calibrated(configuration(), [reads(at, 80_000.0) for at in dates[:n]], "x") for n in (1, 9))
    own = one.readings[0].sd_log10
    # 0.15: cell_sky_log10 of [model], assumed; 0.03: study/calibration.py, MODEL_LOG.
    assert one.spread == pytest.approx(10 ** (2 * math.sqrt(0.15**2 + 0.03**2 + own**2)))
    # At dusk the light falls by about 0.07 in log10 a minute (study/calibration.py): a minute counts for most of it.
    assert 0.05 < own < 0.1
    assert one.spread > 1.9 > 1.4 > nine.spread > 10**0.06
    sure = configuration().model_copy(
        update={"model": configuration().model.model_copy(update={"cell_sky_log10": 0.05})}
    )
    assert calibrated(sure, [reads(dates[0], 80_000.0)], "x").spread < one.spread


def test_a_resistance_is_the_mean_of_what_the_evenings_say() -> None:
    evenings = [reads("2027-03-01 18:25", 40_000.0), reads("2027-03-02 18:25", 90_000.0)]
    assert calibrated(configuration(), evenings, "x").value == pytest.approx(math.sqrt(40_000 * 90_000), rel=0.03)


@pytest.mark.parametrize(
    ("at", "counts", "words"),
    [
        ("2027-03-01 18:20", 1023, "1023 counts; wanted whole counts from 3 to 1020"),
        ("2027-03-01 18:20", 1, "1 counts; wanted whole counts from 3 to 1020"),
        ("2027-03-01 18:20", 512.5, "512.5 counts; wanted whole counts"),
        ("2027-03-01 12:00", 900, "wanted a reading between 0.1 and 5000 lux"),
        ("2027-03-01 23:00", 20, "wanted a reading between 0.1 and 5000 lux"),
        ("2027-02-30 18:20", 500, "wanted a date and time such as"),
        ("2027-03-01 18:40", 1015, "the readings ask for light_cell.r10_ohm = "),
    ],
)
def test_a_reading_that_says_nothing_is_refused(at: str, counts: float, words: str) -> None:
    strange = configuration(r10_ohm=200.0) if words.startswith("the readings") else configuration()
    with pytest.raises(UsageError, match=words.replace("(", r"\(")):
        calibrated(strange, [CellReading.model_construct(at=at, counts=counts)], "--reads with --at")


FILE = "\n".join(
    ["[site]", *(f"{key} = {value!r}" for key, value in SITE.items()), "[light_cell]"]
    + [f"{key} = {value}" for key, value in CELL.items()]
)


def test_the_command_its_keys_and_the_readings_of_the_file(tmp_path: Path) -> None:
    hut = tmp_path / "hut.toml"
    hut.write_text(FILE + "\n")
    reading = reads("2027-03-01 18:25", 80_000.0)
    words = ["cell", str(hut), "--reads", f"{reading.counts:g}", "--at", reading.at]
    out = CliRunner().invoke(app, words).stdout
    assert "times the light" in " ".join(out.split())
    # What it prints stands where it says: the keys in [light_cell], the reading at the file's end.
    keys = dict(line.strip().split(" = ") for line in out.split("IN [light_cell]\n")[1].split("\n\n")[0].splitlines())
    kept = out[out.index("    [[light_cell.reading]]") :].split("\n\n")[0]
    changed = FILE.replace("r10_ohm = 50000.0", f"r10_ohm = {keys['r10_ohm']}") + f"\n{kept}\n"
    hut.write_text(changed)
    assert parsed(changed.encode(), "hut").light_cell.reading == (reading,)
    again = CliRunner().invoke(app, ["cell", str(hut), "--year", "2027"])
    assert again.exit_code == 0
    assert "By one reading the cell gives 1.00 times" in again.stdout
    done = CliRunner().invoke(app, ["cell", str(hut), "--reads", "500"])
    assert (done.exit_code, done.stdout) == (2, "")
    assert "--reads and --at belong together" in done.stderr
