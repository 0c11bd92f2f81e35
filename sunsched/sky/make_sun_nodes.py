"""The nodes of sun_nodes.bin from the JPL ephemeris DE421 with Skyfield; `python tools/sun_nodes.py` writes the file.

DE421 comes from the package skyfield-data, so nothing is fetched. The Earth's rotation (UT1) is Skyfield's built-in
table: measured in the past, predicted ahead, so a newer Skyfield may move the hour angles of years to come by some
tenths of a second of time; declination and distance stay.
"""

from __future__ import annotations

import warnings
from collections.abc import Iterator
from contextlib import contextmanager
from functools import cache
from typing import Any

import numpy as np

from sunsched.sky import sun_nodes

J1970_JD = 2440587.5
TAI_MINUS_UTC_S = 37.0  # since 2017-01-01; the nodes' time runs evenly, see sun_nodes.even_minus_utc_min


def _loader() -> Any:
    """Skyfield's loader on the data of the package skyfield-data."""
    from skyfield.api import Loader

    with warnings.catch_warnings():
        # the package says that its Earth-rotation file has expired; the built-in time scale is used instead of it
        warnings.simplefilter("ignore", RuntimeWarning)
        import skyfield_data

        return Loader(skyfield_data.get_skyfield_data_path(), verbose=False)


@cache
def timescale() -> Any:
    """Skyfield's built-in time scale."""
    return _loader().timescale(builtin=True)


@contextmanager
def de421() -> Iterator[Any]:
    """The ephemeris, closed afterwards."""
    ephemeris = _loader()("de421.bsp")
    try:
        yield ephemeris
    finally:
        ephemeris.close()


def nodes(first_node: int, n: int) -> sun_nodes.Int32s:
    """Rows of hour angle less one turn a day, declination [both 0.001 arcsec], distance [1e-9 au], shape (3, n)."""
    day = (first_node + np.arange(n)) * sun_nodes.STEP_DAYS
    t = timescale().tt_jd(J1970_JD + day, (TAI_MINUS_UTC_S + 32.184) / 86400.0)
    with de421() as ephemeris:
        sun = ephemeris["earth"].at(t).observe(ephemeris["sun"]).apparent()
        right_ascension, declination, distance = sun.radec("date")
    # at 0 h the mean Sun is on the far side of the Earth: half a turn from the meridian of Greenwich
    turns = t.gast / 24.0 - right_ascension.hours / 24.0 - 0.5
    turns -= np.round(turns)
    units = (turns * 1_296_000_000.0, declination.degrees * 3_600_000.0, distance.au * 1e9)
    return np.asarray(np.rint(np.stack(units)), "<i4")
