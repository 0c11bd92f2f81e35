"""Light logs as loggers write them, good and bad. All logs here are our own invention."""

from __future__ import annotations

import datetime as dt
import io
import tempfile
import tracemalloc
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from sunsched.base.civil_time import day_number
from sunsched.base.errors import LogError, MissingFileError
from sunsched.study import light_log
from sunsched.study.light_log import LightLog
from tests.support.known import known

START = dt.datetime(2027, 3, 1, 12, 0)
START_MIN = day_number(START.date()) * 1440 + 720


def rows(
    n: int,
    step_min: int = 1,
    first: dt.datetime = START,
    value: Callable[..., Any] = lambda number: f"{1000 - number % 900}",
    sep: str = ",",
) -> list[str]:
    times = (first + dt.timedelta(minutes=step_min * number) for number in range(n))
    return [f"{time:%Y-%m-%d %H:%M}{sep}{value(number)}" for number, time in enumerate(times)]


def read(tmp_path: Path, lines: list[str], text: bytes | str | None = None, **options: str) -> LightLog:
    path = tmp_path / "yard.csv"
    text = "\n".join([*lines, ""]) if text is None else text
    path.write_bytes(text.encode() if isinstance(text, str) else text)
    return light_log.read(path, **options)


def test_a_plain_log(tmp_path: Path) -> None:
    log = read(tmp_path, ["time,lux", *rows(600)])
    assert (log.rows, log.bad_rows, log.unit, log.zoned, log.interval_min) == (600, 0, "lux", False, 1.0)
    found = log.span(START_MIN, 3)
    assert found.tolist() == [1000.0, 999.0, 998.0]
    assert np.isnan(log.span(START_MIN - 2, 3)).tolist() == [True, True, False]
    assert np.isnan(log.span(START_MIN + 598, 4)).tolist() == [False, False, True, True]


def test_a_span_over_midnight_and_over_dates_without_rows(tmp_path: Path) -> None:
    log = read(tmp_path, ["time,lux", *rows(1440)])
    found = log.span(START_MIN + 700, 60)
    assert found.tolist() == [float(1000 - number % 900) for number in range(700, 760)]
    assert np.isnan(log.span(START_MIN + 5000, 2000)).all()


def test_rows_of_one_minute_are_averaged(tmp_path: Path) -> None:
    log = read(tmp_path, ["time,counts", "2027-03-01T12:00:00,10", "2027-03-01T12:00:20,20", "2027-03-01T12:00:40,60"])
    assert log.unit == "counts"
    assert log.span(START_MIN, 1).tolist() == [30.0]


@pytest.mark.parametrize(
    ("line", "minute"),
    [
        ("2027-03-01T12:00:00Z", 0),
        ("2027-03-01 12:00Z", 0),
        ("2027-03-01T12:00:00.250+01:00", -60),
        ("2027-03-01T12:00-0530", 330),
        (str(START_MIN * 60), 0),
        (str(START_MIN * 60_000), 0),
    ],
)
def test_times_that_carry_their_zone(tmp_path: Path, line: str, minute: int) -> None:
    log = read(tmp_path, ["time,lux", f"{line},7"])
    assert log.zoned
    assert log.span(START_MIN + minute, 1).tolist() == [7.0]


@pytest.mark.parametrize(
    "lines",
    [
        ["date,time,lux", "2027-03-01,12:00,7.5"],
        ["date;time;lux", "2027-03-01;12:00:00;7,5"],
        ["time\tlux", "01.03.2027 12:00\t7.5"],
        ['"time","lux"', '"2027-03-01 12:00","7.5"'],
        ["2027-03-01 12:00,7.5"],
        ["2027-03-01,12:00,7.5"],
        ["# logger of the yard", "", "temperature_c,lux,time", "3.0,7.5,2027-03-01 12:00"],
    ],
)
def test_layouts(tmp_path: Path, lines: list[str]) -> None:
    assert read(tmp_path, lines).span(START_MIN, 1).tolist() == [7.5]


