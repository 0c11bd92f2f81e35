"""What many tests ask for again is worked out once: tables packed from the same minutes, a battery's winters.

Both are pure functions. tests/table and tests/hardware hold them to their results and call them directly; whoever packs
through here still reads back what it gets and compares it with the plan. A test that is about working out twice asks
for the fixture `worked_out_anew`.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable
from pathlib import Path

from filelock import FileLock

from sunsched.hardware.battery_case import Place, Weather
from sunsched.hardware.battery_sums import BatterySums, battery_sums
from sunsched.hardware.figures import Span
from sunsched.hardware.model import Model
from sunsched.hardware.parts import Battery
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
                    partial = path.with_suffix(".partial")
                    partial.write_bytes(_NONE if data is None else data)
                    partial.rename(path)
        kept = path.read_bytes()
        return None if kept == _NONE else kept

    return packed


def battery_kept() -> Callable[..., BatterySums]:
    """`battery_sums`, its results kept in this process by what they were worked out from."""
    kept: dict[str, BatterySums] = {}

    def sums(battery: Battery, moves: Span, where: Place, weather: Weather, model: Model) -> BatterySums:
        digest = hashlib.sha256(f"{battery!r} {sorted(battery.model_fields_set)} {moves} {where} {model!r}".encode())
        digest.update(f"{sorted(model.model_fields_set)} {weather.is_given} {weather.redraw is None}".encode())
        for array in (weather.clearness, weather.warmer_c):
            digest.update(str(array.shape).encode() + array.tobytes())
        key = digest.hexdigest()
        if key not in kept:
            kept[key] = battery_sums(battery, moves, where, weather, model)
        return kept[key]

    return sums
