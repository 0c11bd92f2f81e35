"""The figures that one interpreter measures by itself, in parts: `python -m bench.parts NAME` prints one as JSON.

A row is what is measured, the figure, its format and the goal or a remark. `bench` runs each part several times, and
with another checkout's package in turn, and shows the medians.
"""

from __future__ import annotations

import json
import os
import resource
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from typing import NamedTuple

ROOT = Path(__file__).parents[1]
LARCH = ROOT / "configs" / "larch_end.toml"
YEAR = 2027


class Row(NamedTuple):
    """One figure."""

    what: str
    value: float
    form: str
    goal: str


def sky() -> list[Row]:
    """A site-year of events to astral's loop and Skyfield's finder."""
    from bench import sky_bench

    found = sky_bench.figures()
    limits = {"astral": found["most_of_astral"], "skyfield": found["most_of_skyfield"]}
    return [
        Row(f"site-year of 8 events, to {name}", float(found[f"ratio_to_{name}"]), ".3f", f"at most {limits[name]}")
        for name in limits
    ]


def batch() -> list[Row]:
    """A batch, and where a site's time goes."""
    from bench import batch_bench

    found = batch_bench.figures()
    parts, whole = found["batch_parts_ms"], found["batch_archive_ms"]
    assert isinstance(parts, dict) and isinstance(whole, dict)
    plan = parts["plan"]
    rows = [
        Row("`batch`, site-years a second, two processes", _number(found, "batch_two_processes_per_s"), ".0f", "1,200"),
        Row(
            "`batch`, site-years a second of one core's time",
            1000 / _number(found, "batch_site_ms"),
            ".0f",
            "half of it",
        ),
        Row("`batch`, two processes to one", _number(found, "batch_gain_of_second"), ".2f", "near 2"),
    ]
    for form, goal in (("json", "1.0"), ("c", "1.2")):
        rows.append(Row(f"a site in `batch --as {form} --archive`, to a single plan", whole[form] / plan, ".2f", goal))
    return [*rows, *(Row(f"a site's {name}, to its plan", ms / plan, ".2f", "") for name, ms in parts.items())]


def _number(found: dict[str, float | bool | dict[str, float]], key: str) -> float:
    value = found[key]
    assert isinstance(value, float)
    return value


def tables() -> list[Row]:
    """Choosing and packing the smallest table."""
    from bench import table_bench

    found = table_bench.figures()
    names = [key.removeprefix("bytes_") for key in found if key.startswith("bytes_")]
    rows = [
        Row(
            f"smallest table of {name}, to its plan",
            found[f"choice_to_plan_{name}"],
            ".0f",
            f"{found[f'bytes_{name}']:.0f} bytes",
        )
        for name in names
    ]
    what = "memory while the smallest table of fig_yard is chosen [MB]"
    return [*rows, Row(what, found["choice_peak_mb"], ".1f", "")]


def study() -> list[Row]:
    """The comparison's weather years, and what its verdicts depend on."""
    from bench import study_bench

    few = study_bench.three_strategies(LARCH, 3)
    few_mb = study_bench.peak_mb()
    study_bench.three_strategies(LARCH, 12)
    growth = study_bench.peak_mb() / few_mb
    return [
        Row("weather years a second of processor time, three strategies", few, ".0f", "300"),
        Row("peak memory after four times as many weather years, to before", growth, ".2f", "near 1"),
        Row("`compare` of 70 weather years, all of it [processor s]", _compare_s(), ".1f", ""),
    ]


def _compare_s() -> float:
    from sunsched.config import toml_file
    from sunsched.job.comparison import comparison_of

    c = toml_file.read(str(LARCH))
    start = time.process_time()
    comparison_of(c, YEAR, 70, 1)
    return time.process_time() - start


WINTERS = "battery, 200 winters as stated"


def machine() -> list[Row]:
    """Drive and battery of a described machine, to the bare interpreter's start."""
    from bench.plain_environment import bare_python
    from sunsched.config import toml_file
    from sunsched.hardware.battery import battery_spans, winters_of
    from sunsched.hardware.figures import values_of
    from sunsched.hardware.solar_input import Panel, panel_year
    from sunsched.job import pipeline
    from sunsched.job.drive_and_battery import WEATHER_SEED, WEATHER_YEARS, battery_advice_of, battery_of
    from sunsched.report.page.report_file import report_of
    from sunsched.study.weather import daily_clearness

    c = toml_file.read(str(LARCH))
    work = battery_of(c, YEAR, LARCH.name)  # loads what the others need, so that imports are not counted
    with tempfile.TemporaryDirectory() as folder:
        # Not this environment's interpreter, nor the one it was made from: start-up code in either takes its time too.
        python = bare_python(Path(folder))
        bare_s = min(_bare_s(python) for _ in range(7))
    assert c.battery is not None
    battery = c.battery

    def winters() -> object:
        panel_year.cache_clear()  # once in a process: the Sun of the panel's year
        clearness = daily_clearness(work.climate.clearness, WEATHER_YEARS, WEATHER_SEED, work.model.day_memory)
        hills = work.place.skyline_azimuth_deg, work.place.skyline_altitude_deg
        panel = Panel(battery.panel_tilt_deg, battery.panel_azimuth_deg, *hills)
        place = panel_year(panel, work.place.latitude_deg, clearness.shape[1])
        spans, _ = battery_spans(battery, work.moves, work.climate_is_given, work.model)
        start_row = int(place.level_kwh.argmax())
        found = winters_of(values_of(spans), place, clearness, work.weather.warmer_c, start_row)
        return found.n_over_limit, found.n_flat

    parts: dict[str, Callable[[], object]] = {
        WINTERS: winters,
        "battery, 200 winters and every verdict": lambda: battery_of(c, YEAR, LARCH.name),
        "the battery's advised set": lambda: battery_advice_of(c, work),
        "a whole `report` of the same site": lambda: report_of(pipeline.built(c, YEAR), LARCH.name),
    }
    found = {name: min(_took_s(part) for _ in range(3)) for name, part in parts.items()}
    goals = {WINTERS: "1"}
    return [Row(f"{name}, to `python -c pass`", s / bare_s, ".1f", goals.get(name, "")) for name, s in found.items()]


def _took_s(part: Callable[[], object]) -> float:
    start = time.process_time()
    part()
    return time.process_time() - start


def _bare_s(python: str) -> float:
    # Not os.times, which counts in hundredths of a second: a bare start takes one of them.
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    subprocess.run([python, "-I", "-c", "pass"], check=True)
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    return after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime


def play() -> list[Row]:
    """A played door in Chromium."""
    from bench import play_bench

    found = play_bench.figures()
    if not found:
        return []
    return [
        Row("a played door in Chromium with its sky and log, to real time", found["world"], ",.0f", ""),
        Row("its program alone in Chromium, to real time", found["program"], ",.0f", ""),
        Row("start of a play (three days lived), in frames of 1/60 s", found["start_ms"] * 60 / 1000, ".1f", ""),
    ]


PARTS: dict[str, Callable[[], list[Row]]] = {one.__name__: one for one in (sky, batch, tables, study, machine, play)}


if __name__ == "__main__":
    with tempfile.TemporaryDirectory() as scratch:
        os.chdir(scratch)
        sys.stdout.write(json.dumps(PARTS[sys.argv[1]]()) + "\n")