def test_a_heading_that_says_utc(tmp_path: Path) -> None:
    assert read(tmp_path, ["time_utc,lux", "2027-03-01 12:00,7.5"]).zoned


def test_windows_line_ends_and_a_mark_of_utf_8(tmp_path: Path) -> None:
    log = read(tmp_path, [], text=b"\xef\xbb\xbftime,lux\r\n2027-03-01 12:00,7\r\n2027-03-01 12:01,8")
    assert log.span(START_MIN, 2).tolist() == [7.0, 8.0]


def test_a_few_bad_rows_are_named_and_left_out(tmp_path: Path) -> None:
    lines = ["time,lux", *rows(600)]
    lines[100] = "2027-03-01 13:39,n/a"
    lines[200] = "2027-03-01 15:19"
    lines[300] = "2027-03-01 25:61,4"
    log = read(tmp_path, lines)
    assert (log.rows, log.bad_rows) == (600, 3)
    assert log.bad == [
        (101, "light 'n/a'; wanted a number"),
        (201, "1 columns where the first row has 2"),
        (301, "time '2027-03-01 25:61'; wanted such as 2027-03-01 17:58"),
    ]
    assert np.isnan(log.span(START_MIN + 99, 1)).all()


@pytest.mark.parametrize(
    ("lines", "words"),
    [
        (["lux,time", *rows(5)], "row 2: '2027-03-01 12:00' where the light|columns are swapped"),
        ([f"{row.split(',')[1]},{row.split(',')[0]}" for row in rows(5)], "row 1: .*columns are swapped"),
        (["time,lux", *rows(50, value=lambda n: f"{n},5")], "row 2: 3 columns .*decimal comma"),
        (rows(50, value=lambda n: f"{n},5"), "row 1: three columns and no heading.*decimal comma"),
        (["time,lux", *rows(50, value=lambda n: "dark")], "row 2: light 'dark'; wanted a number"),
        (["time,lux", *rows(50, value=lambda n: "-1")], "row 2: light '-1'; wanted a number, 0 or more"),
        (["time,lux", *rows(50, value=lambda n: "nan")], "row 2: light 'nan'"),
        (["time,lux", *reversed(rows(50))], "row 3: times run backwards"),
        (["time,lux", "03/01/2027 12:00,4"], "row 2: time '03/01/2027 12:00': day or month first"),
        (["time,lux", "2027,4"], "row 2: time '2027'"),
        (["time,lux", "12:00,4"], "row 2: time '12:00'"),
        (["time,lux"], "row 1: a heading and no row of data"),
        (["time,temperature_c", "2027-03-01 12:00,4"], "row 1: no column of light"),
        (["a,lux", "2027-03-01 12:00,4"], "row 1: no column of time"),
        (["time,lux_in,lux_out", "2027-03-01 12:00,4,5"], "row 1: several columns of light .*--column"),
        (["time,lux", "2027-03-01T12:00Z,4", "2027-03-01T12:01,5"], "rows 2 to 3: some times with an offset"),
        (["", "#", ""], "no row of data"),
    ],
)
def test_logs_that_are_refused(tmp_path: Path, lines: list[str], words: str) -> None:
    with pytest.raises(LogError, match=words) as caught:
        read(tmp_path, lines)
    assert str(caught.value).startswith(str(tmp_path / "yard.csv"))
    assert caught.value.exit_code == 65


@pytest.mark.parametrize(
    ("content", "words"),
    [
        ("time,lux\n".encode("utf-16"), "row 1: text in UTF-16"),
        (b"time,lux\n2027-03-01 12:00,4\n\0\0", "row 3: a zero byte"),
        (b"x" * 2_000_000, "row 1: longer than"),
        (b"\x89PNG\r\n\x1a\n" + bytes(range(1, 256)) * 40, "no column of time|column"),
        (b"", "no row of data"),
    ],
)
def test_files_that_are_no_log(tmp_path: Path, content: bytes, words: str) -> None:
    with pytest.raises(LogError, match=words):
        read(tmp_path, [], text=content)


