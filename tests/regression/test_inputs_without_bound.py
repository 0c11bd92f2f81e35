"""Files without end, keys without number and numbers without bound took all memory, minutes, or a traceback.

FIFOs and devices were read whole, 20,000 unknown keys printed 20,003 lines in a minute, a dotted key took 4 GB.
"""

from __future__ import annotations

import os
import resource
from pathlib import Path

import pytest
from typer.testing import CliRunner

from sunsched.base.errors import ConfigError
from sunsched.cli.app import app
from sunsched.config.toml_file import parsed
from tests.config.broken import SITE
from tests.support.unprivileged import exit_code_of

ROOT = Path(__file__).parents[2]
LARCH = str(ROOT / "configs" / "larch_end.toml")
DRIVE = '[door]\n[spool]\n[motor]\ndriver = "two_inputs"\nrpm = 1e-160\n'

# What reads a file, with FILE for it, and the exit code when it is no regular file.
READERS = (
    ["settings", "FILE"],
    ["readback", "FILE"],
    ["angle", LARCH, "FILE"],
    ["angle", LARCH, str(ROOT / "nights.csv"), "--light", "FILE"],
    ["replay", LARCH, "FILE"],
    ["battery", LARCH, "--year", "2027", "--climate", "FILE"],
    ["compare", LARCH, "--year", "2027", "--weather", "FILE"],
    ["batch", "FILE", LARCH, "--out", "OUT", "--year", "2027"],
)


def ran(words: list[str], file: Path, folder: Path) -> tuple[int, str]:
    """Exit code and messages of a command that reads `file`."""
    nights = folder / "nights.csv"
    nights.write_text("2027-03-01,18:30\n")
    places = {"FILE": str(file), "OUT": str(folder / "out"), str(ROOT / "nights.csv"): str(nights)}
    result = CliRunner().invoke(app, [places.get(word, word) for word in words])
    assert result.exception is None or isinstance(result.exception, SystemExit), result.exception
    return result.exit_code, result.output


@pytest.mark.parametrize("words", READERS, ids=lambda words: f"{words[0]}{len(words)}")
def test_a_pipe_a_device_and_a_disk_image_are_refused_by_name(words: list[str], tmp_path: Path) -> None:
    pipe = tmp_path / "pipe"
    os.mkfifo(pipe)
    huge = tmp_path / "huge"
    with huge.open("wb") as file:
        file.truncate(2_000_000_000)
    for path in (pipe, Path("/dev/zero")):
        code, said = ran(words, path, tmp_path)
        assert (code, "is a pipe or a device" in " ".join(said.split())) == (66, True), said
        assert str(path) in said.replace("\n", "")
    code, said = ran(words, huge, tmp_path)
    assert code in (65, 78), said
    assert str(huge) in said


def message(text: str) -> str:
    with pytest.raises(ConfigError) as caught:
        parsed(text.encode(), "x.toml")
    return str(caught.value)


def test_fifty_mistakes_are_told_and_the_others_counted() -> None:
    keys = "\n".join(f"k{n} = 1" for n in range(15_000))
    lines = message(f"{SITE}[evening]\n{keys}\n").splitlines()
    assert len(lines) == 51
    assert lines[0].startswith("x.toml: evening.k0 is an unknown key")
    assert lines[-1] == "x.toml: and 14950 more mistakes"


def memory_of(text: str) -> int:
    """The most memory [kB] that reading a configuration takes, beyond what the process had."""
    reader, writer = os.pipe()
    child = os.fork()
    if child == 0:
        try:
            before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
            message(text)
            os.write(writer, str(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before).encode())
        finally:
            os._exit(0)
    os.close(writer)
    with os.fdopen(reader) as pipe:
        grown = pipe.read()
    os.waitpid(child, 0)
    return int(grown)


