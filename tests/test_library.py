"""The library's public names: loaded when used, described in docs/api.md, the same functions as the commands call."""

from __future__ import annotations

import ast
import contextlib
import importlib
import inspect
import io
import re
import subprocess
import sys
from pathlib import Path
from types import FrameType
from typing import TYPE_CHECKING

import numpy as np
import pytest

import sunsched
from sunsched.job import compact
from tests.conftest import CONFIGS, ROOT
from tests.support.later import Later
from tools import type_check

if TYPE_CHECKING:
    from matplotlib import pyplot
else:
    pyplot = Later("matplotlib.pyplot")

LARCH = str(ROOT / "configs" / "larch_end.toml")
PAGE = (ROOT / "docs" / "api.md").read_text(encoding="utf-8")
BLOCK = re.compile(r"^```python\n(.*?)^```\n(?:```text\n(.*?)^```\n)?", re.MULTILINE | re.DOTALL)
HEADING = re.compile(r"^### (.+)$", re.MULTILINE)
PLACES: dict[str, str] = vars(sunsched)["_PLACES"]


def imported_for_types() -> dict[str, str]:
    """Public name and place of each import that type checkers see in the package's face."""
    tree = ast.parse(Path(sunsched.__file__).read_text(encoding="utf-8"))
    return {
        str(alias.asname): f"{str(node.module).removeprefix('sunsched.')}:{alias.name}"
        for node in ast.walk(tree)
        if isinstance(node, ast.ImportFrom) and str(node.module).startswith("sunsched.")
        for alias in node.names
    }


def test_the_three_lists_of_names_agree() -> None:
    assert imported_for_types() == PLACES
    assert sorted(PLACES) == sunsched.__all__
    assert set(sunsched.__all__) <= set(dir(sunsched))


@pytest.mark.parametrize("name", sunsched.__all__)
def test_a_name_is_the_function_that_lives_below(name: str) -> None:
    module, _, attribute = PLACES[name].partition(":")
    assert getattr(sunsched, name) is getattr(importlib.import_module(f"sunsched.{module}"), attribute)
    assert inspect.getdoc(getattr(sunsched, name))


def test_another_name_is_an_attribute_error() -> None:
    with pytest.raises(AttributeError, match="no attribute 'plan_yaer'"):
        getattr(sunsched, "plan_yaer")  # noqa: B009  a plain attribute would be refused by mypy, as it should


def test_the_import_alone_loads_nothing() -> None:
    code = "import sys; before = set(sys.modules); import sunsched; print(*sorted(set(sys.modules) - before))"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, cwd=ROOT)
    assert done.returncode == 0, done.stderr
    loaded = {name.partition(".")[0] for name in done.stdout.split()}
    assert loaded - {"sunsched"} <= sys.stdlib_module_names
    assert [name for name in done.stdout.split() if name.startswith("sunsched.")] == []


# For each public function a command that has to call it; `plan_columns` is what the CSV is written from.
COMMANDS = {
    "clear_sky_lux_at": ["report", LARCH, "--year", "2027", "-o", "year.html"],
    "compare_strategies": ["compare", LARCH, "--years", "2"],
    "comparison_figures": ["compare", LARCH, "--years", "2", "--json"],
    "explain_day": ["day", LARCH, "2027-03-28"],
    "make_configuration": ["settings", LARCH],
    "make_tables": ["table", LARCH, "--year", "2027", "--as", "csv", "--out", "out"],
    "pack_table": ["table", LARCH, "--year", "2027", "--layout", "curves", "--as", "eeprom", "--out", "out"],
    "plan_columns": ["table", LARCH, "--year", "2027", "--as", "csv", "--out", "out"],
    "plan_year": ["table", LARCH, "--year", "2027", "--as", "csv", "--out", "out"],
    "read_configuration": ["settings", LARCH],
    "sun_events": ["twilight", LARCH, "--year", "2027"],
    "unpack_table": ["readback", str(ROOT / "tests" / "golden" / "larch_end_2027.h")],
}


