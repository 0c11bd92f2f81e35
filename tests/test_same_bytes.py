"""A sample of the byte comparison of all outputs; the whole is `python tools/same_bytes.py`."""

from __future__ import annotations

import math
import os
import re
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from sunsched.cli.app import COMMANDS
from tools import same_bytes

ONE = ("--jobs", "1")  # the tests themselves use every core
SAMPLE = (*ONE, "--site", "larch_end", "--run", "table", "--run", "battery", "--run", "cell", "--run", "angle")


def test_a_sample_is_the_same_on_another_processor(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert same_bytes.main([*SAMPLE, "--keep", str(tmp_path)]) == 0, capsys.readouterr().out
    made = {path.suffix for path in (tmp_path / "scalar" / "larch_end").rglob("*")}
    assert made >= {".h", ".json", ".csv", ".hex", ".bin", ".svg", ".toml", ".stdout"}
    assert same_bytes.failed(tmp_path, ("0",)) == []


NUDGED = (
    "import math, numpy; print(*{*numpy.sin([0.3] * 9).tolist()}, *{math.sin(0.3) for _ in range(9)}, math.pow(2, 3))"
)


def test_nudges_move_the_last_bit_and_nothing_else() -> None:
    environment = {**os.environ, "PYTHONPATH": str(same_bytes.ROOT / "tools" / "nudged"), "NUDGE_SEED": "1"}
    words = [sys.executable, "-c", NUDGED]
    done = subprocess.run(words, env=environment, capture_output=True, text=True, check=True)
    *sines, whole = (float(word) for word in done.stdout.split())
    assert len(set(sines)) > 1 and whole == 8.0
    assert all(abs(sine - math.sin(0.3)) < 3 * math.ulp(0.3) for sine in sines)


def test_a_sample_does_not_hang_on_the_last_bit(capsys: pytest.CaptureFixture[str]) -> None:
    words = [*ONE, "--nudged", "--site", "larch_end", "--run", "angle", "--run", "cell", "--run", "day"]
    assert same_bytes.main(words) == 0, capsys.readouterr().out


# what numpy says of itself in the process
FOUND = "import numpy; print(numpy.show_config(mode='dicts')['SIMD Extensions'].get('found', []))"


def test_the_other_processor_has_nothing_that_numpy_dispatches() -> None:
    environment = {**os.environ, **same_bytes.scalar_environment()}
    words = [sys.executable, "-W", "error", "-c", FOUND]
    done = subprocess.run(words, env=environment, capture_output=True, text=True, check=True)
    assert (done.stdout.strip(), done.stderr) == ("[]", "")


def test_every_command_runs() -> None:
    runs = {**same_bytes.RUNS, **same_bytes.NO_SITE_RUNS}
    first_words = {command.split()[0] for commands in runs.values() for command in commands}
    assert first_words - {"--help", "--version"} == set(COMMANDS)


def test_what_differs_is_named(tmp_path: Path) -> None:
    for side, texts in {"one": {"a": "1", "b": "2", "d/c": "3"}, "two": {"a": "1", "b": "3", "d/e": "3"}}.items():
        for name, text in texts.items():
            path = tmp_path / side / name
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_text(text, encoding="utf-8")
    assert same_bytes.differing(tmp_path / "one", tmp_path / "two") == ["b", "d/c", "d/e"]
    assert same_bytes.differing(tmp_path / "one", tmp_path / "one") == []


def test_another_checkout_with_another_byte_is_found(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    shutil.copytree(same_bytes.ROOT / "sunsched", tmp_path / "sunsched")
    changed = tmp_path / "sunsched" / "__init__.py"
    changed.write_text(changed.read_text(encoding="utf-8").replace('__version__ = "', '__version__ = "9.'))
    words = [*ONE, "--against", str(tmp_path), "--site", "fig_yard", "--run", "settings"]
    assert same_bytes.main(words) == 1
    named, counted = capsys.readouterr().out.splitlines()
    assert named == "differs: no_site/help/2.stdout"  # and all others are equal
    assert re.fullmatch(r"\d\d files of this and that: 1 differ; 0 commands ended with an error", counted)
