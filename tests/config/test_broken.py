"""Every broken configuration gives its messages, all at once, and the right exit code; nothing is lost."""

from __future__ import annotations

from pathlib import Path

import pytest

from sunsched.base.civil_time import tzdata_release
from sunsched.base.errors import ConfigError, MissingFileError
from sunsched.config.configuration import Configuration
from sunsched.config.toml_file import read
from sunsched.plan.rules import MomentRule
from tests.config.broken import BROKEN, SITE
from tests.support.command_line import sunsched
from tests.support.unprivileged import exit_code_of, run_unprivileged

MOMENT_KEYS = ", ".join(MomentRule.model_fields)
SECTIONS = ", ".join(Configuration.model_fields)


def expected(message: str) -> str:
    """A message with its lists of keys put in."""
    message = message.replace("MOMENT_KEYS", MOMENT_KEYS).replace("SECTIONS", SECTIONS)
    return message.replace("RELEASE", tzdata_release()).replace("TIME", "06:30:00")


@pytest.mark.parametrize("name", BROKEN)
def test_each_mistake_has_its_whole_message(name: str, tmp_path: Path) -> None:
    text, messages = BROKEN[name]
    path = tmp_path / f"{name}.toml"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(ConfigError) as caught:
        read(path)
    assert str(caught.value).splitlines() == [f"{path}: {expected(message)}" for message in messages]
    assert caught.value.exit_code == 78


@pytest.mark.parametrize("name", ["latitude_95", "not_toml", "two_mistakes_in_two_sections"])
def test_the_command_says_it_and_leaves_old_files_alone(name: str, tmp_path: Path) -> None:
    (tmp_path / "hut.toml").write_text(SITE)
    assert sunsched("table", "hut.toml", "--year", "2027", cwd=tmp_path).returncode == 0
    before = {path: path.read_bytes() for path in tmp_path.glob("hut_2027.*")}
    assert len(before) == 3
    (tmp_path / "hut.toml").write_text(BROKEN[name][0])
    done = sunsched("table", "hut.toml", "--year", "2027", cwd=tmp_path)
    assert done.returncode == 78
    assert done.stdout == ""
    assert done.stderr.splitlines() == [f"error: hut.toml: {expected(m)}" for m in BROKEN[name][1]]
    assert {path: path.read_bytes() for path in tmp_path.glob("hut_2027.*")} == before


def test_bytes_that_are_not_text(tmp_path: Path) -> None:
    path = tmp_path / "x.toml"
    path.write_bytes(b"[site]\nname = '\xff\xfe'\n")
    with pytest.raises(ConfigError, match="byte 15 is not UTF-8; wanted TOML, which is UTF-8 text"):
        read(path)


def test_ten_megabytes_of_text(tmp_path: Path) -> None:
    path = tmp_path / "x.toml"
    path.write_text("# " + "x" * 10_000_000)
    with pytest.raises(ConfigError) as caught:
        read(path)
    assert str(caught.value) == f"{path} is longer than 250 kB; wanted a configuration, a page of TOML"


def test_a_folder_and_a_missing_file(tmp_path: Path) -> None:
    with pytest.raises(MissingFileError, match=r"is a folder; wanted a TOML file"):
        read(tmp_path)
    with pytest.raises(MissingFileError, match=r"there is no such file; wanted a configuration"):
        read(tmp_path / "none.toml")
    assert MissingFileError.exit_code == 66


def test_nested_without_end(tmp_path: Path) -> None:
    path = tmp_path / "x.toml"
    path.write_text("a = " + "[" * 100_000 + "]" * 100_000)
    with pytest.raises(ConfigError, match="wanted TOML"):
        read(path)


def test_no_permission_to_read_or_write(tmp_path: Path) -> None:
    hut = tmp_path / "hut.toml"
    hut.write_text(SITE)
    command = ["table", "hut.toml", "--year", "2027"]
    assert exit_code_of(["table", str(hut), "--year", "2027", "--out", str(tmp_path / "mine")]) == 0
    (tmp_path / "mine").chmod(0o755)
    code, out, err = run_unprivileged([*command, "--out", "mine", "--force"], tmp_path)
    assert (code, out) == (73, "")
    assert "Permission denied; nothing was changed" in err
    assert len(list((tmp_path / "mine").iterdir())) == 3
    hut.chmod(0o000)
    code, out, err = run_unprivileged(command, tmp_path)
    assert (code, out) == (66, "")
    assert err == "error: hut.toml: no permission to read it; wanted a TOML file\n"


def test_a_zone_that_no_sky_allows(tmp_path: Path) -> None:
    (tmp_path / "hut.toml").write_text(SITE.replace("5.2", "-170"))
    done = sunsched("table", "hut.toml", "--year", "2027", cwd=tmp_path)
    assert done.returncode == 78
    assert "chip.keeps is 'standard', which puts solar noon near 00:20 on the chip" in done.stderr


def test_days_that_nothing_decides_are_named(tmp_path: Path) -> None:
    text = SITE.replace("52.1", "66.1") + '[evening]\nno_twilight = ["limit"]\n'
    (tmp_path / "hut.toml").write_text(text + '[morning]\nno_twilight = ["shut"]\n')
    done = sunsched("table", "hut.toml", "--year", "2027", cwd=tmp_path)
    assert done.returncode == 78
    assert done.stderr.startswith("error: hut.toml: evening.no_twilight is a list that decides nothing on 2027-05-")
