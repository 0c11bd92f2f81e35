"""Run every command over the shipped configurations twice and compare all that they print and write, byte for byte.

    python tools/same_bytes.py                    this checkout: vector routines against scalar ones
    python tools/same_bytes.py --against FOLDER   this checkout against another one, both with vector routines
    python tools/same_bytes.py --nudged           this checkout, as it is and with the last bits moved at random
    python tools/same_bytes.py --sample           a few commands over one configuration
    python tools/same_bytes.py --tests [WORDS]    pytest WORDS with the scalar routines alone

Configurations, logs and site lists come from this checkout for both sides, so that only the program differs. Every
run starts in an empty folder; its standard output, standard error and exit code are files beside those it writes.
Ends with 0 when all files are equal, 1 when some differ; `--keep FOLDER` keeps both sides for a look.
"""

from __future__ import annotations

import argparse
import contextlib
import datetime as dt
import math
import os
import platform
import queue
import shlex
import shutil
import subprocess
import sys
import tempfile
import tomllib
import zoneinfo
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from tools.warm_process import Warm

ROOT = Path(__file__).parent.parent
INPUTS = "../../inputs"  # as seen from the folder of a run
NO_SITE = "no_site"
SAMPLE_SITE = "larch_end"
# what glibc's sines, powers and logarithms are chosen by; 2.33 and later, then earlier names
C_LIBRARY_FEATURES = ("FMA", "AVX2", "FMA4", "AVX2_Usable", "FMA_Usable", "FMA4_Usable")

# name of the run -> its commands, one after another in one folder; {c} is the configuration, {in} the other inputs
_TABLES = "table {c} --year 2027 --as c --as json --as csv --as eeprom --out tables --json"
_COMPARE = "compare {c} --years 48"
SAMPLE_RUNS = ("table", "auto", "day", "battery", "cell", "drive", "replay", "angle", "chart", "compare")
RUNS: dict[str, tuple[str, ...]] = {
    "settings": ("settings {c}", "settings {c} --json"),
    "schema": ("schema",),
    "today": ("today {c} --at 2027-03-28T18:20", "today {c} --at 2027-12-01T12:00 --json"),
    "chip": ("chip state --port no_such_port",),  # without a chip: the message alone
    "planner": ("planner --port 99999",),  # without a server: the message alone
    "play": ("play {c} --date 2027-03-28 -o evening.html",),
    "twilight": (
        "twilight {c} --year 2027",
        "twilight {c} --year 2028 --json --depression 4.5 --depression -3",
        "twilight {c} --year 2026 --only --depression 9",
    ),
    "day": (
        "day {c} 2027-03-28",
        "day {c} 2027-03-28 --json",
        "day {c} 2027-06-21",
        "day {c} 2027-12-01 --json",
        "day {c} 2028-10-29 --json",
    ),
    "table": (
        _TABLES,
        "readback tables/{s}_2027.h {c}",
        "readback tables/{s}_2027.json --json",
        "readback tables/{s}_2027.csv {c} --json",
        "readback tables/{s}_2027.hex {c}",
        "table {c} --year 2028 --out more",
    ),
    "auto": (
        f"{_TABLES} --layout auto",
        "readback tables/{s}_2027.h {c} --json",
        "readback tables/{s}_2027.hex {c}",
        "table {c} --year 2028 --as c --layout curves --worst-error 1 --out curves --json",
        "table {c} --year 2028 --as c --layout slopes --out slopes --json",
        "table {c} --year 2028 --as c --layout blocks --out blocks --json",
        "table {c} --years 2027..2036 --as c --as eeprom --layout auto --worst-error 2 --out years --json",
    ),
    "firmware": ("firmware {c} --year 2027 --out door --json",),
    "drive": ("drive {c}", "drive {c} --json"),
    "battery": (
        "battery {c} --year 2027 --chart charge.svg",
        "battery {c} --year 2028 --json --climate {in}/climate.csv",
    ),
    "cell": ("cell {c}", "cell {c} --year 2028 --json"),
    "clock": (
        "clock {c} --at '2027-06-01 18:00'",
        "clock {c} --json --at '2027-06-01 18:00' --noted '2027-06-01 13:03:20' --true '2027-06-01 13:03:00' "
        "--set '2027-01-02 09:00'",
    ),
    "chart": ("chart {c} --year 2027 -o year.svg", "chart {c} --year 2028 -o -"),
    "report": (
        "report {c} --year 2027 -o report.html",
        "report {c} --year 2027 --compare --log {in}/{s}_nights.csv -o compared.html",
    ),
    "handover": (
        "handover {c} --from 2027-03-20 --to 2027-04-09 -o sheet.html --ics days.ics",
        "handover {c} --from 2027-10-20 --to 2027-11-09 -o sheet.txt --twelve-hour",
        "handover {c} --from 2027-06-20 --to 2027-06-30 -o sheet.csv",
        "handover {c} --from 2027-09-01 --commission",
    ),
    "compare": (
        f"{_COMPARE} --chart trade.svg",
        f"{_COMPARE} --json",
        f"{_COMPARE} --csv --seed 2 --climate {{in}}/climate.csv",
        f"{_COMPARE} --json --follow-light 0.3 --weather {{in}}/{{s}}_weather.csv",
    ),
    "faults": ("compare {c} --years 16 --faults", "compare {c} --years 16 --faults --json"),
    "replay": (
        "replay {c} {in}/{s}_log.csv --chart evenings.svg",
        "replay {c} {in}/{s}_log.csv --json",
    ),
    "angle": (
        "angle {c} {in}/{s}_nights.csv --write angled.toml",
        "angle {c} {in}/{s}_nights.csv --json --leave-out 0.1 --light {in}/{s}_log.csv",
    ),
    "renew": (
        "renew {c} --out kept --as c --as csv --as eeprom --today 2027-11-03 --json",
        "renew {c} --out kept --check --today 2027-12-20",
        "renew {c} --out kept --today 2028-11-25",
    ),
    "batch": (
        "batch {in}/sites.csv {c} --year 2027 --jobs 1 --out some --as c --as json --as csv --as eeprom",
        "batch {in}/sites.csv {c} --year 2028 --jobs 1 --out packed --archive --json",
    ),
}
NO_SITE_RUNS: dict[str, tuple[str, ...]] = {
    "sample": ("sample", "sample --latitude 52.25 --longitude -1.5 --zone Europe/London --name Orchard -o made.toml"),
    "boards": ("boards", "boards --all", "boards --json"),
    "help": ("--help", "--version"),
}


