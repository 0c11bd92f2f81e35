"""Time and memory at the stated limits of inputs: `python -m tests.fuzz.limits`; files just below each limit are made.

Each is read by its command in a process of its own; seconds of processor time and the most memory are printed. The
limits are to be at most 5 s and 300 MB. Ends with 1 where one is passed.
"""

from __future__ import annotations

import datetime as dt
import os
import sys
import tempfile
from collections.abc import Iterator
from itertools import islice
from pathlib import Path

from sunsched.config import toml_file
from sunsched.job import climate_file, readback
from sunsched.job.batch import sites_file
from sunsched.job.logs import angle
from sunsched.study import light_log
from tests.job.renewals import CONFIGS, ROOT

MOST_S, MOST_MB = 5.0, 300.0
LARCH = str(CONFIGS / "larch_end.toml")


def filled(path: Path, head: str, rows: Iterator[str], limit: int) -> Path:
    """A file of rows that ends just below a limit [bytes]."""
    size = 0
    with path.open("w", encoding="utf-8") as file:
        size += file.write(head)
        for row in rows:
            if size + len(row) > limit:
                return path
            size += file.write(row)
    return path


def minutes(step_s: int) -> Iterator[str]:
    """Times from 2000 on."""
    when = dt.datetime(2000, 1, 1)
    while when.year < 2050:
        yield when.isoformat(" ")
        when += dt.timedelta(seconds=step_s)


def inputs(folder: Path) -> Iterator[tuple[str, int, list[str]]]:
    """What is read, its limit [bytes], and the command."""
    limit = toml_file.LARGEST_BYTES
    page = (CONFIGS / "larch_end.toml").read_text(encoding="utf-8")
    remarks = filled(folder / "long.toml", page, (f"# remark {n}\n" for n in range(10**6)), limit)
    yield "configuration", limit, ["settings", str(remarks)]
    keys = filled(folder / "keys.toml", f"{page}\n[flok]\n", (f"k{n} = 1\n" for n in range(10**6)), limit)
    yield "configuration of unknown keys", limit, ["settings", str(keys)]
    limit = readback.LARGEST_BYTES
    table = filled(folder / "t.json", '{"format":"sunsched-table","days":[0', (",1" for _ in range(10**6)), limit)
    yield "table", limit, ["readback", str(table)]
    limit = angle.LARGEST_BYTES
    nights = ((dt.date(1995, 1, 1) + dt.timedelta(days=n % 18000)).isoformat() + ",18:30\n" for n in range(10**7))
    yield "list of nights", limit, ["angle", LARCH, str(filled(folder / "nights.csv", "", nights, limit))]
    limit = climate_file.LARGEST_BYTES
    months = (f"# {n}\n" for n in range(10**6))
    climate = filled(folder / "c.csv", "month,clearness\n" + "".join(f"{n},0.4\n" for n in range(1, 13)), months, limit)
    yield "climate", limit, ["battery", LARCH, "--year", "2027", "--weather-years", "20", "--climate", str(climate)]
    limit = light_log.LARGEST_BYTES
    log = filled(folder / "log.csv", "time,lux\n", (f"{when},12.5\n" for when in minutes(60)), limit)
    yield "light log", limit, ["replay", LARCH, str(log)]
    head = "# site Larch end\n# chip_offset_min 60\ndate,time,event,counts,door,move,reason,alarms\n"
    rows = islice(minutes(900), light_log.MOST_DOOR_ROWS - 10)
    chip = (f"{when.replace(' ', ',')},quarter,400,up,,,\n" for when in rows)
    yield "door's log, by its rows", limit, ["replay", LARCH, str(filled(folder / "door.csv", head, chip, limit))]
    limit = sites_file.LARGEST_BYTES
    bad = ("Hut,97.5,8.0,Europe/Zurich\n" + "x" * 90_000 + "\n" for _ in range(10**6))
    sites = filled(folder / "sites.csv", "name,latitude,longitude,zone\n", bad, limit)
    yield "sites", limit, ["batch", str(sites), LARCH, "--out", str(folder / "out"), "--year", "2027", "--jobs", "1"]


def main() -> int:
    """Measure all."""
    passed = 0
    print("| input | limit [bytes] | processor [s] | memory [MB] | exit |\n|---|---|---|---|---|")
    with tempfile.TemporaryDirectory() as name:
        for what, limit, words in inputs(Path(name)):
            child = os.fork()
            if child == 0:
                with open(os.devnull, "w") as nothing:
                    os.dup2(nothing.fileno(), 1)
                    os.dup2(nothing.fileno(), 2)
                os.environ["PYTHONPATH"] = str(ROOT)
                os.execv(sys.executable, [sys.executable, "-m", "sunsched", *words])
            _, status, used = os.wait4(child, 0)
            seconds, memory = used.ru_utime + used.ru_stime, used.ru_maxrss / 1000
            code = os.waitstatus_to_exitcode(status)
            print(f"| {what} | {limit:,} | {seconds:.1f} | {memory:.0f} | {code} |", flush=True)
            passed += seconds > MOST_S or memory > MOST_MB
    return 1 if passed else 0


if __name__ == "__main__":
    raise SystemExit(main())
