"""The tables and the program for MicroPython boards, run under MicroPython's WebAssembly build.

The whole proof is one command: `python -m tests.chip.micropython_run`.
"""

from __future__ import annotations

import dataclasses
import re
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from sunsched.base.civil_time import date_of
from sunsched.controller.micropython import table_reader
from sunsched.emit import micropython as module_form
from sunsched.emit import micropython_core, micropython_folder
from sunsched.emit.forms import packed_files, read_back
from sunsched.hardware.boards import BOARDS
from sunsched.job.compact import Compact, packed
from sunsched.plan.year import NO_MINUTE
from sunsched.table.layout import CODECS
from tests.chip import micropython_run, micropython_tables, recording, sites, skies
from tests.chip import packed as shared
from tests.support import micropython

HERE = Path(__file__).parent / "micropython"
LAYOUTS = [name for name in CODECS if name != "years"]
BOARD_NAMES = [board.name for board in BOARDS.values() if board.language == "micropython"]


@cache
def _larch_end() -> Compact:
    return packed([sites.built("larch_end", 2027)])


@pytest.fixture(scope="module")
def afternoon() -> np.ndarray[Any, Any]:
    """What the C program did around a closing in a storm, some hours by runs."""
    record = recording.recorded("larch_end", 86, [skies.kinds_of_days(365, 1)[86]])
    plan = sites.built("larch_end", 2027).plan
    noon_s, close_s = int(plan.noon_min[86]) * 60, int(plan.close_min[86]) * 60
    return record[np.cumsum(record["seconds"]) <= close_s - noon_s + 3600]


def _minutes(table: Any, plan: Any) -> np.ndarray[Any, Any]:
    dates = [date_of(day) for day in plan.days.tolist()]
    found = [[side(d.year, d.month, d.day) for d in dates] for side in (table.open_min, table.close_min)]
    return np.array([[NO_MINUTE if minute is None else minute for minute in row] for row in found])


@pytest.mark.parametrize("name", sites.SHIPPED)
def test_every_minute_and_fact_of_a_year_is_the_plans(name: str) -> None:
    built = sites.built(name, 2028)
    table = table_reader.Table(packed([built]).table.raw)
    assert np.array_equal(_minutes(table, built.plan), np.stack([built.plan.open_min, built.plan.close_min]))
    dates = [date_of(day) for day in built.plan.days.tolist()]
    assert [table.facts(d.year, d.month, d.day) for d in dates] == built.plan.fact_bits.tolist()
    # FORMAT.md: solar midnight in whole minutes within 1.3 min
    midnight = np.array([table.midnight_min(d.year, d.month, d.day) for d in dates])
    assert np.abs(midnight - built.plan.midnight_min).max() <= 2


@pytest.mark.parametrize("layout", LAYOUTS)
def test_every_layout_is_read_as_its_own_codec_reads_it(layout: str) -> None:
    built = sites.built("tussock_flat", 2027)
    image = packed([built], layout).table.image
    table = table_reader.Table(image.to_bytes())
    assert np.array_equal(_minutes(table, built.plan), image.minutes(2027))


def test_a_table_of_many_years_is_read_in_each_of_them() -> None:
    works = [sites.built("larch_end", year) for year in range(2027, 2032)]
    image = packed(works, worst_error_min=1).table.image
    table = table_reader.Table(image.to_bytes())
    for work in works:
        assert np.array_equal(_minutes(table, work.plan), image.minutes(date_of(work.plan.first_day).year))


@pytest.mark.parametrize("at", range(0, 120, 7))
def test_one_changed_bit_is_refused(at: int) -> None:
    raw = bytearray(_larch_end().table.raw)
    raw[at] ^= 4
    with pytest.raises(ValueError, match="table image"):
        table_reader.Table(bytes(raw))


@pytest.mark.parametrize(
    "date", [(2027, 2, 29), (2027, 13, 1), (2027, 4, 31), (2027, 1, 0), (2026, 1, 1), (2028, 1, 1)]
)
def test_a_date_that_the_table_does_not_have_raises(date: tuple[int, int, int]) -> None:
    table = table_reader.Table(_larch_end().table.raw)
    with pytest.raises(ValueError, match="no such date"):
        table.open_min(*date)