@dataclass(frozen=True)
class Side:
    """One way to run: a name, the checkout whose package runs, what is added to the environment, and where Python
    looks before the checkout.
    """

    name: str
    checkout: Path
    environment: dict[str, str]
    before: tuple[Path, ...] = ()

    @property
    def path(self) -> str:
        """PYTHONPATH of its processes."""
        return os.pathsep.join(str(folder) for folder in (*self.before, self.checkout))


def dispatched_features() -> list[str]:
    """The processor features for which this build of numpy holds routines of their own, beside its baseline."""
    found = np.show_config(mode="dicts")["SIMD Extensions"]
    return [*found.get("found", []), *found.get("not found", [])]


def scalar_environment() -> dict[str, str]:
    """What makes numpy, OpenBLAS and the C library run the routines of a processor with no more than the baseline.

    numpy and OpenBLAS read this when they are loaded, the GNU C library at the start of a process; where these
    names mean nothing (another C library, another processor family) they change nothing.
    """
    return {
        "NPY_DISABLE_CPU_FEATURES": " ".join(dispatched_features()),
        **({"OPENBLAS_CORETYPE": "Prescott"} if platform.machine() in ("x86_64", "AMD64") else {}),
        "GLIBC_TUNABLES": "glibc.cpu.hwcaps=" + ",".join(f"-{name}" for name in C_LIBRARY_FEATURES),
    }


def _sin_altitude(utc_min: float, latitude_deg: float, longitude_deg: float) -> float:
    """The Sun's altitude, as a sine and within a degree: enough for invented logs, and without the package."""
    day = utc_min / 1440.0 % 365.25
    declination = math.radians(-23.44) * math.cos(2 * math.pi * (day + 10) / 365.25)
    turn = 2 * math.pi * (day - 81) / 365.25
    ahead_min = 9.87 * math.sin(2 * turn) - 7.53 * math.cos(turn) - 1.5 * math.sin(turn)  # the sundial's
    hour = math.radians((utc_min % 1440 + ahead_min) / 4.0 - 180.0 + longitude_deg)
    latitude = math.radians(latitude_deg)
    level, swing = math.sin(latitude) * math.sin(declination), math.cos(latitude) * math.cos(declination)
    return level + swing * math.cos(hour)


# invented for this comparison: altitude [degrees], log10 of the light [lux]
_LIGHT = ((-91.0, -3.3), (-18.0, -3.2), (-12.0, -2.0), (-6.0, 0.5), (-3.0, 1.7), (0.0, 2.8), (5.0, 3.8), (91.0, 5.1))


def _lux(altitude_deg: float) -> float:
    below = max(pair for pair in _LIGHT if pair[0] <= altitude_deg)
    above = min(pair for pair in _LIGHT if pair[0] > altitude_deg)
    share = (altitude_deg - below[0]) / (above[0] - below[0])
    return math.pow(10.0, below[1] + share * (above[1] - below[1]))


def _stamp(utc_min: int) -> str:
    return f"{dt.datetime(1970, 1, 1) + dt.timedelta(minutes=utc_min):%Y-%m-%dT%H:%M}Z"


