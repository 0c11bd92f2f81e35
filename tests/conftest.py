"""Shared by all tests: where the shipped configurations and the goldens lie, and which tests begin a run."""

from __future__ import annotations

import contextlib
import gc
import importlib
import os
import re
import tomllib
from collections.abc import Iterator
from pathlib import Path

import pytest
from hypothesis import HealthCheck, settings

from sunsched.hardware import battery_sums
from sunsched.job import comparison, drive_and_battery
from sunsched.job.renewal import proof
from sunsched.sky import crossings, second_opinion
from sunsched.study import faults, scene
from sunsched.study.faults import closing_minutes
from sunsched.table import choose, layout
from tests.support import worked_once

# A search for garbage goes through all that the loaded modules hold: none while they are loaded.
gc.disable()
GARBAGE_AFTER = 100_000  # objects, as in a command: sunsched/__main__.py

ROOT = Path(__file__).parent.parent
CONFIGS = sorted((ROOT / "configs").glob("*.toml"))

# Fixed seeds on CI, so that a red run can be repeated; deadlines would time the machine, not the code.
settings.register_profile("ci", derandomize=True, deadline=None, suppress_health_check=[HealthCheck.too_slow])
settings.register_profile("local", deadline=None, suppress_health_check=[HealthCheck.too_slow])
settings.load_profile("ci" if os.environ.get("CI") else "local")


@pytest.fixture(params=CONFIGS, ids=lambda path: path.stem)
def config_path(request: pytest.FixtureRequest) -> Path:
    """Each shipped configuration in turn."""
    path = request.param
    assert isinstance(path, Path)
    return path


@pytest.fixture(scope="session")
def run_folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The folder that all processes of this run share."""
    base = tmp_path_factory.getbasetemp()
    return base.parent if "PYTEST_XDIST_WORKER" in os.environ else base


@pytest.fixture(scope="session", autouse=True)
def worked_out_once(run_folder: Path) -> Iterator[None]:
    """Work out once in a run what is the same in many tests: tests/support/worked_once.py says what."""
    folder = run_folder / "worked_once"
    folder.mkdir(exist_ok=True)
    sites = [tomllib.loads(path.read_text(encoding="utf-8"))["site"] for path in CONFIGS]
    places = {(float(site["latitude_deg"]), float(site["longitude_deg"])) for site in sites}
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(choose, "pack", worked_once.in_folder(folder))
        patch.setattr(drive_and_battery, "battery_sums", worked_once.battery_in_folder(folder))
        patch.setattr(scene, "sun_altitude_deg", worked_once.sun_in_folder(folder, places))
        patch.setattr(faults, "closing_minutes", worked_once.closings_in_folder(folder))
        patch.setattr(proof, "skyfield_events", worked_once.skyfield_in_folder(folder))
        yield


@pytest.fixture
def worked_out_anew(monkeypatch: pytest.MonkeyPatch) -> None:
    """Work out everything each time, for tests that two runs give the same."""
    monkeypatch.setattr(choose, "pack", layout.pack)
    monkeypatch.setattr(drive_and_battery, "battery_sums", battery_sums.battery_sums)
    monkeypatch.setattr(scene, "sun_altitude_deg", crossings.sun_altitude_deg)
    monkeypatch.setattr(faults, "closing_minutes", closing_minutes)
    monkeypatch.setattr(proof, "skyfield_events", second_opinion.skyfield_events)


@pytest.fixture
def two_assumptions(monkeypatch: pytest.MonkeyPatch) -> None:
    """Let a comparison move two of its assumptions: where a test is about the rest, the others take the time."""
    every = comparison.assumptions_of
    monkeypatch.setattr(comparison, "assumptions_of", lambda *given: every(*given)[:2])


SLOWEST = Path(__file__).parent / "slowest.md"


def slowest() -> list[str]:
    """The tests of tests/slowest.md, the slowest first."""
    return re.findall(r"^\|[ \d.|]+\| `(.+)` \|$", SLOWEST.read_text(encoding="utf-8"), flags=re.MULTILINE)


def begun_with(names: list[str], first: list[str], processes: int) -> list[str]:
    """`names` with the files of `first` dealt to the beginnings of equal parts: a process begins with each part.

    Whole files, because what a file's tests share would else be worked out in two processes.
    """
    known = set(names)
    files = list(dict.fromkeys(name.partition("::")[0] for name in first if name in known))
    by_file: dict[str, list[str]] = {file: [] for file in files}
    later: list[str] = []
    for name in names:
        by_file.get(name.partition("::")[0], later).append(name)
    found: list[str] = []
    for part in range(processes):
        # As pytest-xdist shares them out: each takes its equal share of what is left.
        end = len(found) + (len(names) - len(found)) // (processes - part)
        for file in files[part::processes]:
            found += by_file[file]
        more = max(0, end - len(found))
        found, later = found + later[:more], later[more:]
    return found


def pytest_collection(session: pytest.Session) -> None:
    """Load a share of the test modules first, another one in each process.

    Each process has to load all. The first time pytest rewrites a module it keeps what it made: processes that went
    through the modules in the same order would all rewrite every one at the same time.
    """
    worker = os.environ.get("PYTEST_XDIST_WORKER")
    if worker is None:
        return
    folders = [Path(word) for word in session.config.args]
    modules = sorted(path.resolve().relative_to(ROOT) for folder in folders for path in folder.rglob("test_*.py"))
    share = slice(int(worker.removeprefix("gw")), None, int(os.environ["PYTEST_XDIST_WORKER_COUNT"]))
    for path in modules[share]:
        # What does not load says so when it is collected.
        with contextlib.suppress(Exception, pytest.skip.Exception):
            importlib.import_module(".".join(path.with_suffix("").parts))


def pytest_collection_finish() -> None:
    """Look for garbage from now on, but not among the modules and tests that are there until the end."""
    gc.freeze()
    gc.set_threshold(GARBAGE_AFTER)
    gc.enable()


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Begin with the files of the slowest tests: one of them begun at the end would leave a processor idle."""
    by_name = {item.nodeid: item for item in items}
    if len(by_name) == len(items):
        processes = int(os.environ.get("PYTEST_XDIST_WORKER_COUNT", "1"))
        items[:] = [by_name[name] for name in begun_with(list(by_name), slowest(), processes)]
