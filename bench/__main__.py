"""All of the project's figures in one run: `python -m bench` prints them and writes bench/figures.md.

Ratios, because a second is another on every machine: to astral's loop and Skyfield's finder, to `python -c pass`, to
the plan of a year, of two processes to one. Whole processes run in a plain environment, made for the run: see
plain_environment.py.
"""

from __future__ import annotations

import os
import platform
import sys
from importlib.metadata import version
from pathlib import Path

from bench import batch_bench, play_bench, sky_bench, study_bench, table_bench, whole_process

FIGURES = Path(__file__).with_name("figures.md")
PEERS = ("astral", "skyfield", "skyfield-data", "numpy", "pydantic", "typer")


def _sky() -> list[tuple[str, str, str]]:
    found = sky_bench.figures()
    limits = {"astral": found["most_of_astral"], "skyfield": found["most_of_skyfield"]}
    return [
        (f"site-year of 8 events, to {name}", f"{found[f'ratio_to_{name}']:.3f}", f"at most {limits[name]}")
        for name in limits
    ]


def _processes() -> list[tuple[str, str, str]]:
    found = whole_process.figures()
    return [
        ("`sunsched --help`, to `python -c pass`, plain environment", f"{found['help_to_bare']:.1f}", "at most 9"),
        ("`sunsched table`, to `python -c pass`, plain environment", f"{found['table_to_bare']:.1f}", "at most 23"),
        ("peak memory of `table` [MB]", f"{found['table_peak_mb']:.0f}", "at most 60"),
    ]


def _batch() -> list[tuple[str, str, str]]:
    found = batch_bench.figures()
    parts = found["batch_parts_ms"]
    assert isinstance(parts, dict)
    rows = [
        ("`batch`, site-years a second, two processes", f"{found['batch_two_processes_per_s']:.0f}", "at least 500"),
        (
            "`batch`, site-years a second of one core's time",
            f"{1000 / float(str(found['batch_site_ms'])):.0f}",
            "250 for the above",
        ),
        ("`batch`, two processes to one", f"{found['batch_gain_of_second']:.2f}", "near 2"),
    ]
    plan, whole = parts["plan"], found["batch_archive_ms"]
    assert isinstance(whole, dict)
    for form, goal in (("json", "1.0"), ("c", "1.2")):
        rows.append((f"a site in `batch --as {form} --archive`, to a single plan", f"{whole[form] / plan:.2f}", goal))
    return [*rows, *((f"a site's {name}, to its plan", f"{ms / plan:.2f}", "") for name, ms in parts.items())]


def _tables() -> list[tuple[str, str, str]]:
    found = table_bench.figures()
    return [
        (
            f"smallest table of {name}, to its plan",
            f"{found[f'choice_to_plan_{name}']:.0f}",
            f"{found[f'bytes_{name}']} bytes",
        )
        for name in (key.removeprefix("bytes_") for key in found if key.startswith("bytes_"))
    ] + [("memory while the smallest table of fig_yard is chosen [MB]", f"{found['choice_peak_mb']:.1f}", "")]


def _study() -> list[tuple[str, str, str]]:
    path = study_bench.ROOT / "configs" / "larch_end.toml"
    few = study_bench.three_strategies(path, 3)
    few_mb = study_bench.peak_mb()
    study_bench.three_strategies(path, 12)
    return [
        ("weather years a second of processor time, three strategies", f"{few:.0f}", ""),
        (
            "peak memory after four times as many weather years, to before",
            f"{study_bench.peak_mb() / few_mb:.2f}",
            "near 1",
        ),
    ]


def _play() -> list[tuple[str, str, str]]:
    found = play_bench.figures()
    if not found:
        return [("a played door, to real time", "none", "no Chromium here")]
    return [
        ("a played door in Chromium with its sky and log, to real time", f"{found['world']:,.0f}", ""),
        ("its program alone in Chromium, to real time", f"{found['program']:,.0f}", ""),
        ("start of a play (three days lived), in frames of 1/60 s", f"{found['start_ms'] * 60 / 1000:.1f}", ""),
    ]


def main() -> None:
    """Run every benchmark, print the table and write it."""
    peers = ", ".join(f"{name} {version(name)}" for name in PEERS)
    load = os.getloadavg()[0] if hasattr(os, "getloadavg") else 0.0
    head = [
        f"Python {platform.python_version()}, {peers}; {os.cpu_count()} cores, load {load:.1f} at the start.",
        "",
        "| what | figure | goal or remark |",
        "|---|---|---|",
    ]
    lines = []
    for part in (_sky, _processes, _batch, _tables, _study, _play):
        for what, figure, goal in part():
            lines.append(f"| {what} | {figure} | {goal} |")
            sys.stdout.write(f"{what:64} {figure:>9}  {goal}\n")
            sys.stdout.flush()
    FIGURES.write_text("\n".join([*head, *lines]) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