def test_every_public_function_has_its_command() -> None:
    assert sorted(COMMANDS) == [name for name in sunsched.__all__ if not inspect.isclass(getattr(sunsched, name))]


@pytest.mark.usefixtures("two_assumptions")
@pytest.mark.parametrize("name", COMMANDS)
def test_a_command_calls_the_same_function(name: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    from sunsched.cli.app import run

    # pack_table plans its years by itself and then does what the command does for years that it has planned.
    function = compact.packed if name == "pack_table" else getattr(sunsched, name)
    wanted, called = function.__code__, []

    def look(frame: FrameType, event: str, argument: object) -> None:
        if event == "call" and frame.f_code is wanted:
            called.append(name)
            sys.setprofile(None)  # the rest of the command takes half as long unwatched

    monkeypatch.chdir(tmp_path)
    sys.setprofile(look)
    try:
        run(COMMANDS[name])  # leaves by SystemExit only where it ends with another code than 0
    finally:
        sys.setprofile(None)
    assert called


def test_every_name_has_its_heading_with_its_parameters() -> None:
    described: dict[str, list[str]] = {}
    for heading in HEADING.findall(PAGE):
        for name, given in re.findall(r"`(\w+)(?:\(([^`]*)\))?`", heading):
            described[name] = [part.split("=")[0].strip() for part in given.split(",") if part.strip()]
    assert sorted(described) == sunsched.__all__
    for name, parameters in described.items():
        value = getattr(sunsched, name)
        if inspect.isclass(value):
            assert parameters == []
            continue
        real = list(inspect.signature(value).parameters)
        if parameters[-1] == "...":
            assert parameters[:-1] == real[: len(parameters) - 1], name
        else:
            assert parameters == real, name


def test_the_examples_print_what_the_page_shows(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "configs").symlink_to(CONFIGS[0].parent)
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("MPLBACKEND", "Agg")
    blocks = BLOCK.findall(PAGE)
    assert len(blocks) == PAGE.count("```python") >= 9
    namespace: dict[str, object] = {}
    pyplot.close("all")
    for code, shown in blocks:
        out = io.StringIO()
        with contextlib.redirect_stdout(out):
            exec(compile(code, "docs/api.md", "exec"), namespace)
        assert out.getvalue() == shown, f"docs/api.md shows\n{shown}for\n{code}but it prints\n{out.getvalue()}"
    pyplot.close("all")


def test_a_year_is_plotted_in_ten_lines(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("MPLBACKEND", "Agg")
    monkeypatch.chdir(tmp_path)
    code = BLOCK.findall(PAGE)[0][0]
    assert len([line for line in code.splitlines() if line.strip()]) <= 10
    pyplot.close("all")
    exec(compile(code, "docs/api.md", "exec"), {})
    lines = pyplot.gca().get_lines()
    pyplot.close("all")
    assert (tmp_path / "year.png").read_bytes()[:8] == b"\x89PNG\r\n\x1a\n"
    hours = [np.asarray(line.get_ydata(), np.float64) for line in lines]
    assert [len(values) for values in hours] == [365, 365]
    # Common knowledge of 47 N in Central European time: civil dawn 4:45 to 7:45, civil dusk 17:00 to 22:10.
    assert 4.5 < hours[0].min() < hours[0].max() < 8.0
    assert 16.9 < hours[1].min() < hours[1].max() < 22.3


def test_type_checkers_know_every_name_and_no_other() -> None:
    # tools/check has mypy read them beside all other modules; a run of their own would load every library again.
    code = type_check.examples(PAGE)
    compile(code, "api_page.py", "exec")
    assert all(block in code for block, _ in BLOCK.findall(PAGE))
    assert "tools/type_check.py" in (ROOT / "tools" / "check").read_text(encoding="utf-8")
    kept_back = re.findall(r"sunsched\.(\w+).*# type: ignore\[(.+)\]$", code, flags=re.MULTILINE)
    assert kept_back == [("plan_year", "arg-type"), ("plan_year", "arg-type"), ("plan_yaer", "attr-defined")]
    assert "warn_unused_ignores" not in (ROOT / "pyproject.toml").read_text(encoding="utf-8")  # as --strict has it