def _light_rows(first: str, n_days: int, step_min: int, place_deg: tuple[float, float], part: float) -> Iterator[str]:
    """Lines `time,lux` of a made-up record: `part` of the light, and every third day dull."""
    yield "time,lux"
    start = (dt.date.fromisoformat(first) - dt.date(1970, 1, 1)).days * 1440
    for utc_min in range(start, start + n_days * 1440, step_min):
        altitude_deg = math.degrees(math.asin(_sin_altitude(utc_min, *place_deg)))
        dull = 0.35 if utc_min // 1440 % 3 == 0 else 1.0
        yield f"{_stamp(utc_min)},{_lux(altitude_deg) * part * dull:.4f}"


def _night_rows(first: str, n_days: int, place_deg: tuple[float, float], zone: str) -> Iterator[str]:
    """Dates and civil times at which the last of some made-up birds went in."""
    start = (dt.date.fromisoformat(first) - dt.date(1970, 1, 1)).days * 1440
    for day in range(n_days):
        noon = start + day * 1440 + 720 - int(4 * place_deg[1])
        sought = math.sin(math.radians(-3.0 - 0.4 * (day * 7 % 5)))
        dusk = next(m for m in range(noon, noon + 720) if _sin_altitude(m, *place_deg) < sought)
        civil = dt.datetime.fromtimestamp(dusk * 60, tz=zoneinfo.ZoneInfo(zone))
        yield f"{civil:%Y-%m-%d,%H:%M}"


def write_inputs(folder: Path, sites: list[str], runs: list[str]) -> None:
    """Put this checkout's configurations and the made-up logs, climate and site list that `runs` read into `folder`."""
    folder.mkdir(parents=True)
    for name in sites:
        source = ROOT / "configs" / f"{name}.toml"
        shutil.copy(source, folder)
        site = tomllib.loads(source.read_text(encoding="utf-8"))["site"]
        place_deg = float(site["latitude_deg"]), float(site["longitude_deg"])
        texts = {
            "log": _light_rows("2027-03-01", 24, 2, place_deg, 0.3),
            "nights": _night_rows("2027-03-01", 24, place_deg, str(site["zone"])),
            "weather": _light_rows("2026-01-01", 365, 10, place_deg, 0.7),
        }
        asked = " ".join(command for run in runs for command in RUNS[run])
        for kind, lines in ((kind, lines) for kind, lines in texts.items() if f"_{kind}.csv" in asked):
            (folder / f"{name}_{kind}.csv").write_text("\n".join(lines) + "\n", encoding="utf-8")
    climate = [f"{month},{0.35 + 0.02 * min(month, 13 - month)}" for month in range(1, 13)]
    (folder / "climate.csv").write_text("\n".join(["month,clearness", *climate]) + "\n", encoding="utf-8")
    rows = ["name,latitude,longitude,zone"]
    zones = (("Europe/Zurich", 46.4, 8.1), ("America/Chicago", 41.3, -88.2), ("Pacific/Auckland", -44.8, 170.3))
    for k in range(12):
        zone, latitude_deg, longitude_deg = zones[k % 3]
        rows.append(f"Hut {k},{latitude_deg + k * 0.173:.3f},{longitude_deg + k * 0.057:.3f},{zone}")
    (folder / "sites.csv").write_text("\n".join([*rows, "Bad row,123,4,Europe/Oslo"]) + "\n", encoding="utf-8")


def shipped() -> list[str]:
    """The names of the shipped configurations."""
    return sorted(path.stem for path in (ROOT / "configs").glob("*.toml"))


Run = tuple[str, str, tuple[str, ...]]


def plan_of(sites: list[str], runs: list[str]) -> list[Run]:
    """Site, name and commands of every run."""
    found = [(site, run, RUNS[run]) for site in sites for run in runs]
    return found + [(NO_SITE, run, commands) for run, commands in NO_SITE_RUNS.items()]


def run_one(warm: Warm, top: Path, site: str, run: str, commands: tuple[str, ...]) -> None:
    """Run the commands of one run in its folder under `top`; an error of a command is a result like any other."""
    folder = top / site / run
    folder.mkdir(parents=True)
    for number, command in enumerate(commands, 1):
        config = f"{INPUTS}/{site}.toml"
        words = [word.format(**{"c": config, "in": INPUTS, "s": site}) for word in shlex.split(command)]
        code = warm.run(words, folder, folder / f"{number}.stdout", folder / f"{number}.stderr")
        (folder / f"{number}.exit").write_text(f"{code}\n", encoding="utf-8")


