"""Generated headers: compiled, every day read through them, whatever a keeper wrote into the site's name."""

from __future__ import annotations

import datetime as dt
import subprocess
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sunsched.base.errors import RangeError
from sunsched.emit import c_compact, c_header
from sunsched.emit.c_header import comment_text
from sunsched.emit.c_reader import READER, reader_text
from sunsched.emit.stamp import Stamp, file_stem, plan_sha256
from sunsched.plan.rules import Rules
from sunsched.plan.year import YearPlan
from sunsched.table.choose import choose
from sunsched.table.layout import CODECS, Codec
from tests.support.made_plans import made_plan
from tests.support.reader import WARNINGS

AWKWARD = 'Lärchen "end" */ int x; /* ??/ \\\n#error <b>&amp; Ω'
COMPILERS = [("gcc", "-std=c99"), ("g++", "-xc++", "-std=c++11"), ("g++", "-xc++", "-std=c++17")]
MAIN = """
#include "{header}"
#include <stdio.h>
int main(void)
{{
    uint8_t month, day;
    printf("%d\\n", {check});
    for (month = 0; month < 14; month++) {{
        for (day = 0; day < 33; day++) {{
            printf("%d %d %d %d %d %d\\n", month, day, door_open_min(month, day), door_close_min(month, day),
                   door_facts(month, day), door_midnight_min(month, day));
        }}
    }}
    return 0;
}}
"""


def stamp_of(plan: YearPlan) -> Stamp:
    written = {"morning": {"twilight": "civil"}, "season": [{"name": AWKWARD}]}
    return Stamp("0.0", "sunsched table made.toml --year 2028", "2099z", plan_sha256(plan), written)


def run(folder: Path, compiler: tuple[str, ...], header: str, check: str) -> list[list[int]]:
    (folder / "main.c").write_text(MAIN.format(header=header, check=check), encoding="ascii")
    command = [*compiler, *WARNINGS, str(folder / "main.c"), "-o", str(folder / "main")]
    done = subprocess.run(command, capture_output=True, text=True, timeout=60, check=False)
    assert done.returncode == 0, done.stderr
    out = subprocess.run([str(folder / "main")], capture_output=True, text=True, timeout=60, check=True).stdout
    return [[int(value) for value in line.split()] for line in out.splitlines()]


def compare(rows: list[list[int]], plan: YearPlan) -> None:
    seen = 0
    bits = plan.fact_bits
    for month, day, opens, closes, facts, midnight in rows:
        try:
            row = plan.row(dt.date(2028, month, day))
        except ValueError:
            assert (opens, closes, facts, midnight) == (-32767, -32767, 0, -32767)
            continue
        seen += 1
        assert (opens, closes, facts) == (plan.open_min[row], plan.close_min[row], bits[row])
        # Within a minute of the plan's whole minutes, as stated.
        assert abs(midnight - plan.midnight_min[row]) <= 1
    assert seen == 366


@pytest.mark.parametrize("compiler", COMPILERS, ids=" ".join)
def test_the_plain_header_reads_every_day(compiler: tuple[str, ...], tmp_path: Path) -> None:
    plan = made_plan(name=AWKWARD, shut=(320, 340))
    text = c_header.text(plan, stamp_of(plan))
    (tmp_path / "door.h").write_text(text, encoding="ascii")
    rows = run(tmp_path, compiler, "door.h", "door_checksum() == DOOR_CHECKSUM")
    assert rows[0] == [1]
    compare(rows[1:], plan)


@pytest.mark.parametrize("compiler", COMPILERS, ids=" ".join)
@pytest.mark.parametrize("layout", [CODECS["plain"], CODECS["blocks"], CODECS["slopes"], CODECS["curves"]])
def test_compact_headers_read_every_day(layout: Codec, compiler: tuple[str, ...], tmp_path: Path) -> None:
    plan = made_plan(name=AWKWARD, shut=(320, 340))
    table = choose([plan], Rules(), layout=layout)
    (tmp_path / "door.h").write_text(c_compact.text([plan], table, stamp_of(plan)), encoding="ascii")
    (tmp_path / READER).write_text(reader_text(), encoding="ascii")
    assert READER in (tmp_path / "door.h").read_text(encoding="ascii").partition("*/")[0]
    rows = run(tmp_path, compiler, "door.h", "door_check()")
    assert rows[0] == [0]
    compare(rows[1:], plan)


def test_avr_keeps_the_rows_in_flash(tmp_path: Path) -> None:
    plan = made_plan()
    (tmp_path / "door.h").write_text(c_header.text(plan, stamp_of(plan)), encoding="ascii")
    use = '#include "door.h"\nint16_t use(uint8_t m, uint8_t d);\nint16_t use(uint8_t m, uint8_t d)\n'
    (tmp_path / "use.c").write_text(use + "{ return door_open_min(m, d); }\n", encoding="ascii")
    command = ["avr-gcc", "-mmcu=atmega328p", "-std=c99", *WARNINGS, "-Os", "-c", str(tmp_path / "use.c")]
    subprocess.run([*command, "-o", str(tmp_path / "use.o")], check=True, timeout=60)
    sizes = subprocess.run(["avr-size", "-A", str(tmp_path / "use.o")], capture_output=True, text=True, check=True)
    sections = {line.split()[0]: int(line.split()[1]) for line in sizes.stdout.splitlines() if line.startswith(".")}
    assert sections[".progmem.data"] == 4 * 366
    assert sections[".data"] == sections[".bss"] == 0


def test_another_revision_is_refused(tmp_path: Path) -> None:
    plan = made_plan()
    (tmp_path / "door.h").write_text(c_header.text(plan, stamp_of(plan)), encoding="ascii")
    (tmp_path / "use.c").write_text('#define SUNSCHED_TABLE_REVISION 2\n#include "door.h"\n', encoding="ascii")
    command = ["gcc", "-std=c99", "-fsyntax-only", str(tmp_path / "use.c")]
    done = subprocess.run(command, capture_output=True, text=True, timeout=60, check=False)
    assert done.returncode != 0
    assert "generate all tables and readers together" in done.stderr


@given(st.text(max_size=60) | st.text(alphabet="/*?\\\n x", max_size=40))
def test_no_text_ends_a_comment(text: str) -> None:
    harmless = comment_text(text)
    assert harmless.isascii() and "\n" not in harmless and "\\" not in harmless
    assert not any(bad in harmless for bad in ("*/", "/*", "??"))


@settings(max_examples=30, deadline=None)
@given(st.text(min_size=1, max_size=40))
def test_a_file_stem_is_plain(name: str) -> None:
    stem = file_stem(made_plan(name=name))
    assert all(ch in "abcdefghijklmnopqrstuvwxyz0123456789_" for ch in stem)
    assert stem.endswith("_2028")


def test_a_header_holds_one_calendar_year() -> None:
    plan = made_plan()
    late = YearPlan(**{f: getattr(plan, f) for f in plan.__slots__} | {"first_day": plan.first_day + 1})
    with pytest.raises(RangeError, match="one calendar year"):
        c_header.text(late, stamp_of(plan))


def test_the_same_plan_gives_the_same_text() -> None:
    texts = {c_header.text(made_plan(), stamp_of(made_plan())) for _ in range(2)}
    assert len(texts) == 1