def test_the_column_can_be_named(tmp_path: Path) -> None:
    lines = ["time,lux_in,lux_out", "2027-03-01 12:00,4,5"]
    assert read(tmp_path, lines, column="lux_out").span(START_MIN, 1).tolist() == [5.0]
    with pytest.raises(LogError, match="no column 'lux_up'; wanted one of time, lux_in, lux_out"):
        read(tmp_path, lines, column="lux_up")


def test_a_week_without_rows_is_a_gap(tmp_path: Path) -> None:
    later = START + dt.timedelta(days=9)
    log = read(tmp_path, ["time,lux", *rows(100), *rows(100, first=later)])
    assert log.gaps == [light_log.Gap(102, START_MIN + 99.0, START_MIN + 9 * 1440.0)]


def test_a_clock_set_back_is_a_step_with_its_row(tmp_path: Path) -> None:
    log = read(tmp_path, ["time,lux", *rows(100), *rows(100, first=START + dt.timedelta(minutes=40))])
    assert log.steps_back == [light_log.StepBack(102, START_MIN + 99.0, START_MIN + 40.0)]


def test_a_date_met_again_keeps_both_readings(tmp_path: Path) -> None:
    lines = ["time,lux", *rows(3), *rows(1, first=START + dt.timedelta(days=5)), *rows(3, first=START.replace(hour=15))]
    log = read(tmp_path, lines)
    assert log.span(START_MIN, 3).tolist() == [1000.0, 999.0, 998.0]
    assert log.span(START_MIN + 180, 3).tolist() == [1000.0, 999.0, 998.0]


def test_saturation_is_counted(tmp_path: Path) -> None:
    log = read(tmp_path, ["time,lux", *rows(100, value=lambda n: min(n * 1000, 54_612))])
    assert (log.greatest, log.at_greatest, log.saturated_share) == (54_612.0, 45, 0.45)


def test_missing_files(tmp_path: Path) -> None:
    with pytest.raises(MissingFileError, match="there is no such file; wanted a light log"):
        light_log.read(tmp_path / "none.csv")
    with pytest.raises(MissingFileError, match="is a folder"):
        light_log.read(tmp_path)


