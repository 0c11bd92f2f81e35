"""What many tests ask for again is worked out once: packed tables, a battery's winters, the Sun of a scene's minutes.

All are pure functions. tests/table, tests/hardware and tests/sky hold them to their results and call them directly;
whoever packs through here still reads back what it gets and compares it with the plan. Results lie in a folder that all
processes of a run share, children that run a command line too. A test that is about working out twice asks for the
fixture `worked_out_anew`.
"""

from __future__ import annotations

import hashlib
import os
import pickle
import tempfile
from collections.abc import Callable, Collection
from pathlib import Path

import numpy as np
from filelock import FileLock
from numpy.typing import ArrayLike, NDArray

from sunsched.hardware.battery_case import Place, Weather
from sunsched.hardware.battery_sums import BatterySums, battery_sums
from sunsched.hardware.figures import Span
from sunsched.hardware.model import Model
from sunsched.hardware.parts import Battery
from sunsched.sky.crossings import sun_altitude_deg
from sunsched.table.layout import Codec, pack
from sunsched.table.wanted import Wanted

Packer = Callable[[Codec, Wanted], bytes | None]
_NONE = b"no table"


def in_folder(folder: Path) -> Packer:
    """`layout.pack`, its results kept in a folder by what they were packed from."""

    def packed(codec: Codec, wanted: Wanted) -> bytes | None:
        digest = hashlib.sha256(f"{codec} {wanted.first_year} {wanted.least.shape}".encode())
        for array in (wanted.least, wanted.greatest, wanted.guide):
            digest.update(array.tobytes())
        path = folder / digest.hexdigest()
        if not path.exists():
            with FileLock(path.with_suffix(".lock")):
                if not path.exists():
                    data = pack(codec, wanted)
                    _put(path, _NONE if data is None else data)
        kept = path.read_bytes()
        return None if kept == _NONE else kept

    return packed


def _put(path: Path, data: bytes) -> None:
    """Write a file whole; another process may write the same at the same time."""
    handle, partial = tempfile.mkstemp(dir=path.parent)
    with os.fdopen(handle, "wb") as file:
        file.write(data)
    os.replace(partial, path)


def battery_in_folder(folder: Path) -> Callable[..., BatterySums]:
    """`battery_sums`, its results kept in this process and in a folder by what they were worked out from."""
    kept: dict[str, BatterySums] = {}

    def sums(battery: Battery, moves: Span, where: Place, weather: Weather, model: Model) -> BatterySums:
        digest = hashlib.sha256(f"{battery!r} {sorted(battery.model_fields_set)} {moves} {where} {model!r}".encode())
        digest.update(f"{sorted(model.model_fields_set)} {weather.is_given} {weather.redraw is None}".encode())
        for array in (weather.clearness, weather.warmer_c):
            digest.update(str(array.shape).encode() + array.tobytes())
        key = digest.hexdigest()
        path = folder / f"{key}.battery"
        if key not in kept and path.exists():
            kept[key] = pickle.loads(path.read_bytes())
        if key not in kept:
            kept[key] = battery_sums(battery, moves, where, weather, model)
            _put(path, pickle.dumps(kept[key]))
        return kept[key]

    return sums


def sun_in_folder(folder: Path, places: Collection[tuple[float, float]]) -> Callable[..., NDArray[np.float64]]:
    """`sun_altitude_deg`, its results for `places` (latitude, longitude) kept in a folder by their minutes."""

    def altitude_deg(utc_min: ArrayLike, latitude_deg: float, longitude_deg: float) -> NDArray[np.float64]:
        if (latitude_deg, longitude_deg) not in places:
            return sun_altitude_deg(utc_min, latitude_deg, longitude_deg)
        times = np.ascontiguousarray(utc_min, np.float64)
        digest = hashlib.blake2b(f"{latitude_deg!r} {longitude_deg!r} {times.shape}".encode(), digest_size=24)
        digest.update(times.tobytes())
        path = folder / f"{digest.hexdigest()}.sun"
        if path.exists():
            return np.frombuffer(path.read_bytes()).reshape(times.shape).copy()
        found = sun_altitude_deg(times, latitude_deg, longitude_deg)
        _put(path, found.tobytes())
        return found

    return altitude_deg
