"""What is fuzzed: for each kind of input whole examples, and how a damaged one is read.

A target's `read` returns "accepted" or "refused"; any error but our own, and any answer that is not true, is raised
and counts as fallen.
"""

from __future__ import annotations

import random
import tempfile
from collections.abc import Callable
from dataclasses import asdict, dataclass
from functools import cache
from pathlib import Path

import numpy as np

from sunsched.base.errors import MOST_PROBLEMS, ConfigError, DamagedError, SunschedError
from sunsched.config import toml_file
from sunsched.emit.eeprom_hex import raw_of
from sunsched.job import readback
from sunsched.job.batch import batch
from sunsched.job.batch.one_row import Maker, Task
from sunsched.job.batch.sites_file import columns, lines
from sunsched.job.climate_file import climate_in, read_record
from sunsched.job.pipeline import plan_of
from sunsched.job.renewal import record as records
from sunsched.job.renewal.due import due_years
from sunsched.job.tables import Ask, tables
from sunsched.study import light_log
from sunsched.study.observations import noted_nights, sun_on_nights
from tests.fuzz.mutations import damaged
from tests.job.renewals import config_in, run
from tests.support.made_sites import written

CONFIGS = sorted((Path(__file__).parents[2] / "configs").glob("*.toml"))
YEAR = 2027


@dataclass(frozen=True)
class Target:
    """One kind of input: its whole examples by name, and the reading of a damaged one."""

    name: str
    wholes: Callable[[], dict[str, bytes]]
    read: Callable[[str, bytes], str]

    def case(self, chance: random.Random) -> tuple[str, bytes]:
        """The name of an example, and the example damaged."""
        wholes = self.wholes()
        name = chance.choice(sorted(wholes))
        return name, damaged(chance, wholes[name], list(wholes.values()))


class Untrue(AssertionError):
    """An answer that is not so."""


@cache
def _folder() -> Path:
    return Path(tempfile.mkdtemp(prefix="fuzz"))


def _file(content: bytes, name: str = "input") -> Path:
    path = _folder() / name
    path.write_bytes(content)
    return path


@cache
def _configurations() -> dict[str, bytes]:
    return {path.stem: path.read_bytes() for path in CONFIGS}


def _read_configuration(_: str, content: bytes) -> str:
    try:
        configuration = toml_file.parsed(content, "x.toml")
        plan_of(configuration, YEAR, "x.toml")
    except ConfigError as error:
        if len(str(error).splitlines()) > MOST_PROBLEMS + 1 or len(str(error)) > 100_000:
            raise Untrue(f"a message of {len(str(error))} characters") from error
        return "refused"
    except SunschedError:
        return "refused"
    again = toml_file.validated(configuration.as_written(), "again")
    if again != configuration:
        raise Untrue("settings that do not read back equal")
    return "accepted"


@cache
def _tables() -> dict[str, bytes]:
    configuration = toml_file.read(CONFIGS[0])
    name = CONFIGS[0].name
    found = dict(tables(configuration, Ask((YEAR,), ("c", "json", "csv")), name).files)
    packed = tables(configuration, Ask((YEAR,), ("c", "eeprom"), "auto"), name).files
    return found | {f"packed {file}": content for file, content in packed.items() if "sunsched_" not in file}


def _plain(content: bytes) -> bytes:
    return content.removeprefix(b"\xef\xbb\xbf").replace(b"\r\n", b"\n")


def _read_table(name: str, content: bytes) -> str:
    try:
        table = readback.read_bytes(content)
    except DamagedError:
        return "refused"
    differ, proof = readback.compared(table, toml_file.read(CONFIGS[0]), CONFIGS[0].name)
    if differ or not proof:
        return "refused"
    whole = _tables()[name]
    if table.kind == "Intel HEX":
        same = raw_of(_plain(content).decode()) == raw_of(whole.decode())
    elif table.kind == "raw image":
        same = content.startswith(whole)  # a chip's memory is longer than its image
    else:
        # A text without its digest, made anew and compared, may be any version's; it compiles to the same.
        same = _plain(content) in [_plain(other) for other in _tables().values()] or proof == "made anew"
    if not same:
        raise Untrue(f"a damaged {table.kind} is called equal")
    return "accepted"


