"""Files of keepers and of other programs were replaced without --force, and two sites shared one name.

An edited configuration, any file with the bytes D5 01 in its first 4 kB, and of two names for one file only one stayed.
"""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import example, given
from hypothesis import strategies as st
from typer.testing import CliRunner

from sunsched.cli.app import app
from sunsched.emit.stamp import site_stem
from sunsched.job.files import is_ours
from tests.support.own_files import ours

ROOT = Path(__file__).parents[2]
LARCH = str(ROOT / "configs" / "larch_end.toml")


def ran(*words: object) -> tuple[int, str]:
    result = CliRunner().invoke(app, [str(word) for word in words])
    return result.exit_code, result.output


def test_a_configuration_is_never_replaced(tmp_path: Path) -> None:
    path = tmp_path / "hut.toml"
    assert ran("sample", "-o", path)[0] == 0
    path.write_text(path.read_text().replace("later_min = 0", "later_min = 12"))
    edited = path.read_text()
    assert ran("sample", "-o", path)[0] == 73
    nights = tmp_path / "nights.csv"
    nights.write_text("".join(f"2027-03-{day:02d},18:2{day % 10}\n" for day in range(1, 10)))
    assert ran("angle", LARCH, nights, "--write", path)[0] == 73
    assert path.read_text() == edited
    new = tmp_path / "new.toml"
    assert ran("angle", LARCH, nights, "--write", new)[0] == 0
    new.write_text(new.read_text() + "# mine\n")
    assert ran("angle", LARCH, nights, "--write", new)[0] == 73
    assert ran("angle", LARCH, nights, "--write", new, "--force")[0] == 0


@pytest.mark.parametrize("form", ["c", "json", "csv"])
def test_an_edited_table_is_left_alone(form: str, tmp_path: Path) -> None:
    words = ("table", LARCH, "--year", "2027", "--as", form, "--out", tmp_path)
    assert ran(*words)[0] == 0
    (path,) = tmp_path.iterdir()
    assert ran(*words)[0] == 0
    path.write_text(path.read_text().replace("27", "28", 1))
    code, said = ran(*words)
    assert (code, "was changed since sunsched wrote it and is left alone" in " ".join(said.split())) == (73, True)
    assert ran(*words, "--force")[0] == 0


@pytest.mark.parametrize(
    "content", [b"\x7fELF" + b"\xd5\x01" * 40, b"\xd5\x01" + bytes(60), b":10000000D501" + b"00" * 20]
)
def test_two_bytes_make_no_table_of_ours(content: bytes, tmp_path: Path) -> None:
    path = tmp_path / "larch_end_2027.bin"
    path.write_bytes(content)
    code, said = ran("table", LARCH, "--year", "2027", "--as", "eeprom", "--out", tmp_path)
    assert (code, "was not written by sunsched" in " ".join(said.split())) == (73, True)
    assert path.read_bytes() == content


def test_images_of_ours_are_replaced(tmp_path: Path) -> None:
    words = ("table", LARCH, "--as", "eeprom", "--out", tmp_path, "--year")
    for _ in range(2):
        assert ran(*words, 2027)[0] == 0
    for path in tmp_path.iterdir():
        assert is_ours(path.read_bytes())
        assert not is_ours(path.read_bytes() + b"\n:00")


@given(st.binary(max_size=300), st.integers(0, 400))
@example(b"\xef\xbb\xbf", 0)
@example(b"\xef\xbb\xbf", 3)
def test_no_change_of_a_text_stays_ours(extra: bytes, place: int) -> None:
    """But for line ends and the mark of UTF-8 before the text, which editors put in: text_digest.py."""
    whole = ours("a table\nof two lines")
    at = place % (len(whole) + 1)
    changed = whole[:at] + extra + whole[at:]
    assert is_ours(changed) == (changed.removeprefix(b"\xef\xbb\xbf").replace(b"\r\n", b"\n") == whole)


def test_one_name_for_two_files_is_refused(tmp_path: Path) -> None:
    path, link = tmp_path / "x.txt", tmp_path / "y.ics"
    words = ["handover", LARCH, "--from", "2027-03-01", "--to", "2027-03-02"]
    assert ran(*words, "-o", path, "--ics", path)[0] == 2
    assert not path.exists()
    link.symlink_to(path)
    assert ran(*words, "-o", path, "--ics", link)[0] == 2


def test_names_without_ascii_letters_have_stems_of_their_own() -> None:
    assert site_stem("Larch end") == "larch_end"
    assert site_stem("Süd 9") == "sud_9"
    names = ["丘", "山", "Дача", "Ферма", "№ 1", "!!!", "???", "hut 丘", "hut 山", "x" * 70, "x" * 60 + "y" * 10]
    assert len({site_stem(name) for name in names}) == len(names)


@given(st.text(min_size=1, max_size=80), st.text(min_size=1, max_size=80))
def test_sites_share_a_stem_only_where_nothing_was_lost(one: str, other: str) -> None:
    stems = site_stem(one), site_stem(other)
    assert all(stem.isascii() and 0 < len(stem) <= 60 and stem == stem.lower() for stem in stems)
    if stems[0] == stems[1] and one != other:
        assert not any(ch.isalnum() and not ch.isascii() for ch in stems[0])


def test_two_sites_renewed_into_one_folder_stay_apart(tmp_path: Path) -> None:
    for name in ("丘", "山"):
        text = Path(LARCH).read_text(encoding="utf-8").replace("Larch end", name)
        (tmp_path / f"{ord(name)}.toml").write_text(text, encoding="utf-8")
    for _ in range(2):
        for name in ("丘", "山"):
            config = tmp_path / f"{ord(name)}.toml"
            code, _said = ran("renew", config, "--out", tmp_path / "out", "--today", "2027-06-01", "--ahead", 0)
            assert code == 0
    folders = [path for path in (tmp_path / "out").iterdir() if path.is_dir()]
    # No folder was replaced: none has a generation before it.
    assert len(folders) == 2 and not any(path.name.endswith(".previous") for path in folders)
