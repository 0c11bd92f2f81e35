"""What each command loads: a start-up is mostly imports, so a command must not load what it does not use."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
LARCH = str(ROOT / "configs" / "larch_end.toml")
PACKAGES = (
    *("numpy", "pydantic", "rich", "skyfield", "astral", "jplephem", "scipy", "pandas"),
    *("filelock", "icalendar", "intelhex", "tomli_w", "concurrent", "multiprocessing"),
    *("starlette", "uvicorn", "tomlkit", "anyio"),
)
FLOORS = ("sky", "hardware", "plan", "table", "controller", "study", "emit", "report", "config", "job", "planner")
PLAN = {"sky", "hardware", "plan", "config"}

# Words, the packages and the floors of the project that may be loaded; everything else must not be.
LOADED: dict[str, tuple[list[str], set[str], set[str]]] = {
    "help": (["--help"], set(), set()),
    "help of table": (["table", "--help"], {"pydantic"}, {"emit", "table"}),  # pydantic by typer itself
    "help of renew": (["renew", "--help"], {"pydantic"}, {"emit"}),  # pydantic by typer itself
    "help of batch": (["batch", "--help"], {"pydantic"}, {"emit"}),  # pydantic by typer itself
    "help of planner": (["planner", "--help"], {"pydantic"}, set()),  # pydantic by typer itself
    "settings": (["settings", LARCH], {"numpy", "pydantic", "tomli_w"}, {*PLAN, "report"}),
    "twilight": (["twilight", LARCH, "--year", "2027", "--json"], {"numpy", "pydantic"}, {*PLAN, "job"}),
    "day": (["day", LARCH, "2027-03-28"], {"numpy", "pydantic"}, {*PLAN, "job", "emit", "table", "report"}),
    # What is described is warned of: drive, battery (the study's weather) and cell (the controller's levels).
    "table": (
        ["table", LARCH, "--year", "2027"],
        {"numpy", "pydantic"},
        {*PLAN, "job", "emit", "table", "report", "study", "controller"},
    ),
    "table of a site alone": (
        ["table", "site.toml", "--year", "2027"],
        {"numpy", "pydantic"},
        {*PLAN, "job", "emit", "table", "report"},
    ),
    "renew": (
        ["renew", LARCH, "--out", "out", "--today", "2027-06-01"],
        {"numpy", "pydantic"},
        {*PLAN, "job", "emit", "table"},
    ),
    "batch": (
        ["batch", "sites.csv", LARCH, "--out", "b", "--year", "2027", "--jobs", "1"],
        {"numpy", "pydantic", "filelock"},
        {*PLAN, "job", "emit", "table", "report"},
    ),
}


# What a help text may load of the floors: lists of names, which load nothing themselves.
REGISTRIES = {"sunsched.emit", "sunsched.emit.forms", "sunsched.table", "sunsched.table.layout"}


def loaded(words: list[str], folder: Path) -> tuple[set[str], set[str]]:
    """Packages of the list and floors of the project that a run of the command line loads."""
    modules = modules_of(words, folder)
    floors = {name.split(".")[1] for name in modules if name.startswith("sunsched.")}
    return {name.partition(".")[0] for name in modules} & set(PACKAGES), floors & set(FLOORS)


def interpreted(code: str, folder: Path) -> subprocess.CompletedProcess[str]:
    """A new interpreter's run of `code` in a folder."""
    env = {**os.environ, "PYTHONPATH": str(ROOT)}
    return subprocess.run(
        [sys.executable, "-c", code], cwd=folder, env=env, capture_output=True, text=True, timeout=120
    )


def modules_of(words: list[str], folder: Path) -> list[str]:
    """Every module that a run of the command line loads."""
    code = (
        "import json, sys\n"
        "from sunsched.cli.app import run\n"
        f"try: run({words!r})\n"
        "except SystemExit as leaving: assert not leaving.code, leaving.code\n"
        "open('modules.json', 'w').write(json.dumps(sorted(sys.modules)))"
    )
    done = interpreted(code, folder)
    assert done.returncode == 0, done.stderr
    found: list[str] = json.loads((folder / "modules.json").read_text())
    return found


@pytest.mark.parametrize("name", LOADED)
def test_a_command_loads_what_it_uses(name: str, tmp_path: Path) -> None:
    words, packages, floors = LOADED[name]
    site = 'name = "A"\nlatitude_deg = 47.0\nlongitude_deg = 8.0\nzone = "Europe/Zurich"\n'
    (tmp_path / "site.toml").write_text(f"[site]\n{site}")
    (tmp_path / "sites.csv").write_text("name,latitude,longitude,zone\nA,47,8,Europe/Zurich\n")
    if name == "renew":
        # The daily run finds all right: only a renewal itself asks the other finders, and then takes its time.
        first, _ = loaded(words, tmp_path)
        assert {"skyfield", "astral", "filelock"} <= first
    found, rooms = loaded(words, tmp_path)
    assert found <= packages, f"{name} loads {sorted(found - packages)}"
    assert rooms <= floors, f"{name} loads the floors {sorted(rooms - floors)}"


@pytest.mark.parametrize("command", ["table", "renew", "batch", "readback"])
def test_a_help_text_loads_lists_of_names_only(command: str, tmp_path: Path) -> None:
    floors = tuple(f"sunsched.{floor}" for floor in FLOORS)
    found = {name for name in modules_of([command, "--help"], tmp_path) if name.startswith(floors)}
    assert found <= REGISTRIES, sorted(found - REGISTRIES)


def test_a_file_without_mistakes_is_read_by_its_own_sections(tmp_path: Path) -> None:
    """Neither the schema of all sections, nor what explains mistakes, nor the sums' figures are made for it."""
    (tmp_path / "site.toml").write_text('[site]\nlatitude_deg = 47.0\nlongitude_deg = 8.0\nzone = "Europe/Zurich"\n')
    code = (
        "import sys\n"
        "from sunsched.cli.app import run\n"
        "run(['table', 'site.toml', '--year', '2027'])\n"
        "from sunsched.config.configuration import Configuration, Site\n"
        "print(Configuration.__pydantic_complete__, Site.__pydantic_complete__)\n"
        "print([n for n in ('config.problems', 'config.hints', 'hardware.figures') if f'sunsched.{n}' in sys.modules])"
    )
    done = interpreted(code, tmp_path)
    assert done.stdout.splitlines()[-2:] == ["False True", "[]"], done.stderr


def test_the_end_searches_no_object_that_goes_with_the_process(tmp_path: Path) -> None:
    """Exit handlers run, with nearly all objects out of the collector's sight; the exit code stays what it is."""
    code = (
        "import atexit, gc, sys\n"
        "from sunsched.__main__ import GARBAGE_AFTER, main\n"
        "sys.argv = ['sunsched', 'day', 'none.toml', '2027-03-28']\n"
        "atexit.register(lambda: print(gc.get_threshold()[0] == GARBAGE_AFTER, len(gc.get_objects())))\n"
        "main()"
    )
    done = interpreted(code, tmp_path)
    assert done.returncode == 66
    slow_start, seen = done.stdout.split()
    assert slow_start == "True" and int(seen) < 1000
