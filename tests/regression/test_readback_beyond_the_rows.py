"""`readback` called damaged tables equal: it read rows, year, count, offset and checksum, and nothing beside them.

A chip compiles the whole text. What can be neither proven by the text's digest nor made anew is not called equal.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path

import pytest
from typer.testing import CliRunner

from sunsched.cli.app import app
from sunsched.config.toml_file import read
from sunsched.job.pipeline import built, texts_of
from sunsched.job.tables import Ask, tables

CONFIG = Path(__file__).parents[2] / "configs" / "fig_yard.toml"
FACT_ROW = "    {   0,"


@pytest.fixture(scope="module")
def texts() -> dict[str, str]:
    """The forms of one shipped site's 2028, as texts."""
    configuration = read(CONFIG)
    found = {
        form: raw.decode() for form, raw in texts_of(built(configuration, 2028, "x"), ("c", "json", "csv")).items()
    }
    made = tables(configuration, Ask((2028,), ("c", "eeprom"), "curves"), "x").files
    return found | {"compact": made["fig_yard_2028.h"].decode(), "hex": made["fig_yard_2028.hex"].decode()}


def swapped(old: str, new: str) -> Callable[[str], str]:
    """A damage that replaces one text by another."""

    def damage(text: str) -> str:
        assert old in text
        return text.replace(old, new, 1)

    return damage


DAMAGES: tuple[tuple[str, str, Callable[[str], str]], ...] = (
    ("february", "c", swapped("DOOR_FEBRUARY_DAYS 29", "DOOR_FEBRUARY_DAYS 28")),
    ("sides", "c", swapped("[row][side]", "[row][1 - side]")),
    ("facts", "c", swapped(FACT_ROW, "    {   9,")),
    ("octal", "c", swapped("DOOR_YEAR 2028", "DOOR_YEAR 02028")),
    ("cut", "c", lambda text: text[: text.index("};") + 3]),
    ("twice", "c", swapped("#define DOOR_ROWS 366", "#define DOOR_ROWS 366\n#define DOOR_ROWS 365")),
    ("function", "compact", swapped("sunsched_minute(door_image, 0u", "sunsched_minute(door_image, 1u")),
    ("cut packed", "compact", lambda text: text[: text.index("};") + 3]),
    ("offset", "csv", lambda text: re.sub(r",-?\d+,(?=2028-)", ",60,", text)),
    ("end record", "hex", lambda text: text.replace(":00000001FF\n", "")),
    ("address", "hex", swapped(":10000000", ":10100000")),
)


@pytest.mark.parametrize(("form", "damage"), [d[1:] for d in DAMAGES], ids=[d[0] for d in DAMAGES])
def test_a_damaged_table_is_not_called_equal(
    form: str, damage: Callable[[str], str], texts: dict[str, str], tmp_path: Path
) -> None:
    good, bad = tmp_path / "good", tmp_path / "bad"
    good.write_text(texts[form], newline="")
    bad.write_text(damage(texts[form]), newline="")
    assert bad.read_bytes() != good.read_bytes()
    run = CliRunner()
    assert run.invoke(app, ["readback", str(good), str(CONFIG)]).exit_code == 0
    done = run.invoke(app, ["readback", str(bad), str(CONFIG)])
    assert done.exit_code in (1, 65), done.output
    assert run.invoke(app, ["readback", str(bad)]).exit_code == 65


@pytest.mark.parametrize("form", ["c", "json", "csv", "compact"])
def test_line_ends_and_a_byte_order_mark_are_no_damage(form: str, texts: dict[str, str], tmp_path: Path) -> None:
    path = tmp_path / "saved"
    lines = texts[form].replace("\r\n", "\n").replace("\n", "\r\n")
    path.write_bytes(b"\xef\xbb\xbf" + lines.encode())
    whole = CliRunner().invoke(app, ["readback", str(path), str(CONFIG)])
    assert (whole.exit_code, "the whole text is proven" in whole.output) == (0, True), whole.output


def test_a_table_of_before_the_digest_is_made_anew_and_compared(tmp_path: Path) -> None:
    from sunsched.base.text_digest import without_digest

    work = built(read(CONFIG), 2028, str(CONFIG))
    for form, raw in texts_of(work, ("c", "json", "csv")).items():
        old = without_digest(raw.decode())
        assert "sunsched-text" not in old
        path = tmp_path / form
        path.write_text(old, newline="")
        run = CliRunner()
        alone = run.invoke(app, ["readback", str(path)])
        assert (alone.exit_code, "not proven" in alone.output) == (0, True)
        equal = run.invoke(app, ["readback", str(path), str(CONFIG)])
        assert (equal.exit_code, "made anew and compared" in " ".join(equal.output.split())) == (0, True), equal.output
        path.write_text(old.replace("fig_yard", "fig_yarn").replace('"atmega328p"', '"atmega328q"') + "\n", newline="")
        changed = run.invoke(app, ["readback", str(path), str(CONFIG)])
        assert changed.exit_code in (1, 65)
        assert "equal to a fresh plan on every day; the whole" not in " ".join(changed.output.split())
