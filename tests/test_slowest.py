"""The order of a run: every test once, the slowest at the beginning of each process, and the page names tests."""

from __future__ import annotations

import os
import re
from pathlib import Path

import pytest

from tests.conftest import begun_with, slowest
from tools import slowest as measured

ROOT = Path(__file__).parents[1]


def test_the_files_of_the_slowest_begin_each_process_and_no_test_is_lost() -> None:
    names = [f"{file}.py::{n}" for file in "abcde" for n in range(3)]
    first = ["e.py::1", "b.py::0", "gone.py::1", "e.py::2", "d.py::2"]
    two = begun_with(names, first, 2)
    assert sorted(two) == sorted(names)
    assert two[:6] == [f"{file}.py::{n}" for file in "ed" for n in range(3)]
    assert two[7] == "b.py::0"  # pytest-xdist gives the first process 15 // 2 tests
    three = begun_with(names, first, 3)
    assert sorted(three) == sorted(names)
    assert [three[at] for at in (0, 5, 10)] == ["e.py::0", "b.py::0", "d.py::0"]  # and each of three 5
    for processes in (1, 2, 3, 4):
        assert begun_with(names, [], processes) == names
        assert begun_with(names[:1], names, processes) == names[:1]
        assert sorted(begun_with(names, names[::-1], processes)) == sorted(names)


def test_the_page_lists_the_most_processor_time_of_all_parts() -> None:
    records = ["1.00 9.00 a.py::one", "0.50 1.00 a.py::two", "0.75 2.00 a.py::two"]
    assert measured.page(records).splitlines()[-2:] == ["| 1.2 | 3.0 | `a.py::two` |", "| 1.0 | 9.0 | `a.py::one` |"]


def test_a_child_that_ends_in_a_short_test_does_not_make_it_a_slow_one(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(os, "cpu_count", lambda: 2)
    assert measured.page(["24.60 0.40 a.py::one", "1.50 1.00 a.py::two"]).splitlines()[-2:] == [
        "| 1.5 | 1.0 | `a.py::two` |",
        "| 0.8 | 0.4 | `a.py::one` |",
    ]


def test_the_page_names_tests_that_are_there() -> None:
    assert len(slowest()) == measured.SHOWN
    for name in slowest():
        path, _, function = re.sub(r"\[.*", "", name, flags=re.DOTALL).partition("::")
        assert f"def {function}(" in (ROOT / path).read_text(encoding="utf-8"), name
