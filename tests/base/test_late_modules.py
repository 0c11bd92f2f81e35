"""Modules that are put off: when they load, what they are then, and that the list holds none for nothing."""

from __future__ import annotations

import importlib
import os
import pickle
import subprocess
import sys
import threading
from collections.abc import Iterator
from pathlib import Path
from types import ModuleType

import pytest

from sunsched.base.late_modules import SELDOM_USED, load_late_ones, put_off

NAME = "made_up_late_module"
TEXT = """
import threading, time
loads = globals().get("loads", 0) + 1
time.sleep(0.02)
import {name} as itself   # a module may be asked for itself while it loads
def doubled(n): return 2 * n
kind = "late"
"""


@pytest.fixture
def put_off_one(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[ModuleType]:
    """A module of our own, imported and not yet loaded."""
    (tmp_path / f"{NAME}.py").write_text(TEXT.format(name=NAME))
    monkeypatch.syspath_prepend(tmp_path)
    monkeypatch.setattr(sys, "meta_path", list(sys.meta_path))
    put_off([NAME])
    yield importlib.import_module(NAME)
    sys.modules.pop(NAME, None)


def test_it_loads_when_a_name_is_first_asked_for(put_off_one: ModuleType) -> None:
    assert importlib.import_module(NAME) is put_off_one
    assert not {"kind", "doubled"} & vars(put_off_one).keys()
    assert put_off_one.__spec__ is not None and put_off_one.__spec__.name == NAME
    assert not hasattr(put_off_one, "__path__") and not hasattr(put_off_one, "__wrapped__")
    assert "kind" not in vars(put_off_one), "asking for such a name loads nothing"
    assert put_off_one.doubled(21) == 42
    assert type(put_off_one) is ModuleType and put_off_one is sys.modules[NAME]
    assert pickle.loads(pickle.dumps(put_off_one.doubled)) is put_off_one.doubled
    with pytest.raises(AttributeError, match=f"{NAME}.+nothing"):
        _ = put_off_one.nothing
    assert put_off_one.loads == 1


def test_a_name_imported_from_it_is_there_at_once(put_off_one: ModuleType) -> None:
    names: dict[str, object] = {}
    exec(f"from {NAME} import kind", names)
    assert names["kind"] == "late" and put_off_one.loads == 1


def test_all_names_imported_from_it_are_there_at_once(put_off_one: ModuleType) -> None:
    names: dict[str, object] = {}
    exec(f"from {NAME} import *", names)
    assert names["kind"] == "late" and put_off_one.loads == 1


def test_threads_that_ask_at_once_load_it_once_and_whole(put_off_one: ModuleType) -> None:
    found: list[object] = []
    asking = [threading.Thread(target=lambda: found.append(put_off_one.kind)) for _ in range(8)]
    for thread in asking:
        thread.start()
    for thread in asking:
        thread.join()
    assert found == ["late"] * 8 and put_off_one.loads == 1


def test_what_waits_is_loaded_before_threads_begin(put_off_one: ModuleType) -> None:
    load_late_ones()
    assert vars(put_off_one)["kind"] == "late"


def test_a_module_that_cannot_load_says_so_each_time(tmp_path: Path, put_off_one: ModuleType) -> None:
    path = tmp_path / f"{NAME}.py"
    path.write_text("import made_up_module_that_is_not_there\nkind = 'late'\n")
    for _ in range(2):
        with pytest.raises(ModuleNotFoundError, match="made_up_module_that_is_not_there"):
            _ = put_off_one.kind
    path.write_text("kind = 'mended, and longer'\n")
    assert put_off_one.kind == "mended, and longer"


def test_a_name_that_no_python_has_is_an_error_as_ever(put_off_one: ModuleType) -> None:
    put_off(["made_up_module_that_is_not_there"])
    with pytest.raises(ModuleNotFoundError, match="made_up_module_that_is_not_there"):
        importlib.import_module("made_up_module_that_is_not_there")


def test_each_of_the_list_is_the_standard_librarys_or_numpys_texts_for_help() -> None:
    others = {name for name in SELDOM_USED if name.partition(".")[0] not in sys.stdlib_module_names}
    assert others == {"numpy._core._add_newdocs", "numpy._core._add_newdocs_scalars"}


def test_numpys_texts_are_all_that_is_missing() -> None:
    """With them put off every name of numpy is the same kind of thing as ever."""
    code = (
        "import sys\n"
        "if sys.argv[1] == 'late':\n"
        "    from sunsched.base.late_modules import put_off\n"
        "    put_off()\n"
        "import numpy\n"
        "print(*(f'{name} {type(getattr(numpy, name)).__name__}' for name in sorted(numpy.__all__)), sep='\\n')\n"
    )
    env = os.environ | {"PYTHONPATH": str(Path(__file__).parents[2])}
    said = [
        subprocess.run([sys.executable, "-c", code, how], env=env, capture_output=True, text=True, timeout=60)
        for how in ("late", "ever")
    ]
    assert said[0].returncode == said[1].returncode == 0, said[0].stderr
    assert said[0].stdout == said[1].stdout and "\nfloat64 type\n" in said[0].stdout


def test_each_of_the_list_is_left_out_of_a_start(tmp_path: Path) -> None:
    """Of the list of commands or of a table; one that both load would be put off for nothing."""
    (tmp_path / "hut.toml").write_text('[site]\nlatitude_deg = 47.0\nlongitude_deg = 8.0\nzone = "Europe/Zurich"\n')
    left = [waiting(["--help"], tmp_path), waiting(["table", "hut.toml", "--year", "2027"], tmp_path)]
    assert set.union(*left) == SELDOM_USED


def waiting(words: list[str], folder: Path) -> set[str]:
    """The modules of the list that a run of the command line has not loaded at its end."""
    code = (
        "import sys\n"
        "from sunsched.__main__ import main\n"
        "from sunsched.base.late_modules import SELDOM_USED\n"
        f"sys.argv = ['sunsched', *{words!r}]\n"
        "try: main()\n"
        "except SystemExit as leaving: assert not leaving.code\n"
        "late = {n for n in SELDOM_USED if type(sys.modules.get(n)).__name__ == '_Late'}\n"
        "print(*sorted(late), file=sys.stderr)"
    )
    env = os.environ | {"PYTHONPATH": str(Path(__file__).parents[2])}
    done = subprocess.run(
        [sys.executable, "-c", code], cwd=folder, env=env, capture_output=True, text=True, timeout=120
    )
    assert done.returncode == 0, done.stderr
    return set(done.stderr.splitlines()[-1].split())
