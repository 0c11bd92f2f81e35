"""What many tests ask for again is worked out once.

Packed tables, a battery's winters, the Sun of a scene's minutes, the door's program on its fault nights and Skyfield's
second opinion. All are pure functions. tests/table, tests/hardware, tests/job and tests/sky hold them to their results;
whoever packs through here still reads back what it gets and compares it with the plan. Results lie in a folder that all
processes of a run share, children that run a command line too. A test that is about working out twice asks for the
fixture `worked_out_anew`.
"""

from __future__ import annotations

import hashlib
import os
import pickle
import tempfile
from collections.abc import Callable, Collection, Sequence
from pathlib import Path

import numpy as np
from filelock import FileLock
from numpy.typing import ArrayLike, NDArray

from sunsched.controller.door_settings import DoorSettings
from sunsched.hardware.battery_case import Place, Weather
from sunsched.hardware.battery_sums import BatterySums, battery_sums
from sunsched.hardware.figures import Span
from sunsched.hardware.model import Model
from sunsched.hardware.parts import Battery
from sunsched.plan.year import YearPlan
from sunsched.sky.crossings import sun_altitude_deg
from sunsched.sky.second_opinion import Events, skyfield_events
from sunsched.study.faults import closing_minutes
from sunsched.study.scene import Skies
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


def closings_in_folder(folder: Path) -> Callable[..., NDArray[np.float64]]:
    """`closing_minutes` of the door's program, its results kept in a folder by all that it reads."""

    def closed(
        plan: YearPlan, settings: DoorSettings, skies: Skies, counts: NDArray[np.int64], fast_min: int
    ) -> NDArray[np.float64]:
        digest = hashlib.blake2b(f"{settings} {plan.first_day} {skies.n_min} {fast_min}".encode(), digest_size=24)
        read = (plan.open_min, plan.close_min, plan.midnight_min, plan.fact_bits, skies.rows, skies.start_min, counts)
        for array in read:
            digest.update(f"{array.dtype} {array.shape}".encode() + array.tobytes())
        path = folder / f"{digest.hexdigest()}.closings"
        if path.exists():
            return np.frombuffer(path.read_bytes()).copy()
        found = closing_minutes(plan, settings, skies, counts, fast_min)
        _put(path, found.tobytes())
        return found

    return closed


def skyfield_in_folder(folder: Path) -> Callable[..., Events]:
    """`skyfield_events`, its results kept in a folder by what was asked."""

    def events(
        first_min: float, last_min: float, latitude_deg: float, longitude_deg: float, angles_deg: Sequence[float]
    ) -> Events:
        asked = (first_min, last_min, latitude_deg, longitude_deg, angles_deg)
        words = " ".join(float(number).hex() for number in (*asked[:4], *angles_deg))
        path = folder / f"{hashlib.blake2b(words.encode(), digest_size=24).hexdigest()}.events"
        if path.exists():
            kept = pickle.loads(path.read_bytes())
            assert isinstance(kept, Events)
            return kept
        found = skyfield_events(*asked)
        _put(path, pickle.dumps(found))
        return found

    return events
