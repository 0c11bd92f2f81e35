"""What a keeper meant by a time or a number that a key does not take."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sunsched.config.hints import line_meant, number_meant, time_meant

MEANT = {
    "7:00": "07:00",
    "7": "07:00",
    "7.30": "07:30",
    "07.30": "07:30",
    "0730": "07:30",
    "19h30": "19:30",
    "7 am": "07:00",
    "7:30 pm": "19:30",
    "12 am": "00:00",
    "12:15 p.m.": "12:15",
    "07:00:00": "07:00",
    " 7:05 ": "07:05",
    "24:00": "",
    "7:60": "",
    "13 pm": "",
    "0 am": "",
    "dawn": "",
    "": "",
    "7:0": "",
    "123456": "",
}


@pytest.mark.parametrize("text", MEANT)
def test_times(text: str) -> None:
    assert time_meant(text) == MEANT[text]


@given(
    st.integers(0, 23),
    st.integers(0, 59),
    st.sampled_from(("{h}:{m:02d}", "{h}.{m:02d}", "{h:02d}{m:02d}", "{h}h{m:02d}")),
)
def test_every_minute_of_the_day_is_understood(hour: int, minute: int, form: str) -> None:
    assert time_meant(form.format(h=hour, m=minute)) == f"{hour:02d}:{minute:02d}"


@given(st.text(max_size=30))
def test_any_text_means_a_time_of_the_day_or_nothing(text: str) -> None:
    meant = time_meant(text)
    assert meant == "" or ("00:00" <= meant <= "23:59" and len(meant) == 5)
    line_meant(text)
    assert number_meant(text) == "" or float(number_meant(text)) is not None


@pytest.mark.parametrize(
    ("line", "meant"),
    [
        ("latitude_deg = 53,945", ("latitude_deg", "53,945", "a number with a point: 53.945")),
        ("longitude_deg = -9,086  # west", ("longitude_deg", "-9,086", "a number with a point: -9.086")),
        ("not_before = 7:00", ("not_before", "7:00", 'a time in quotes: "07:00"')),
        ("zone = Europe/Dublin", ("zone", "Europe/Dublin", 'words in quotes: "Europe/Dublin"')),
        ("latitude_deg = 53.945", None),
        ("why = [1,", None),
        ("# latitude_deg = 53,945", None),
    ],
)
def test_lines(line: str, meant: tuple[str, str, str] | None) -> None:
    assert line_meant(line) == meant
