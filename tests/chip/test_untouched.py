"""A chip that nobody touches for 21 years: every day's minutes against fresh plans, by the program's own reader.

The rows are read by the program's C (door_rows.c, for this computer) out of the very bytes that the program is
compiled with; that the chip reads what this computer reads is shown by every life in test_life.py.
"""

from __future__ import annotations

import ctypes as C
import datetime as dt
import tempfile
from functools import cache
from pathlib import Path

import numpy as np
import pytest

from sunsched.base.civil_time import date_of, day_number
from sunsched.job import firmware_folder, pipeline
from sunsched.job.chip import flash_tables
from sunsched.plan.year import NO_MINUTE
from tests.chip import sites
from tests.chip.emulated import PLAY_DIR
from tests.support import toolchain

FIRST, LAST = 2027, 2047
EPOCH = day_number(dt.date(2000, 1, 1))
SERVED, OUTSIDE, NONE = 1, 2, 0


class Row(C.Structure):
    """door_row_t in door_decision.h."""

    _fields_ = [("open_min", C.c_int16), ("close_min", C.c_int16), ("midnight_min", C.c_int16), ("facts", C.c_uint8)]


@cache
def reader(name: str) -> C.CDLL:
    """The program's rows for this computer, with an EEPROM that is erased."""
    folder = Path(tempfile.mkdtemp(prefix="rows_")) / "door"
    folder.mkdir()
    work = sites.built(name, FIRST)
    made = flash_tables.flash_tables(work.configuration, range(FIRST, LAST + 1))
    assert made.worst_error_min <= 1
    for path, content in firmware_folder.files_of(work, made, folder).items():
        path.write_bytes(content)
    out = folder.parent / "rows.so"
    sources = [folder / f"{part}.c" for part in ("door_rows", "door_slots", "door_say", "door_writer")]
    flags = ["-std=gnu11", "-O2", "-shared", "-fPIC", f"-I{folder}", f"-I{PLAY_DIR}"]
    toolchain.needed("gcc")
    toolchain.run(["gcc", *flags, *sources, PLAY_DIR / "host_board.c", PLAY_DIR / "clock_chip.c", "-o", out])
    library = C.CDLL(str(out))
    library.door_rows_read.restype = library.door_rows_begun.restype = C.c_uint8
    C.memset(C.addressof(C.c_uint8.in_dll(library, "host")) + eeprom_offset(), 0xFF, 1024)
    library.door_rows_start()
    return library


def eeprom_offset() -> int:
    """Where host_board keeps its EEPROM: host_board.h."""
    text = '#include <stddef.h>\n#include "host_board.h"\nsize_t at(void) { return offsetof(host_board, eeprom); }\n'
    source = Path(tempfile.mkdtemp()) / "at.c"
    source.write_text(text)
    toolchain.run(["gcc", "-shared", "-fPIC", f"-I{PLAY_DIR}", source, "-o", source.with_suffix(".so")])
    return int(C.CDLL(str(source.with_suffix(".so"))).at())


def row_of(name: str, date: dt.date) -> tuple[int, Row]:
    row = Row()
    return int(reader(name).door_rows_read(C.c_uint16(day_number(date) - EPOCH), C.byref(row))), row


# Birch hollow takes a table for each year, exact but half a minute's work: the last test has a few years of it.
@pytest.mark.parametrize("name", [name for name in sites.SHIPPED if name != "birch_hollow"])
def test_every_day_of_21_years_is_within_a_minute_of_its_fresh_plan(name: str) -> None:
    worst = 0
    configuration = sites.built(name, FIRST).configuration
    for year in range(FIRST, LAST + 1):
        plan = pipeline.plan_of(configuration, year)
        bits = plan.fact_bits
        for row, day in enumerate(plan.days.tolist()):
            served, got = row_of(name, date_of(day))
            assert served == SERVED, date_of(day)
            planned = (int(plan.open_min[row]), int(plan.close_min[row]))
            assert [minute == NO_MINUTE for minute in planned] == [
                minute == NO_MINUTE for minute in (got.open_min, got.close_min)
            ], date_of(day)
            if NO_MINUTE not in planned:
                worst = max(worst, abs(planned[0] - got.open_min), abs(planned[1] - got.close_min))
                # what twilight decided in this year may be stored as undecided, never the other way round
                assert got.facts & ~int(bits[row]) & 12 == 0, date_of(day)
            assert abs(got.midnight_min - int(plan.midnight_min[row])) <= 1, date_of(day)
    assert worst <= 1


def test_after_the_last_year_and_before_the_first_no_table_serves() -> None:
    library = reader("larch_end")
    for date, served, begun in (
        (dt.date(2048, 1, 1), OUTSIDE, 1),
        (dt.date(2099, 12, 31), OUTSIDE, 1),
        (dt.date(2026, 12, 31), OUTSIDE, 0),
        (dt.date(2026, 1, 1), OUTSIDE, 0),
    ):
        assert row_of("larch_end", date)[0] == served, date
        assert library.door_rows_begun() == begun, date
    # a clock that was reset
    assert row_of("larch_end", dt.date(2025, 12, 31))[0] == NONE
    assert row_of("larch_end", dt.date(2000, 1, 1))[0] == NONE


def test_an_order_of_one_year_is_obeyed_in_that_year_only() -> None:
    down = [
        year for year in range(FIRST, LAST + 1) if row_of("larch_end", dt.date(year, 12, 1))[1].open_min == NO_MINUTE
    ]
    assert down == [2027]


def test_rules_that_fit_no_one_table_get_several() -> None:
    configuration = sites.built("birch_hollow", FIRST).configuration
    made = flash_tables.flash_tables(configuration, range(2027, 2030))
    assert len(made.tables) == 3 and made.worst_error_min == 0
    assert flash_tables.words(made).endswith("one table cannot hold these rules within 1 min")
    for plan, table in zip(made.plans, made.tables, strict=True):
        got = table.image.minutes(date_of(plan.first_day).year)
        assert (got == np.array([plan.open_min, plan.close_min])).all()
    assert "with --worst-error" in flash_tables.one_table_instead(made, configuration) or "no one table would do" in (
        flash_tables.one_table_instead(made, configuration)
    )
