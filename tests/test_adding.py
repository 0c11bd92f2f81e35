"""The recipes of docs/adding.md, applied to a copy of the package: files touched, and each command that meets it."""

from __future__ import annotations

import json
import os
import re
import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.support import toolchain
from tools.warm_process import Warm

ROOT = Path(__file__).parents[1]
PAGE = (ROOT / "docs" / "adding.md").read_text(encoding="utf-8")
LARCH = (ROOT / "configs" / "larch_end.toml").read_text(encoding="utf-8")
SECTIONS = {"rule": "## A rule", "form": "## An output form", "codec": "## A layout of packed", "board": "## A board"}
ROWS = {"rule": "a rule", "form": "an output form", "codec": "a layout of packed tables", "board": "a board"}
CODE = r"\n+```\w+\n(?P<code>.*?)^```"
INSERT = re.compile(
    r"In\s+`(?P<file>[^`]+)`,\s+(?P<where>above|below|in place of)\s+`(?P<anchor>[^`]+)`:" + CODE, re.S | re.M
)
NEW = re.compile(r"New file\s+`(?P<file>[^`]+)`:" + CODE, re.S | re.M)
COPY = re.compile(r"New file\s+`(?P<file>[^`]+)`, which begins as a copy of\s+`(?P<source>[^`]+)`")
STEP = re.compile(r"^\d\. ", re.M)


def section(what: str) -> str:
    """The text of one recipe."""
    return PAGE.split(SECTIONS[what])[1].split("\n## ")[0]


def applied(what: str, top: Path) -> set[str]:
    """Follow a recipe in a copy of the package; the files that it touched."""
    shutil.copytree(ROOT / "sunsched", top / "sunsched")
    text = section(what)
    touched = set()
    for step in NEW.finditer(text):
        assert not (top / step["file"]).exists()
        (top / step["file"]).write_text(step["code"], encoding="utf-8")
        touched.add(step["file"])
    for step in COPY.finditer(text):
        shutil.copy(top / step["source"], top / step["file"])
        touched.add(step["file"])
    for step in INSERT.finditer(text):
        path = top / step["file"]
        lines = path.read_text(encoding="utf-8").splitlines(keepends=True)
        (at,) = [n for n, line in enumerate(lines) if line.rstrip("\n") == step["anchor"]]
        first, last = {"above": (at, at), "below": (at + 1, at + 1), "in place of": (at, at + 1)}[step["where"]]
        lines[first:last] = [step["code"]]
        path.write_text("".join(lines), encoding="utf-8")
        touched.add(step["file"])
    # A step whose words the patterns above do not know would be passed over in silence.
    assert len(re.findall(r"^```(?!sh)\w", text, re.M)) == len(NEW.findall(text)) + len(INSERT.findall(text))
    return touched


class Copy:
    """A copy of the package with one entry more, and its commands."""

    def __init__(self, what: str, top: Path) -> None:
        self.touched = applied(what, top)
        self.top, self.folder = top, top / "run"
        self.folder.mkdir()
        self._warm: Warm | None = None

    def close(self) -> None:
        """End its process."""
        if self._warm is not None:
            with self._warm:
                pass

    def run(self, *words: str, code: int = 0) -> str:
        """What a command prints; what it says on standard error, where it is to end with another code than 0."""
        if self._warm is None:
            self._warm = Warm({**os.environ, "PYTHONPATH": str(self.top), "COLUMNS": "200"})
        out, err = self.top / "stdout", self.top / "stderr"
        ended = self._warm.run(words, self.folder, out, err)
        printed, said = (path.read_text(encoding="utf-8") for path in (out, err))
        assert ended == code, said
        return said if code else printed

    def read(self, name: str) -> str:
        """A file that a command wrote."""
        return (self.folder / name).read_text(encoding="utf-8")


