"""The files that the page gives are those that the commands write, byte for byte; nothing else is written."""

from __future__ import annotations

import io
import zipfile
from collections.abc import Iterator
from pathlib import Path

import pytest
from typer.testing import CliRunner

from sunsched.cli.app import app
from sunsched.job.zipped import zipped
from tests.conftest import CONFIGS
from tests.planner.served import DAY, Served, served

LARCH = CONFIGS[0].parent / "larch_end.toml"
# Days that hardly differ are packed in a tenth of the time.
ON_THE_LINE = '[site]\nname = "Line"\nlatitude_deg = 0.5\nlongitude_deg = 35.3\nzone = "Africa/Nairobi"\n'


@pytest.fixture(scope="module")
def hut(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A configuration in a folder of its own, with the commands' files beside it."""
    folder = tmp_path_factory.mktemp("downloads")
    config = folder / "hut.toml"
    config.write_text(LARCH.read_text().partition("[battery]")[0])  # its winters take longer than all else
    line = folder / "line.toml"
    line.write_text(ON_THE_LINE)
    end = "2027-04-03"  # of the week that begins with DAY
    for words in (
        f"table {config} --year 2027 --as c -o {folder}",
        f"table {line} --year 2027 --as eeprom -o {folder}",
        f"firmware {config} --years 2027..2027 -o {folder / 'door'}",
        f"handover {config} --from {DAY} --to {end} -o {folder / 'sheet.html'} --ics {folder / 'sheet.ics'}",
        f"report {config} --year 2027 -o {folder / 'report.html'}",
    ):
        done = CliRunner().invoke(app, words.split())
        assert done.exit_code == 0, done.stderr
    return config


@pytest.fixture(scope="module")
def page(hut: Path) -> Iterator[Served]:
    """A planner for it."""
    with served(hut) as one:
        yield one


def given(page: Served, kind: str, text: str, **more: object) -> tuple[str, bytes]:
    """A download's name and bytes."""
    body = page.body(text=text, kind=kind, **more)
    status, head, content = page.request("POST", "/api/file", body)
    assert status == 200, content
    name = next(line for line in head.split("\r\n") if line.startswith("content-disposition: "))
    return name.split('"')[1], content


@pytest.mark.parametrize(
    ("kind", "file", "name"),
    [
        ("header", "larch_end_2027.h", "larch_end_2027.h"),
        ("hex", "line_2027.hex", "line_2027.hex"),
        ("bin", "line_2027.bin", "line_2027.bin"),
        ("sheet", "sheet.html", f"larch_end_{DAY}.html"),
        ("calendar", "sheet.ics", f"larch_end_{DAY}.ics"),
        ("report", "report.html", "larch_end_2027.html"),
    ],
)
def test_a_file_is_the_commands(page: Served, hut: Path, kind: str, file: str, name: str) -> None:
    got, content = given(page, kind, ON_THE_LINE if file.startswith("line") else hut.read_text())
    assert got == name
    assert content == (hut.parent / file).read_bytes()


def test_the_programs_folder_is_the_commands(page: Served, hut: Path) -> None:
    name, content = given(page, "program", hut.read_text(), n_years=1)
    assert name == "door.zip"
    with zipfile.ZipFile(io.BytesIO(content)) as archive:
        files = {one: archive.read(one) for one in archive.namelist()}
    folder = hut.parent / "door"
    assert files == {f"door/{path.name}": path.read_bytes() for path in folder.iterdir()}


def test_an_archive_is_the_same_each_time() -> None:
    files = {Path("door/b.c"): b"x" * 1000, Path("door/a.h"): b""}
    assert zipped(files) == zipped(files)
    with zipfile.ZipFile(io.BytesIO(zipped(files))) as archive:
        assert archive.namelist() == ["door/b.c", "door/a.h"] and archive.testzip() is None


def test_the_size_told_is_the_images(page: Served, hut: Path) -> None:
    told = page.post("table", text=ON_THE_LINE)[1]
    assert told["image_bytes"] == len((hut.parent / "line_2027.bin").read_bytes())
    assert told["room_bytes"] == 300 and told["board"] == "ATmega328P"


def test_a_program_without_its_machine_is_refused_at_the_fields(page: Served, hut: Path) -> None:
    text = hut.read_text().replace("cutoff_up_s = 12\n", "")
    status, told = page.post("file", text=text, kind="program", n_years=1)
    assert status == 422
    assert [one["field"] for one in told["problems"]] == ["motor.cutoff_up_s"]


@pytest.mark.parametrize("kind", ["", "x", "../header", "config"])
def test_a_kind_that_is_none_is_told(page: Served, hut: Path, kind: str) -> None:
    status, told = page.post("file", text=hut.read_text(), kind=kind)
    assert status == 422 and "wanted one of header, hex, bin" in told["problems"][0]["text"]


def test_years_that_are_none_are_told(page: Served, hut: Path) -> None:
    status, told = page.post("file", text=hut.read_text(), kind="program", n_years=1000)
    assert status == 422 and "wanted one of 1, 5, 21" in told["problems"][0]["text"]