@pytest.mark.parametrize(
    "text",
    [
        f"{'a.' * 60_000}a = 1\n",
        f"[{'a.' * 60_000}a]\n",
        f"x = {'[' * 100_000}{']' * 100_000}\n",
        f"x = {'{a=' * 40_000}1{'}' * 40_000}\n",
        f"{SITE}[evening]\nlater_min = {'[' * 200}{']' * 200}\n",
        f"{SITE}[[season]]\n" + 'name = "x"\nfrom = "01-01"\nto = "01-02"\n[[season]]\n' * 4000,
        f'[site]\nlatitude_deg = 1\nlongitude_deg = 2\nzone = "{"x" * 200_000}"\n',
    ],
    ids=["dotted key", "dotted section", "lists", "tables", "deep value", "seasons", "zone"],
)
def test_a_page_that_nests_or_repeats_without_end(text: str) -> None:
    assert memory_of(text) < 100_000


@pytest.mark.parametrize("number", ["1e-160", "5e-324"])
def test_a_speed_that_is_hardly_a_number(number: str, tmp_path: Path) -> None:
    path = tmp_path / "x.toml"
    path.write_text(SITE + DRIVE.replace("1e-160", number))
    result = CliRunner().invoke(app, ["drive", str(path)])
    assert result.exit_code == 78, result.output
    assert "motor.rpm is" in result.output


DEEP = "[" * 200_000


@pytest.mark.parametrize(
    "content",
    [
        '{"format":' + DEEP,
        "date," + "x" * 300_000 + "\n",
        "date,weekday\n" + '"' + "x" * 200_000,
        "#define DOOR_YEAR " + "9" * 5000 + "\ndoor_minutes[]\n",
        '{"format":"sunsched-table","revision":' + "9" * 5000 + "}",
        ":" + "١" * 50 + "\n:00000001FF\n",
    ],
    ids=["nested", "long field", "quoted field", "digits", "json digits", "other digits"],
)
def test_a_table_that_breaks_its_reader(content: str, tmp_path: Path) -> None:
    path = tmp_path / "table"
    path.write_text(content, encoding="utf-8")
    assert ran(["readback", "FILE"], path, tmp_path)[0] == 65


@pytest.mark.parametrize("row", ["0000-01-01", "0001-01-01", "9999-12-31", "٢٠٢٧-01-01", "2027-²1-01"])
def test_odd_years_and_digits_in_lists_and_logs(row: str, tmp_path: Path) -> None:
    path = tmp_path / "log.csv"
    path.write_text(f"{row},18:30\n", encoding="utf-8")
    assert ran(["angle", LARCH, "FILE"], path, tmp_path)[0] == 65
    for text in (
        f"time,lux\n{row} 18:30,5\n{row} 18:31,4\n",
        "date,time,event,counts,door,move,reason,alarms\n" + f"{row},18:30:00,quarter,55²,up,,,\n" * 3,
    ):
        path.write_text(text, encoding="utf-8")
        assert ran(["replay", LARCH, "FILE"], path, tmp_path)[0] == 65


def test_a_month_of_thousands_of_digits(tmp_path: Path) -> None:
    path = tmp_path / "climate.csv"
    path.write_text(f"month,clearness\n{'1' * 5000},0.4\n")
    assert ran(["battery", LARCH, "--year", "2027", "--climate", "FILE"], path, tmp_path)[0] in (65, 78)


def test_a_path_that_is_not_utf8(tmp_path: Path) -> None:
    folder = os.fsencode(tmp_path)
    config = os.path.join(folder, b"h\xfct.toml")
    with open(config, "wb") as file:
        file.write(Path(LARCH).read_bytes())
    out = os.fsdecode(os.path.join(folder, b"o\xfct"))
    for words in (
        ["table", "CONFIG", "--year", "2027", "--out", out],
        ["report", "CONFIG", "--year", "2027", "--out", f"{out}.html"],
        ["chart", "CONFIG", "--year", "2027", "--out", f"{out}.svg"],
        ["firmware", "CONFIG", "--year", "2027", "--out", f"{out}door"],
        ["handover", "CONFIG", "--from", "2027-03-01", "--to", "2027-03-07", "--out", f"{out}.txt"],
        ["renew", "CONFIG", "--out", f"{out}renewed", "--today", "2027-06-01", "--ahead", "0"],
        ["settings", os.fsdecode(os.path.join(folder, b"n\xfcn"))],
    ):
        code = exit_code_of([os.fsdecode(config) if word == "CONFIG" else word for word in words])
        assert code == (66 if words[0] == "settings" else 0), words