def run_side(side: Side, top: Path, sites: list[str], runs: list[str], jobs: int) -> None:
    """Fill `top` with a folder of inputs and a folder for each site and run."""
    # a copy, so that nobody's edit meanwhile mixes two states
    with tempfile.TemporaryDirectory() as scratch:
        package = shutil.copytree(side.checkout / "sunsched", Path(scratch) / "sunsched")
        copied = replace(side, checkout=package.parent)
        write_inputs(top / "inputs", sites, runs)
        _run_all(copied, top, plan_of(sites, runs), jobs)


def _run_all(side: Side, top: Path, plan: list[Run], jobs: int) -> None:
    kept = {key: value for key, value in os.environ.items() if not key.startswith(("NPY_", "PYTHON", "COLUMNS"))}
    environment = {**kept, "PYTHONPATH": side.path, "COLUMNS": "120", "NO_COLOR": "1", **side.environment}
    with contextlib.ExitStack() as stack:
        idle = queue.SimpleQueue[Warm]()
        for _ in range(jobs):
            idle.put(stack.enter_context(Warm(environment)))
        pool = stack.enter_context(ThreadPoolExecutor(jobs))

        def run(entry: Run) -> None:
            warm = idle.get()
            try:
                if warm.where().resolve() != (side.checkout / "sunsched" / "__init__.py").resolve():
                    raise RuntimeError(f"{side.name}: not the package of {side.checkout} runs, but {warm.where()}")
                run_one(warm, top, *entry)
            finally:
                idle.put(warm)

        for _ in pool.map(run, plan):
            pass


def differing(one: Path, two: Path) -> list[str]:
    """The files under two folders that differ or that only one of them has, sorted."""
    names = {str(path.relative_to(top)) for top in (one, two) for path in top.rglob("*") if path.is_file()}
    return sorted(name for name in names if _content(one / name) != _content(two / name))


def _content(path: Path) -> bytes | None:
    return path.read_bytes() if path.is_file() else None


def failed(top: Path, wanted: tuple[str, ...]) -> list[str]:
    """The commands under `top` that ended with another exit code than those in `wanted`."""
    codes = {path: path.read_text(encoding="utf-8").strip() for path in sorted(top.rglob("*.exit"))}
    return [f"{path.relative_to(top)}: {code}" for path, code in codes.items() if code not in wanted]


def _asked(words: list[str]) -> argparse.Namespace:
    parser = argparse.ArgumentParser(description="Compare the bytes of all outputs of two ways to run sunsched.")
    parser.add_argument("--against", type=Path, metavar="FOLDER", help="another checkout; without it numpy's dispatch")
    parser.add_argument("--nudged", action="store_true", help="with the last bits of sines and powers moved at random")
    parser.add_argument("--sample", action="store_true", help="a few commands over one configuration")
    parser.add_argument("--keep", type=Path, metavar="FOLDER", help="keep the files of both sides here")
    parser.add_argument("--jobs", type=int, default=os.cpu_count() or 1, help="processes at a time")
    parser.add_argument("--site", action="append", choices=shipped(), help="only this configuration; repeats")
    parser.add_argument("--run", action="append", choices=list(RUNS), help="only this kind of run; repeats")
    parser.add_argument("--tests", nargs=argparse.REMAINDER, help="pytest with these words and the scalar routines")
    return parser.parse_args(words)


def main(words: list[str]) -> int:
    """Run both sides, print what differs, return the exit code."""
    asked = _asked(words)
    if asked.tests is not None:
        environment = {**os.environ, **scalar_environment()}
        return subprocess.run([sys.executable, "-m", "pytest", *asked.tests], cwd=ROOT, env=environment).returncode
    sites = asked.site or ([SAMPLE_SITE] if asked.sample else shipped())
    runs = asked.run or list(SAMPLE_RUNS if asked.sample else RUNS)
    if asked.against:
        sides = Side("this", ROOT, {}), Side("that", asked.against.resolve(), {})
    elif asked.nudged:
        sides = Side("plain", ROOT, {}), Side("nudged", ROOT, {"NUDGE_SEED": "1"}, (ROOT / "tools" / "nudged",))
    else:
        sides = Side("vector", ROOT, {}), Side("scalar", ROOT, scalar_environment())
    with tempfile.TemporaryDirectory() as scratch:
        top = asked.keep or Path(scratch)
        for side in sides:
            run_side(side, top / side.name, sites, runs, asked.jobs)
        one, two = (top / side.name for side in sides)
        found = differing(one, two)
        n_files = sum(path.is_file() for path in one.rglob("*"))
        refused = len(failed(one, ("0",)))
    for name in found:
        sys.stdout.write(f"differs: {name}\n")
    names = " and ".join(side.name for side in sides)
    sys.stdout.write(f"{n_files} files of {names}: {len(found)} differ; {refused} commands ended with an error\n")
    return 1 if found else 0


if __name__ == "__main__":
    raise SystemExit(main(sys.argv[1:]))