def test_blocks_join_rows_cut_between_them(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    lines = ["time,lux", *rows(500)]
    whole = read(tmp_path, lines)
    monkeypatch.setattr(light_log, "BLOCK_BYTES", 37)
    pieces = read(tmp_path, lines)
    assert pieces.rows == whole.rows == 500
    assert np.array_equal(pieces.span(START_MIN, 500), whole.span(START_MIN, 500))
    numbers = [row for row, block in light_log.line_blocks(io.BytesIO(b"a\nb\nc"), "x") for _ in block]
    assert len(numbers) == 3


def test_memory_grows_with_the_dates_not_with_the_rows(tmp_path: Path) -> None:
    def peak(rows_a_minute: int) -> int:
        path = tmp_path / "long.csv"
        with path.open("w") as file:
            file.write("time,lux\n")
            for number in range(1440 * 2 * rows_a_minute):
                time = START + dt.timedelta(seconds=60 / rows_a_minute * number)
                file.write(f"{time:%Y-%m-%d %H:%M:%S},{number % 900}\n")
        tracemalloc.start()
        light_log.read(path)
        found = tracemalloc.get_traced_memory()[1]
        tracemalloc.stop()
        return found

    peak(1)  # what the first reading of all loads is not the rows'
    # both files are longer than the block that is held at once; the second has three times the rows
    assert peak(60) < 1.2 * peak(20)


CHIP_LOG = """# sunsched door log, revision 1
# site Larch end
# chip_offset_min 60
# table 2027-01-01..2027-12-31
date,time,event,counts,door,move,reason,alarms
,,start,640,halted,stay,none,
2027-03-01,16:45:00,quarter,640,up,raise,day,
2027-03-01,17:30:00,quarter,305,up,raise,day,
2027-03-01,17:58:41,move,110,moving_down,lower,light,
2027-03-01,17:58:52,ended,109,down,lower,light,
2027-03-01,18:00:00,quarter,104,down,lower,light,
2027-03-01,18:0
2027-03-01,18:15:00,alarm,60,down,lower,light,cell+clock_jump
# sunsched door log, revision 1
# site Larch end
# chip_offset_min 60
date,time,event,counts,door,move,reason,alarms
2027-03-02,06:15:00,start,9,down,stay,none,
"""


def test_the_doors_own_log(tmp_path: Path) -> None:
    log = read(tmp_path, [], text=CHIP_LOG + "2027-03-02,06:30:00,quarter,12,down,lower,night,\n" * 90)
    record = log.chip
    assert record is not None
    assert (record.site, record.chip_offset_min, record.starts, record.dateless_rows) == ("Larch end", 60, 2, 1)
    assert [(move.row, move.move, move.reason) for move in record.moves] == [(9, "lower", "light")]
    assert record.moves[0].chip_min == pytest.approx(day_number(dt.date(2027, 3, 1)) * 1440 + 17 * 60 + 58 + 41 / 60)
    assert record.alarms == {"cell": 1, "clock_jump": 1}
    assert log.bad == [(12, "2 columns; wanted 8")]
    assert log.gaps == []
    assert log.span(START_MIN + 330, 1).tolist() == [305.0]


def test_a_door_log_saved_from_its_middle_on(tmp_path: Path) -> None:
    lines = CHIP_LOG.splitlines()[7:10]
    log = read(tmp_path, ["01,16:45:00,quarter,640,up,raise,day,", *lines])
    assert (known(log.chip).chip_offset_min, log.unit, log.bad_rows) == (None, "counts", 1)
    assert log.span(START_MIN + 330, 1).tolist() == [305.0]


def test_a_door_log_full_of_damage_is_refused(tmp_path: Path) -> None:
    with pytest.raises(LogError, match="row 18: 4 columns; wanted 8"):
        read(tmp_path, [], text=CHIP_LOG.replace("2027-03-01,18:0\n", "") + "2027,x,y,z\n" * 5)


@settings(max_examples=150)
@given(st.binary(max_size=3000))
def test_any_bytes_are_read_or_refused(content: bytes) -> None:
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "any.csv"
        path.write_bytes(content)
        try:
            log = light_log.read(path)
        except LogError as error:
            assert str(path) in str(error)
        else:
            assert log.rows > log.bad_rows and log.days


TIME_LONG = len("2027-03-01 18:00")


@settings(max_examples=150)
@given(st.lists(st.tuples(st.integers(0, 299), st.integers(0, 15), st.characters(codec="ascii")), max_size=3))
@example([(1, 15, "0")])
@example([(1, 15, "2")])
def test_a_few_damaged_characters_never_change_other_rows(damage: list[tuple[int, int, str]]) -> None:
    lines = ["time,lux", *rows(300)]
    for row, place, character in damage:
        text = lines[row + 1]
        if character not in "\r\n#\x00":
            lines[row + 1] = text[:place] + character + text[place + 1 :]
    hurt = {row for row, _, _ in damage}
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "hurt.csv"
        path.write_text("\n".join(lines))
        try:
            log = light_log.read(path)
        except LogError:
            return
    found = log.span(START_MIN, 300)
    landed = {lines[row + 1][:TIME_LONG] for row in hurt}
    for row in range(300):
        # A damaged time may fall on another row's minute and be averaged there. On that of the row beside it nothing
        # tells: two readings of one minute are no fault of a log.
        beside = bool(hurt & {row - 1, row + 1}) and lines[row + 1][:TIME_LONG] in landed
        if row not in hurt and not beside and not np.isclose(found[row], 1000 - row):
            assert hurt and (log.steps_back or log.gaps or log.bad)
