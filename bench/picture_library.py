"""Our own SVG writer weighed against the libraries for pictures: `python -m bench.picture_library FOLDER`.

The battery's picture is drawn twice, by this package and by matplotlib, the one library that draws every kind of
picture needed, and written to docs/ to be looked at side by side. FOLDER holds the libraries, each in a folder of its
name, as `pip install --target FOLDER/NAME NAME` puts them; without it only the two pictures are made.
"""

from __future__ import annotations

import hashlib
import io
import os
import re
import resource
import subprocess
import sys
from pathlib import Path
from typing import Any

import numpy as np

from sunsched.base.civil_time import MONTHS
from sunsched.config import toml_file
from sunsched.hardware.battery_sums import BatterySums
from sunsched.hardware.solar_input import month_of_row
from sunsched.job.drive_and_battery import battery_of
from sunsched.report.pictures.battery import battery_chart, battery_finding
from sunsched.report.pictures.svg import ROLES

ROOT = Path(__file__).parents[1]
IMPORTS = {
    "sunsched": "import sunsched.report.pictures.svg",
    "drawsvg": "import drawsvg",
    "svgwrite": "import svgwrite",
    "pygal": "import pygal",
    "altair": "import altair, vl_convert",
    "matplotlib": "import matplotlib.figure, matplotlib.backends.backend_svg",
    "plotnine": "import plotnine",
}
ALREADY = ("numpy", "numpy.libs", "tzdata", "bin", "share")  # what sunsched brings in any case, and no code
RUNS = 7


def with_matplotlib(sums: BatterySums, site: str) -> str:
    """The battery's picture by matplotlib, text as text and the same bytes each time: 460 by 640 units."""
    import matplotlib
    from matplotlib.figure import Figure

    matplotlib.rcParams.update({"svg.fonttype": "none", "svg.hashsalt": "sunsched", "font.size": 14.5 * 0.72})
    figure = Figure(figsize=(4.6, 6.4), layout="constrained")
    start, n_days = sums.start_row, len(sums.limit_held_ah)
    held = np.roll(sums.stated.years.end, -start, axis=1)
    low, high = np.quantile(np.roll(sums.drawn.years.end, -start, axis=1), (0.05, 0.95), axis=0)
    months = np.roll(month_of_row(n_days), -start)
    firsts = [k for k in range(1, n_days) if months[k] != months[k - 1]]
    figure.suptitle("\n".join((f"{site}: charge of the battery, Ah", *battery_finding(sums))), wrap=True, fontsize=11.5)
    axes: Any = figure.subplots(2, 1, height_ratios=(1, 2))
    for number, (panel, every) in enumerate(zip(axes, (2, 1), strict=True)):
        panel.fill_between(
            range(n_days), low, high, color=ROLES["band"][0], label="nine winters in ten, inputs in range"
        )
        panel.axhline(float(sums.stated.years.start[0, start]), color=ROLES["quiet"][0], label="full")
        levels = (("depth limit", sums.limit_held_ah, "third", ":"), ("flat", sums.flat_held_ah, "alarm", "-."))
        for words, values, role, dash in levels:
            panel.plot(np.roll(values, -start), color=ROLES[role][0], linestyle=dash, label=words)
        for words, year, role, dash in (("typical", sums.typical, "close", "-"), ("worst", sums.worst, "open", "--")):
            panel.plot(held[year], color=ROLES[role][0], linestyle=dash, label=f"{words} weather")
        panel.set_xticks(firsts[::every], [MONTHS[int(months[k])] for k in firsts[::every]])
        panel.set_xlim(*((firsts[3], firsts[9]) if number else (0, n_days - 1)))
    axes[1].set_ylim(float(low[firsts[3] : firsts[9]].min()) - 0.2, float(high.max()) * 1.06)
    axes[1].legend(fontsize="small")
    made = io.StringIO()
    figure.savefig(made, format="svg", metadata={"Date": None, "Title": site})
    return made.getvalue()


def pictures() -> dict[str, str]:
    """The same figures drawn by both, as SVG."""
    work = battery_of(toml_file.read(str(ROOT / "configs" / "larch_end.toml")), 2027, "larch_end.toml")
    return {
        "sunsched": battery_chart(work.sums, work.site_name).file_text(),
        "matplotlib": with_matplotlib(work.sums, work.site_name),
    }


def start_cpu_s(folder: Path | None, statement: str) -> float:
    """Processor time of a fresh interpreter that runs one statement [s], the least of some runs."""
    env = {**os.environ, "PYTHONPATH": str(folder or ROOT), "PYTHONDONTWRITEBYTECODE": ""}
    best = float("inf")
    for _ in range(RUNS):
        before = resource.getrusage(resource.RUSAGE_CHILDREN)
        subprocess.run([sys.executable, "-c", statement], env=env, check=True, capture_output=True)
        after = resource.getrusage(resource.RUSAGE_CHILDREN)
        best = min(best, after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime)
    return best


def size_mb(folder: Path) -> float:
    """What a library adds to a disk that has sunsched's own needs [MB of 1,000,000 bytes]."""
    files = (path for path in folder.rglob("*") if path.is_file() and "__pycache__" not in path.parts)
    return sum(path.stat().st_size for path in files if path.relative_to(folder).parts[0] not in ALREADY) / 1e6


def own_mb() -> float:
    """The same of the modules that are the writer."""
    folder = ROOT / "sunsched" / "report" / "pictures"
    return sum((folder / name).stat().st_size for name in ("svg.py", "lettering.py")) / 1e6


def said(name: str, svg: str, again: str) -> str:
    """What a picture holds that a page and its readers need."""
    texts, styles = len(re.findall(r"<text", svg)), len(re.findall(r"\sstyle=", svg))
    same = "the same" if hashlib.sha256(svg.encode()).digest() == hashlib.sha256(again.encode()).digest() else "others"
    spoken = "yes" if "<desc" in svg and 'role="img"' in svg else "a title alone" if "<title" in svg else "no"
    dark = "yes" if "prefers-color-scheme" in svg else "no"
    return f"| {name} | {len(svg):,} | {same} | {texts} | {styles} | {spoken} | {dark} |"


def main() -> None:
    """Make both pictures and print the rows of docs/picture_library.md."""
    drawn, again = pictures(), pictures()
    for name, svg in drawn.items():
        (ROOT / "docs" / f"picture_library_{name}.svg").write_text(svg, encoding="utf-8")
        print(said(name, svg, again[name]))
    folder = Path(sys.argv[1]) if len(sys.argv) > 1 else None
    bare = start_cpu_s(None, "pass")
    for name, statement in IMPORTS.items() if folder else ():
        assert folder is not None
        place = None if name == "sunsched" else folder / name
        ratio = start_cpu_s(place, statement) / bare
        print(f"| {name} | {size_mb(place) if place else own_mb():.2f} | {ratio:.1f} |")


if __name__ == "__main__":
    main()