@pytest.fixture
def copy(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[Copy]:
    """The copy for the recipe that the test is marked with, and a configuration."""
    made = Copy(request.param, tmp_path)
    (made.folder / "hut.toml").write_text(LARCH, encoding="utf-8")
    sites = "name,latitude,longitude,zone\nHut,47.2,8.1,Europe/Zurich\n"
    (made.folder / "sites.csv").write_text(sites, encoding="utf-8")
    yield made
    made.close()


def recipe(what: str) -> pytest.MarkDecorator:
    return pytest.mark.parametrize("copy", [what], indirect=True)


@pytest.mark.parametrize("what", SECTIONS)
def test_a_recipe_touches_as_many_files_as_the_page_says(what: str, tmp_path: Path) -> None:
    (said,) = re.findall(rf"^\| {ROWS[what]} \| (\d+) \|", PAGE, re.M)
    assert len(applied(what, tmp_path)) == int(said) == {"rule": 3, "form": 2, "codec": 5, "board": 2}[what]


@recipe("rule")
def test_a_rule_is_met_by_every_command(copy: Copy) -> None:
    config = re.sub(r"^\[evening\].*$", "[evening]\nwhole_min = 10", LARCH, flags=re.M)
    (copy.folder / "hut.toml").write_text(config, encoding="utf-8")
    result = json.loads(copy.run("table", "hut.toml", "--year", "2027", "--json"))
    assert result["reasons"]["close"]["rounded"] > 200
    days = json.loads(copy.read("larch_end_2027.json"))["days"]
    rounded = [day for day in days if day["close_reason"] == "rounded"]
    # The Sun still decides: the chip may hold clock and light against each other, as before the rule.
    assert rounded and all(day["close_by_twilight"] for day in rounded)
    assert all(day["close_min"] % 10 == 0 for day in rounded)
    for form in ("h", "json", "csv"):
        assert "equal to a fresh plan" in copy.run("readback", f"larch_end_2027.{form}", "hut.toml")
    assert "rounded" in copy.run("day", "hut.toml", rounded[0]["date"])
    assert '"whole_min": 10' in copy.run("settings", "hut.toml", "--json")
    copy.run("report", "hut.toml", "--year", "2027", "--out", "year.html")
    assert "<b>rounded</b> rounded up to whole steps" in copy.read("year.html")
    copy.run("chart", "hut.toml", "--year", "2027", "-o", "year.svg")
    first = rounded[0]["date"]
    copy.run("handover", "hut.toml", "--from", first, "--to", first, "-o", "sheet.html", "--ics", "days.ics")
    assert "Decided by: the Sun\\, rounded up." in copy.read("days.ics").replace("\n ", "")
    copy.run("batch", "sites.csv", "hut.toml", "--out", "b", "--year", "2027", "--jobs", "1", "--as", "csv")
    assert ",rounded," in copy.read("b/000002_hut/hut_2027.csv")
    copy.run("renew", "hut.toml", "--out", "out", "--today", "2027-06-01")
    # Exact steps of ten minutes are what a curve fits worst: it would be sought for seconds, and blocks taken.
    copy.run("firmware", "hut.toml", "--years", "2027..2028", "--worst-error", "10", "--out", "door")
    copy.run(
        "table",
        "hut.toml",
        "--year",
        "2027",
        "--as",
        "eeprom",
        "--layout",
        "slopes",
        "--room",
        "1024",
        "--out",
        "packed",
    )
    assert "equal to a fresh plan" in copy.run("readback", "packed/larch_end_2027.bin", "hut.toml")


@recipe("form")
def test_a_form_is_met_by_every_command(copy: Copy) -> None:
    for _ in range(2):
        copy.run("table", "hut.toml", "--year", "2027", "--as", "lines")
    assert "lines, 2027, whole" in copy.run("readback", "larch_end_2027.lines", "hut.toml")
    copy.run("batch", "sites.csv", "hut.toml", "--out", "b", "--year", "2027", "--jobs", "2", "--as", "lines")
    assert copy.read("b/000002_hut/hut_2027.lines").startswith("lines of 2027\n")
    words = ("renew", "hut.toml", "--out", "out", "--today", "2027-06-01", "--as", "lines")
    copy.run(*words)
    assert copy.run(*words) == ""
    assert copy.read("out/larch_end/larch_end_2027.lines") == copy.read("larch_end_2027.lines")
    for command in ("table", "batch", "renew", "readback"):
        assert "lines" in copy.run(command, "--help")


@recipe("codec")
def test_a_layout_is_met_by_every_command_and_read_in_c(copy: Copy) -> None:
    words = ("table", "hut.toml", "--year", "2027", "--layout", "offsets", "--as", "c", "--as", "eeprom")
    assert "more than the room of 300" in copy.run(*words, code=1)
    result = json.loads(copy.run(*words, "--room", "2000", "--json"))
    assert (result["layout"], result["decoder_bytes"]) == ("offsets", 28)
    for name in ("larch_end_2027.h", "larch_end_2027.hex", "larch_end_2027.bin"):
        assert "equal to a fresh plan" in copy.run("readback", name, "hut.toml")
    assert "offsets" in copy.run("table", "--help")
    copy.run("firmware", "hut.toml", "--years", "2027..2027", "--out", "door")
    assert (copy.folder / "door" / "sunsched_offsets.h").is_file()
    assert read_in_c(copy.folder) == planned(copy)
    auto = json.loads(copy.run("table", "hut.toml", "--year", "2027", "--layout", "auto", "--json"))
    assert auto["layout"] == "curves"


def planned(copy: Copy) -> list[str]:
    """Every day's minutes by the plan, as the C program below prints them."""
    copy.run("table", "hut.toml", "--year", "2027", "--as", "json", "--out", "plan")
    days = json.loads(copy.read("plan/larch_end_2027.json"))["days"]
    shut = -32768
    return [
        f"{day['date'][5:]} {shut if day['open_min'] is None else day['open_min']} "
        f"{shut if day['close_min'] is None else day['close_min']}"
        for day in days
    ]


def read_in_c(folder: Path) -> list[str]:
    """Every day's minutes by the C reader that was written beside a header."""
    toolchain.needed("gcc")
    (folder / "use.c").write_text(
        '#include "larch_end_2027.h"\n#include <stdio.h>\n'
        "int main(void)\n{\n    unsigned m, d;\n    if (door_check() != SUNSCHED_GOOD) { return 1; }\n"
        "    for (m = 1; m < 13; m++) {\n        for (d = 1; d < 32; d++) {\n"
        "            const int16_t opens = door_open_min((uint8_t)m, (uint8_t)d);\n"
        "            if (opens != SUNSCHED_ERR_DATE) {\n"
        '                printf("%02u-%02u %d %d\\n", m, d, opens, door_close_min((uint8_t)m, (uint8_t)d));\n'
        "            }\n        }\n    }\n    return 0;\n}\n",
        encoding="ascii",
    )
    toolchain.run(["gcc", "-std=c99", *toolchain.WARNINGS, folder / "use.c", "-o", folder / "use"])
    return toolchain.run([folder / "use"]).stdout.splitlines()


@recipe("board")
def test_a_board_is_met_by_every_command_and_its_program_compiles(copy: Copy) -> None:
    toolchain.needed("avr-gcc", "avr-size", "avr-objcopy", "make")
    config = LARCH.replace('board = "atmega328p"', 'board = "atmega1281"')
    assert config != LARCH
    (copy.folder / "hut.toml").write_text(config, encoding="utf-8")
    assert '"board": "atmega1281"' in copy.run("settings", "hut.toml", "--json")
    copy.run("firmware", "hut.toml", "--years", "2027..2027", "--out", "door")
    notes = copy.read("door/README.md")
    assert "| board | ATmega1281, 8 MHz, 3.3 V, " in notes
    # The entry advises no fuses: those of another chip must not be printed for it, and the keeper has to look them up.
    assert "HFUSE=0x" not in notes
    assert "No fuses are advised for this chip" in notes
    assert " wires at ATmega1281</text>" in copy.read("door/wiring.svg")
    assert "MCU = atmega1281\n" in copy.read("door/Makefile")
    toolchain.run(["make", "-C", copy.folder / "door"])
    assert re.search(r"^atmega1281( +-)+\n  not run$", copy.run("boards"), re.M)
    too_large = copy.run("table", "hut.toml", "--year", "2027", "--as", "eeprom", "--layout", "plain", code=1)
    assert "an ATmega1281 has 4096 bytes of EEPROM" in too_large
    (copy.folder / "wrong.toml").write_text(config.replace("atmega1281", "atmega1218"), encoding="utf-8")
    assert ", 'atmega1281' (nearest is 'atmega1281')" in copy.run("settings", "wrong.toml", code=78)
