"""Names that try to break out of a page, a calendar, a comment or a cell."""

from __future__ import annotations

import csv
import io
import re
import xml.etree.ElementTree as ET
from functools import lru_cache
from html.parser import HTMLParser
from typing import Any

import icalendar
import pytest

from sunsched.base.plain_text import clean
from sunsched.config.configuration import Configuration
from sunsched.emit import c_header, csv_table
from sunsched.emit.stamp import file_stem
from sunsched.job import pipeline
from sunsched.report.page import report_file
from sunsched.report.page.html import cell, one_line
from sunsched.report.sheets import sheet_file

NAMES = {
    "markup": '</title></style><script>alert(1)</script><img src=x onerror="alert(2)">',
    "quotes": "\"'`\\ &quot; &lt; ${x} {site} {0} %s */ int x; /*",
    "emoji": "Hens 🐔👩‍🌾🏡 ☀️",
    "right to left": "חווה \u202egnp.exe مزرعة\u2067",
    "control": "a\x00b\x07c\x1b[31md\u0085e\u2028f\ufffeg",
    "line ends": "a\r\nEND:VCALENDAR\r\nBEGIN:VEVENT\nb\tc */\n#error x",
    "formula": '=HYPERLINK("http://x.example","y")',
    "trigraph": "??/\n*/ #include <x> // \\",
    "long": "Z" * 10_000,
    "long words": '🐔 <b>&" ' * 1_200,
}


class Tags(HTMLParser):
    """Counts tags and gathers their attributes and text, as a browser's parser would see them."""

    def __init__(self) -> None:
        super().__init__()
        self.tags: list[str] = []
        self.handlers: list[str] = []
        self.text: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append(tag)
        self.handlers += [name for name, _ in attrs if name.startswith("on") or name in ("style", "src")]

    def handle_data(self, data: str) -> None:
        self.text.append(data)


def parsed(text: str) -> Tags:
    """A page's tags."""
    found = Tags()
    found.feed(text)
    found.close()
    return found


def configuration_of(name: str) -> Configuration:
    """A site of that name, with a kept-in range and a season of the same name, cut to what they may hold."""
    data: dict[str, Any] = {
        "site": {"name": name, "latitude_deg": 52.1, "longitude_deg": 5.2, "zone": "Europe/Amsterdam"},
        "kept_in": [{"from": "2027-03-10", "to": "2027-03-12", "why": name[:200]}],
        "season": [{"name": name[:200], "from": "05-01", "to": "06-01", "evening": {"later_min": 3}}],
    }
    return Configuration.model_validate(data)


@lru_cache(maxsize=16)
def page_of(name: str) -> str:
    """The page of a site of that name."""
    return report_file.report_of(pipeline.built(configuration_of(name), 2027)).decode()


@pytest.fixture(params=list(NAMES.values()), ids=list(NAMES))
def hostile(request: pytest.FixtureRequest) -> str:
    """Each hostile name in turn."""
    return str(request.param)


_PICTURE = re.compile("<svg.*?</svg>", re.DOTALL)


def test_a_page_keeps_its_tags(hostile: str) -> None:
    text, plain = page_of(hostile), parsed(page_of("Plain"))
    found = parsed(text)
    # A season's long name is written below the map: a picture may have more elements, but none of another kind.
    outside, outside_plain = (parsed(_PICTURE.sub("", page)).tags for page in (text, page_of("Plain")))
    assert outside == outside_plain
    assert set(found.tags) == set(plain.tags)
    assert found.handlers == plain.handlers == []
    assert len(text.encode()) < 400_000
    assert one_line(hostile, 120) in "".join(found.text)
    assert not re.search("[\x00-\x08\x0b\x0c\x0e-\x1f\u202a-\u202e\u2066-\u2069]", text)


def test_a_picture_stays_whole(hostile: str) -> None:
    work = pipeline.built(configuration_of(hostile), 2027)
    assert ET.fromstring(report_file.chart_of(work, ".svg").decode()).tag.endswith("svg")


def test_a_sheet_keeps_its_tags_lines_and_cells(hostile: str) -> None:
    import datetime as dt

    made = {}
    for name in (hostile, "Plain"):
        sheet = sheet_file.sheet_of(configuration_of(name), dt.date(2027, 3, 8), dt.date(2027, 3, 30))
        made[name] = [sheet_file.sheet_bytes(sheet, ending).decode() for ending in (".html", ".txt", ".csv")]
    assert parsed(made[hostile][0]).tags == parsed(made["Plain"][0]).tags
    assert [line for line in made[hostile][1].splitlines() if re.match(r"END|BEGIN|#error", line)] == []
    rows = list(csv.reader(io.StringIO(made[hostile][2], newline="")))
    assert {len(row) for row in rows} == {9}
    assert len(rows) == 24
    assert not [part for row in rows for part in row if re.match(r"[=+\-@\t\r]", part)]


def test_a_calendar_keeps_its_components(hostile: str) -> None:
    import datetime as dt

    sheet = sheet_file.sheet_of(configuration_of(hostile), dt.date(2027, 3, 8), dt.date(2027, 3, 30))
    content = sheet_file.calendar_bytes(sheet)
    calendar = icalendar.Calendar.from_ical(content)
    events = calendar.walk("VEVENT")
    # A day kept in is one event, and so is the change of the clocks on 28 March.
    assert len(events) == 2 * (23 - 3) + 3 + 1
    assert content.count(b"BEGIN:VCALENDAR") == 1 and content.count(b"\r\nEND:VCALENDAR") == 1
    assert one_line(hostile, 200) in str(events[0]["SUMMARY"])
    assert max(len(line) for line in content.split(b"\r\n")) <= 75
    content.decode("utf-8")


def test_header_comment_and_table_csv_hold(hostile: str) -> None:
    work = pipeline.built(configuration_of(hostile), 2027)
    header = c_header.text(work.plan, work.stamp)
    # Outside comments a header must be the plain one's, whatever the name.
    plain = pipeline.built(configuration_of("Plain"), 2027)
    assert _code(header, file_stem(work.plan)) == _code(c_header.text(plain.plan, plain.stamp), file_stem(plain.plan))
    rows = list(csv.reader(io.StringIO(csv_table.text(work.plan, work.stamp), newline="")))
    assert {len(row) for row in rows} == {14} and len(rows) == 366


def _code(header: str, stem: str) -> str:
    """A header without its comments, as translation phases 1 to 3 of C99 (5.1.1.2) leave it, and without its name."""
    assert re.fullmatch("[a-z0-9_]+", stem)
    header = header.replace(stem.upper(), "STEM").replace(stem, "stem")
    text = header.replace("??/", "\\").replace("\\\n", "")
    return re.sub(r"\s+", " ", re.sub(r"/\*.*?\*/|//[^\n]*", " ", text, flags=re.DOTALL))


# OWASP, "CSV Injection": cells that begin with = + - @, tab or carriage return may be taken for formulas.
@pytest.mark.parametrize("head", ["=", "+", "-", "@", "\t=", "\r=", "＝"])
def test_a_cell_is_never_a_formula(head: str) -> None:
    assert not cell(f"{head}1+1").startswith(("=", "+", "-", "@", "\t", "\r", "＝"))


def test_clean_leaves_ordinary_writing_alone() -> None:
    for text in ("Lärchenhof", "חווה", "مزرعة", "👩‍🌾", "鶏小屋", "a\tb\nc"):
        assert clean(text) == text
