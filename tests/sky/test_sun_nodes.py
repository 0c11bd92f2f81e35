"""The shipped nodes: made again they are the same, interpolated they follow the ephemeris, damaged they are refused."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest

from sunsched.base.errors import DamagedError, RangeError
from sunsched.sky import make_sun_nodes, sun_nodes
from tests.conftest import ROOT

DATA = Path(sun_nodes.__file__).with_name("sun_nodes.bin").read_bytes()
ARCSEC = np.degrees(1.0) * 3600.0


def test_regenerated_nodes_equal_the_shipped_bytes() -> None:
    """Whole file: all of declination and distance, and the hour angles of the years whose UT1 was measured by 2024."""
    shipped = sun_nodes.unpacked(DATA)
    made = make_sun_nodes.nodes(sun_nodes.FIRST_NODE, sun_nodes.N_NODES)
    measured = slice(0, (19723 // sun_nodes.STEP_DAYS) - sun_nodes.FIRST_NODE)  # to 2024-01-01
    assert made[1:].tobytes() == shipped[1:].tobytes()
    assert made[0, measured].tobytes() == shipped[0, measured].tobytes()
    # UT1 of years to come is a prediction that another Skyfield may move: 15 milliarcsec are a millisecond of time
    assert np.abs(made[0] - shipped[0]).max() <= 0.3 * 15_000
    assert sun_nodes.packed(shipped) == DATA


def test_interpolation_follows_the_ephemeris() -> None:
    # JPL DE421 by Skyfield, at UTC times of its own time scale: leap seconds before 2017 included
    utc_min = np.random.default_rng(421).uniform(sun_nodes.FIRST_MIN, sun_nodes.LAST_MIN, 4000)
    whole_day = np.floor(utc_min / 1440.0)
    t = make_sun_nodes.timescale().utc(1970, 1, 1 + whole_day, 0, utc_min - 1440.0 * whole_day)
    with make_sun_nodes.de421() as ephemeris:
        apparent = ephemeris["earth"].at(t).observe(ephemeris["sun"]).apparent()
        right_ascension, declination, distance = apparent.radec("date")
    sun = sun_nodes.sun_at(utc_min)
    turned = sun.hour_angle_rad - (t.gast - right_ascension.hours) * np.pi / 12.0
    # six points four days apart: 0.045 arcsec (0.003 s of time) found at worst, half of it the rounding of the nodes
    assert np.abs((turned + np.pi) % (2.0 * np.pi) - np.pi).max() * ARCSEC < 0.06
    assert np.abs(sun.declination_rad - declination.radians).max() * ARCSEC < 0.06
    assert np.abs(sun.distance_au - distance.au).max() < 4e-7


# IERS Bulletin C 52: at the end of 2016-12-31 UTC went from TAI - 36 s to TAI - 37 s
@pytest.mark.parametrize(("minutes_after", "even_minus_utc_s"), [(-0.5, -1.0), (0.0, 0.0), (1e6, 0.0)])
def test_the_leap_second_of_2016(minutes_after: float, even_minus_utc_s: float) -> None:
    utc_min = np.array([17167 * 1440.0 + minutes_after])
    assert sun_nodes.even_minus_utc_min(utc_min) * 60.0 == pytest.approx(even_minus_utc_s)


def test_the_rotation_does_not_jump_at_a_leap_second() -> None:
    # one second before and after the end of 2016-12-31: two seconds of rotation, three of UTC with 23:59:60
    before, after = sun_nodes.sun_at(np.array([17167 * 1440.0 - 1 / 60, 17167 * 1440.0 + 1 / 60])).hour_angle_rad
    assert ((after - before) % (2 * np.pi)) * ARCSEC == pytest.approx(3 * 15.0, abs=0.1)


@pytest.mark.parametrize("place", [0, 7, 8, 5000, len(DATA) - 5, len(DATA) - 1])
def test_one_wrong_bit_is_noticed(place: int) -> None:
    damaged = bytearray(DATA)
    damaged[place] ^= 4
    with pytest.raises(DamagedError, match=r"^sun_nodes\.bin: "):
        sun_nodes.unpacked(bytes(damaged))


def test_a_cut_file_is_noticed() -> None:
    with pytest.raises(DamagedError, match=r"got 0 bytes starting b''; wanted 69384, b'sunnode1'"):
        sun_nodes.unpacked(b"")


@pytest.mark.parametrize(
    ("utc_min", "asked"),
    [(sun_nodes.FIRST_MIN - 1.0, "1989-12-16 to 1989-12-16"), (sun_nodes.LAST_MIN + 1.0, "2053-01-30 to 2053-01-30")],
)
def test_times_outside_the_nodes_are_refused(utc_min: float, asked: str) -> None:
    with pytest.raises(RangeError, match=f"^the Sun is known from 1990 to 2052; asked for {asked}$"):
        sun_nodes.sun_at(np.array([utc_min]))


def test_a_time_that_is_no_number_is_refused() -> None:
    with pytest.raises(RangeError, match=r"^the Sun is known from 1990 to 2052; asked for nan to nan$"):
        sun_nodes.sun_at(np.array([np.nan]))


def test_the_script_writes_the_shipped_file(tmp_path: Path) -> None:
    made = [sys.executable, str(ROOT / "tools" / "sun_nodes.py"), str(tmp_path / "again.bin")]
    subprocess.run(made, check=True, env={**os.environ, "PYTHONPATH": str(ROOT)})
    again = sun_nodes.unpacked((tmp_path / "again.bin").read_bytes())
    assert np.array_equal(again[1:], sun_nodes.unpacked(DATA)[1:])
