"""Whole files that were emitted once and looked at: `python -m tests.emit.golden` writes them anew.

After a change that is meant, run it, and read the difference before it is committed. Version and zone release are
fixed words here, so that a new release of either changes no golden; the minutes are today's.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from functools import cache
from pathlib import Path

from sunsched.config import toml_file
from sunsched.emit.stamp import Stamp
from sunsched.job import compact, pipeline

ROOT = Path(__file__).parents[2]
FOLDER = ROOT / "tests" / "golden"
REWRITE = "python -m tests.emit.golden"


def _fixed(stamp: Stamp) -> Stamp:
    return stamp._replace(version="0.0.0", tzdata="0000a")


def _built(name: str, year: int, form: str) -> bytes:
    work = pipeline.built(toml_file.read(ROOT / "configs" / f"{name}.toml"), year, f"{name}.toml")
    return pipeline.texts_of(work._replace(stamp=_fixed(work.stamp)), [form])[form]


@cache
def _compact(name: str, year: int) -> compact.Compact:
    work = compact.compact(toml_file.read(ROOT / "configs" / f"{name}.toml"), (year,), "curves", name=f"{name}.toml")
    return replace(work, stamp=_fixed(work.stamp))


# Every file of tests/golden, and what emits it today.
GOLDENS: dict[str, Callable[[], bytes]] = {
    "fig_yard_2028.h": lambda: _built("fig_yard", 2028, "c"),
    "tussock_flat_2027.csv": lambda: _built("tussock_flat", 2027, "csv"),
    "larch_end_2027.h": lambda: compact.files_of(_compact("larch_end", 2027), "c")["larch_end_2027.h"],
    "larch_end_2027.hex": lambda: compact.files_of(_compact("larch_end", 2027), "eeprom")["larch_end_2027.hex"],
}


def main() -> None:
    """Write all goldens anew."""
    FOLDER.mkdir(exist_ok=True)
    for name, emitted in GOLDENS.items():
        (FOLDER / name).write_bytes(emitted())


if __name__ == "__main__":
    main()
