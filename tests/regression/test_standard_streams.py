"""A full disk behind standard output, a closed standard stream or an encoding that lacks a letter gave a traceback."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
LARCH = ROOT / "configs" / "larch_end.toml"


def run(command: str, **env: str) -> subprocess.CompletedProcess[bytes]:
    """The command line in a shell, with its redirections."""
    words = f"{sys.executable} -m sunsched {command}"
    surroundings = {**os.environ, "PYTHONPATH": str(ROOT), **env}
    return subprocess.run(["bash", "-c", words], cwd=ROOT, env=surroundings, capture_output=True, timeout=60)


@pytest.mark.parametrize("command", ["sample", f"table {LARCH} --year 2027 --as csv --out -"])
def test_a_full_disk_is_one_message(command: str) -> None:
    done = run(f"{command} > /dev/full")
    assert (done.returncode, done.stderr) == (73, b"error: standard output: No space left on device\n")


def test_closed_streams_are_one_message() -> None:
    done = run("sample >&-")
    assert (done.returncode, done.stderr) == (
        73,
        b"error: standard output is closed; wanted somewhere to write\n",
    )
    done = run("settings - <&-")
    assert (done.returncode, done.stderr) == (66, b"error: standard input is closed; wanted a TOML file on it\n")


def test_data_is_utf8_whatever_the_machines_encoding() -> None:
    plain = run("sample --name 'Bød 丘'")
    assert "Bød 丘".encode() in plain.stdout
    assert run("sample --name 'Bød 丘'", PYTHONIOENCODING="ascii").stdout == plain.stdout
