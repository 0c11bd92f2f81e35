"""Site-years a second of `batch`, one plain form, with one process and with two; and where a site's time goes."""

from __future__ import annotations

import json
import os
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

from sunsched.config import toml_file
from sunsched.job import pipeline
from sunsched.job.batch import one_row
from sunsched.job.batch.batch import Ask, Batch
from sunsched.job.batch.one_row import Maker, Task
from sunsched.job.batch.sites_file import columns, lines

ROWS = 1200
YEAR = 2027
ZONES = (("Europe/Zurich", 47.0, 8.0), ("Europe/London", 52.0, -1.0), ("America/Chicago", 41.0, -88.0))
RULES = '[site]\nname = "x"\nlatitude_deg = 47\nlongitude_deg = 8\nzone = "Europe/Zurich"\n'
GOAL_PER_S = 500


def sites(folder: Path, n: int) -> tuple[Path, Path]:
    """A file of n sites spread over three zones, and the rules."""
    rows = ["name,latitude,longitude,zone"]
    for k in range(n):
        zone, latitude, longitude = ZONES[k % 3]
        rows.append(f"Hut {k},{latitude + k % 97 / 50:.4f},{longitude + k % 89 / 50:.4f},{zone}")
    (folder / "sites.csv").write_text("\n".join(rows) + "\n")
    (folder / "rules.toml").write_text(RULES)
    return folder / "sites.csv", folder / "rules.toml"


def rate_per_s(folder: Path, jobs: int, n: int, out: str) -> float:
    """Site-years a second, start of the processes included."""
    path, rules = sites(folder, n)
    os.sync()  # what others left to write would be written in this run's time
    start = time.perf_counter()
    work = Batch(Ask(path, str(rules), folder / out, YEAR, ("json",), jobs))
    for _ in work.run():
        pass
    assert (work.state.good, work.state.bad) == (n, 0)
    return n / (time.perf_counter() - start)


def processor_ms(folder: Path, n: int = 600, form: str = "json", as_archive: bool = False) -> float:
    """Processor time of a site in one process, everything included [ms]; a busy machine counts for less here."""
    path, rules = sites(folder, n)
    out = folder / f"cpu_{form}_{as_archive}"
    start = time.process_time()
    for _ in Batch(Ask(path, str(rules), out, YEAR, (form,), 1, as_archive)).run():
        pass
    return (time.process_time() - start) * 1e3 / n


def where_ms(folder: Path, n: int = 100) -> dict[str, float]:
    """Processor time of a site's parts [ms]: the best of several rounds."""
    path, rules = sites(folder, n)
    heading, first = columns(path)
    (folder / "where").mkdir(exist_ok=True)
    task = Task(toml_file.table_of(rules), heading, YEAR, ("json",), "", folder / "where")
    maker, rows = Maker(task), list(lines(path, first.end, 2))
    made = [maker._reader.read(heading.cells_of(row.content)) for row in rows]
    works = [pipeline.built(configuration, YEAR) for configuration, _ in made]
    texts = [pipeline.texts_of(work, ["json"])["json"] for work in works]

    def write() -> None:
        for k, text in enumerate(texts):
            one_row._write(folder / "where" / str(k), {"a": text})

    parts: dict[str, Callable[[], object]] = {
        "read the row": lambda: [maker._reader.read(heading.cells_of(row.content)) for row in rows],
        "plan": lambda: [pipeline.plan_of(configuration, YEAR) for configuration, _ in made],
        "json": lambda: [pipeline.texts_of(work, ["json"]) for work in works],
        "csv": lambda: [pipeline.texts_of(work, ["csv"]) for work in works],
        "c": lambda: [pipeline.texts_of(work, ["c"]) for work in works],
        "write": write,
    }
    best = dict.fromkeys(parts, float("inf"))
    for _ in range(5):
        for name, part in parts.items():
            start = time.process_time()
            part()
            best[name] = min(best[name], (time.process_time() - start) * 1e3 / n)
    return {name: round(ms, 3) for name, ms in best.items()}


def figures(n: int = ROWS) -> dict[str, float | bool | dict[str, float]]:
    """Rates with one and two processes, the gain of the second, and the parts of a site's time."""
    with tempfile.TemporaryDirectory() as folder:
        one = max(rate_per_s(Path(folder), 1, n // 2, f"one{k}") for k in range(5))
        two = max(rate_per_s(Path(folder), 2, n, f"two{k}") for k in range(5))
        parts = where_ms(Path(folder))
        site_ms = processor_ms(Path(folder))
        whole = {form: processor_ms(Path(folder), 600, form, True) for form in ("json", "c")}
    return {
        "batch_site_ms": round(site_ms, 2),
        "batch_one_process_per_s": round(one, 1),
        "batch_two_processes_per_s": round(two, 1),
        "batch_gain_of_second": round(two / one, 2),
        "batch_goal_per_s": GOAL_PER_S,
        "batch_parts_ms": parts,
        "batch_archive_ms": whole,
    }


if __name__ == "__main__":
    print(json.dumps(figures(), indent=2))