@cache
def _logs() -> dict[str, bytes]:
    chance = random.Random(3)
    day = [
        f"2027-03-01 {h:02d}:{m:02d},{max(0, 400 - abs(h * 60 + m - 720)) * 9}" for h in range(24) for m in range(60)
    ]
    chip = [
        f"2027-03-{d:02d},{h:02d}:{chance.randrange(60):02d}:07,quarter,{h * 40},up,,,"
        for d in (1, 2)
        for h in range(24)
    ]
    nights = [f"2027-03-{d:02d},18:{10 + d:02d}" for d in range(1, 29)]
    record = [f"2026-06-{d:02d}T{h:02d}:00Z,{h * 1000}" for d in range(1, 5) for h in range(24)]
    head = "# site Larch end\n# chip_offset_min 60\ndate,time,event,counts,door,move,reason,alarms\n"
    return {
        "light": "\n".join(["time,lux", *day, ""]).encode(),
        "chip": (head + "\n".join(chip) + "\n").encode(),
        "nights": "\n".join([*nights, ""]).encode(),
        "climate": "\n".join(["month,clearness", *(f"{n},0.{40 + n}" for n in range(1, 13)), ""]).encode(),
        "record": "\n".join(["time,lux", *record, ""]).encode(),
    }


def _read_log(name: str, content: bytes) -> str:
    configuration = toml_file.read(CONFIGS[0])
    site = configuration.site
    try:
        if name in ("light", "chip"):
            log = light_log.read(_file(content))
            if any(not np.isfinite(day[~np.isnan(day)]).all() for day in log.days.values()):
                raise Untrue("light that is no number")
        elif name == "nights":
            noted = noted_nights(content.decode("utf-8-sig", "replace").splitlines(), "x")
            sun_on_nights(noted, "x", site.latitude_deg, site.longitude_deg, lambda minute: minute)
        elif name == "climate":
            climate_in(content.decode("utf-8-sig"), "x", site.latitude_deg)
        else:
            read_record(_file(content), configuration, YEAR)
    except (SunschedError, UnicodeDecodeError):
        return "refused"
    return "accepted"


@cache
def _sites() -> dict[str, bytes]:
    sites, _, _ = written(_folder(), 6, 1)
    return {"sites": sites.read_bytes()}


def _read_sites(_: str, content: bytes) -> str:
    path = _file(content, "sites.csv")
    try:
        heading, first = columns(path)
        task = Task(toml_file.table_of(str(_folder() / "rules.toml")), heading, YEAR, ("json",), "x", None)
        rows = Maker(task).rows(list(lines(path, first.end, first.row + 1))[:8])
    except SunschedError:
        return "refused"
    return "accepted" if any(row.good for row in rows) else "refused"


@cache
def _kept() -> dict[str, bytes]:
    folder = _folder() / "renewed"
    folder.mkdir()
    run(config_in(folder), folder / "out", "2027-06-01", ahead=0)
    state = batch.State("0" * 64, 130, 4000, 3000, "0" * 64, 0, 0, 0, 120, 8)
    return {
        "renewal": (folder / "out" / "larch_end" / records.NAME).read_bytes(),
        "batch": str(asdict(state)).replace("'", '"').replace("False", "false").encode(),
    }


def _read_kept(name: str, content: bytes) -> str:
    if name == "batch":
        return "refused" if batch._read_state(_file(content)) is None else "accepted"
    live = _folder() / "renewed" / "out" / "larch_end"
    (live / records.NAME).write_bytes(content)
    record = records.read(live)
    configuration = toml_file.read(_folder() / "renewed" / "larch_end.toml")
    due = due_years(live, record, configuration, {YEAR: plan_of(configuration, YEAR)}, ("json",))
    if record is None and not due:
        raise Untrue("a damaged record, and nothing is due")
    return "refused" if record is None else "accepted"


TARGETS = (
    Target("configuration", _configurations, _read_configuration),
    Target("tables", _tables, _read_table),
    Target("logs", _logs, _read_log),
    Target("sites files", _sites, _read_sites),
    Target("kept records", _kept, _read_kept),
)
