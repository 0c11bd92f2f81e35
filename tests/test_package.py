"""The package as it is handed out: an sdist that rebuilds byte for byte, and what its metadata says."""

from __future__ import annotations

import hashlib
import os
import shutil
import subprocess
import sys
import tarfile
import tomllib
import zipfile
from email.parser import Parser
from pathlib import Path

import pytest

import sunsched
from sunsched.cli.app import COMMANDS
from tests.conftest import ROOT

KEPT_OUT = shutil.ignore_patterns(".git", ".venv", "__pycache__", ".*_cache", ".hypothesis", "build", "dist", "out")


def built(source: Path, kind: str, out: Path) -> Path:
    """What the documented command makes of a source tree."""
    command = [sys.executable, "-m", "hatchling", "build", "-t", kind, "-d", str(out)]
    subprocess.run(command, cwd=source, check=True, capture_output=True, timeout=120)
    (made,) = out.iterdir()
    return made


def sha256(path: Path) -> str:
    return hashlib.sha256(path.read_bytes()).hexdigest()


@pytest.fixture(scope="module")
def sdist(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The sdist of this tree."""
    source = tmp_path_factory.mktemp("tree") / "source"
    shutil.copytree(ROOT, source, ignore=KEPT_OUT)
    return built(source, "sdist", tmp_path_factory.mktemp("first"))


def test_the_sdist_rebuilds_byte_for_byte_from_itself(sdist: Path, tmp_path: Path) -> None:
    with tarfile.open(sdist) as archive:
        archive.extractall(tmp_path / "taken apart", filter="data")
    (source,) = (tmp_path / "taken apart").iterdir()
    # Other times, other rights: neither may show.
    for path in source.rglob("*.py"):
        os.utime(path, (1_000_000_000, 1_000_000_000))
    (source / "README.md").chmod(0o600)
    again = built(source, "sdist", tmp_path / "again")
    assert sha256(again) == sha256(sdist)


def test_the_wheel_of_the_sdist_carries_all_that_the_package_reads(sdist: Path, tmp_path: Path) -> None:
    with tarfile.open(sdist) as archive:
        archive.extractall(tmp_path / "taken apart", filter="data")
    (source,) = (tmp_path / "taken apart").iterdir()
    with zipfile.ZipFile(built(source, "wheel", tmp_path / "wheel")) as wheel:
        names = {name for name in wheel.namelist() if name.startswith("sunsched/")}
        metadata = Parser().parsestr(wheel.read(next(n for n in wheel.namelist() if n.endswith("/METADATA"))).decode())
    ours = {
        path.relative_to(ROOT).as_posix()
        for path in (ROOT / "sunsched").rglob("*")
        if path.is_file() and "__pycache__" not in path.parts
    }
    assert names == ours
    assert {"sunsched/py.typed", "sunsched/sky/sun_nodes.bin", "sunsched/table/FORMAT.md"} <= names
    assert (metadata["Name"], metadata["Version"]) == ("sunsched", sunsched.__version__)
    assert (metadata["License-Expression"], metadata["License-File"]) == ("MIT", "LICENSE")
    assert metadata.get_all("Project-URL") is None
    assert "Typing :: Typed" in (metadata.get_all("Classifier") or ())


def test_the_pythons_of_the_classifiers_are_those_it_asks_for() -> None:
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    named = [
        c.rpartition(" ")[2] for c in project["classifiers"] if c.startswith("Programming Language :: Python :: 3.")
    ]
    assert min(named, key=lambda version: int(version.partition(".")[2])) == project["requires-python"].lstrip(">=")


def test_the_pages_made_from_the_program_are_what_it_says() -> None:
    command = [sys.executable, "tools/man_page.py", "--check"]
    done = subprocess.run(
        command, cwd=ROOT, env={**os.environ, "PYTHONPATH": str(ROOT)}, capture_output=True, text=True
    )
    assert done.returncode == 0, done.stderr
    page = (ROOT / "docs" / "sunsched.1").read_text(encoding="utf-8")
    headings = [line.removeprefix(".SS ") for line in page.splitlines() if line.startswith(".SS ")]
    assert [name for name in headings if " " not in name] == list(COMMANDS)
    # man(7): a line that starts with a dot is a macro; these are all that the page uses.
    macros = {line.split()[0] for line in page.splitlines() if line.startswith((".", "'"))}
    assert macros == {'.\\"', ".TH", ".SH", ".SS", ".TP", ".PP", ".B", ".I", ".nf", ".fi"}