def test_the_module_is_read_back_as_a_table() -> None:
    work = _larch_end()
    (text,) = packed_files("micropython", work.plans, work.table, work.stamp).values()
    back = read_back(text)
    assert back.form == "micropython"
    assert back.proof == "digest"
    assert back.image == work.table.image


def test_the_modules_answer_under_micropython(tmp_path: Path) -> None:
    # The layout that only a year with jumps takes, and a table of 21 years; every table: micropython_tables.py.
    works = [packed([sites.built("birch_hollow", 2028)]), shared.work(shared.OF_LAYOUT[-1])]
    found = micropython_tables.read(works, tmp_path)
    assert [read.minutes for read in found] == [732, 15_340]
    assert all(read.right for read in found)
    for read in found:
        assert read.heap_bytes == pytest.approx(module_form.HEAP_BYTES, rel=0.1)


def test_a_minute_that_is_read_otherwise_is_counted(tmp_path: Path) -> None:
    work = _larch_end()
    plan = work.plans[0]
    wrong = dataclasses.replace(plan, open_min=plan.open_min + (np.arange(plan.n_days) == 200))
    (found,) = micropython_tables.read([dataclasses.replace(work, plans=(wrong,))], tmp_path)
    assert (found.minutes, found.as_planned, found.as_decoded, found.right) == (730, 729, 730, False)


def test_the_rules_decide_as_the_c_program_second_by_second(afternoon: Any, tmp_path: Path) -> None:
    lived = micropython_run.compared("larch_end", afternoon, tmp_path)
    assert lived.seconds > 20_000
    assert (lived.differing, lived.words) == (0, [])
    at_first, _, at_last = lived.heap_bytes
    assert at_last <= at_first + 4096


def test_a_second_that_the_c_program_decided_otherwise_is_found(afternoon: Any, tmp_path: Path) -> None:
    record = afternoon[:40].copy()
    record["reason"][20] ^= 1
    lived = micropython_run.compared("larch_end", record, tmp_path)
    assert lived.differing == record["seconds"][20]
    assert lived.words[0].startswith(f"differs {record['seconds'][:20].sum()} (")


def test_the_generated_rules_hold_nothing_that_micropython_lacks() -> None:
    for module in micropython_core.MODULES:
        text = micropython_core.module_text(module)
        assert not re.search(r"dataclass|IntEnum|IntFlag|NamedTuple|typing|__future__", text)


def test_a_part_of_the_language_that_is_not_known_to_run_is_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(
        micropython_core, "package_bytes", lambda *_: b"def f(x):\n    match x:\n        case 1:\n            pass\n"
    )
    with pytest.raises(ValueError, match="Match is not known to run under MicroPython"):
        micropython_core.module_text("motor")


@pytest.mark.parametrize("board", BOARD_NAMES)
def test_the_whole_program_closes_the_door_in_the_evening(board: str, tmp_path: Path) -> None:
    micropython_run.board_folder("larch_end", 2027, tmp_path, board)
    for name in ("machine.py", "time.py", "world.py"):
        (tmp_path / name).write_text((HERE / name).read_text())
    plan = sites.built("larch_end", 2027).plan
    row = 59  # 1 March, the world's date
    (tmp_path / "began.py").write_text(f"SECOND_OF_DAY = {(int(plan.close_min[row]) - 8) * 60}\n")
    said = micropython.run(tmp_path, (HERE / "evening.py").read_text(), "log.csv", "kept.bin")
    day, dusk, night = (line.split() for line in said)
    assert day == ["day", "1", "0", "350"]
    door, reason, plate_mm, both, least_rest_ms = map(int, dusk[1:])
    assert (door, reason) == (2, 3)  # down at the planned minute: a cell that has proven nothing yet does not decide
    assert plate_mm <= 0
    assert both == 0
    assert least_rest_ms >= 2000
    assert night[1] == "2"
    log = (tmp_path / "log.csv").read_text()
    assert re.search(r"^2027-03-01,\d\d:\d\d:\d\d,move,60,moving_down,lower,close_minute,$", log, re.MULTILINE)


def test_the_folder_holds_what_main_imports() -> None:
    assert {f"{name}.py" for name in ("board", "program", "tables", "table_reader", "files", "clock_chip")} < set(
        micropython_folder.SHIPPED
    )
