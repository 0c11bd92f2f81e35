"""The planner's one file: saved whole or not at all, and never over what the page has not read."""

from __future__ import annotations

import os
from collections.abc import Iterator
from pathlib import Path

import pytest

from sunsched.base.errors import ConfigError, MissingFileError, UsageError
from sunsched.job.edited_file import ABSENT, Conflict, EditedFile, difference
from tests.conftest import CONFIGS
from tests.planner.served import Served, served

LARCH = (CONFIGS[0].parent / "larch_end.toml").read_text()
CHANGED = LARCH.replace("birds = 6", "birds = 9")


@pytest.fixture
def config(tmp_path: Path) -> Path:
    """A file of its own in a folder of its own."""
    path = tmp_path / "hut.toml"
    path.write_text(LARCH)
    return path


@pytest.fixture
def page(config: Path) -> Iterator[Served]:
    """A planner for it."""
    with served(config) as one:
        yield one


def only(path: Path) -> bool:
    """Whether nothing else lies beside a file: no part, no copy."""
    return [one.name for one in path.parent.iterdir()] == [path.name]


def test_a_save_writes_the_text_and_nothing_else(config: Path, page: Served) -> None:
    _, begun = page.post("start")
    assert begun["text"] == LARCH and begun["can_save"]
    status, saved = page.post("save", text=CHANGED, digest=begun["digest"])
    assert status == 200 and config.read_text() == CHANGED and only(config)
    # The next save goes on from there, without reading again.
    assert page.post("save", text=LARCH, digest=saved["digest"])[0] == 200
    assert config.read_text() == LARCH


def test_a_file_changed_underneath_is_left_alone_and_the_difference_shown(config: Path, page: Served) -> None:
    _, begun = page.post("start")
    theirs = LARCH.replace("birds = 6", "birds = 12")
    config.write_text(theirs)
    status, told = page.post("save", text=CHANGED, digest=begun["digest"])
    assert status == 409 and told["conflict"] and not told["gone"]
    assert "-birds = 12" in told["difference"] and "+birds = 9" in told["difference"]
    assert config.read_text() == theirs and only(config)
    # Who has seen the difference may write over it, or take what is there.
    assert told["text"] == theirs
    assert page.post("save", text=CHANGED, digest=told["digest"])[0] == 200
    assert config.read_text() == CHANGED


def test_two_planners_do_not_overwrite_each_other(config: Path, page: Served) -> None:
    with served(config) as other:
        digests = [one.post("start")[1]["digest"] for one in (page, other)]
        assert other.post("save", text=CHANGED, digest=digests[1])[0] == 200
        assert page.post("save", text=LARCH, digest=digests[0])[0] == 409
        assert config.read_text() == CHANGED


def test_a_removed_file_is_told_and_made_anew_when_asked_again(config: Path, page: Served) -> None:
    _, begun = page.post("start")
    config.unlink()
    status, told = page.post("save", text=CHANGED, digest=begun["digest"])
    assert status == 409 and told["gone"] and told["digest"] == ABSENT
    assert not config.exists()
    # The page goes on meanwhile.
    assert page.post("plan", text=CHANGED)[1]["ok"]
    assert page.post("save", text=CHANGED, digest=told["digest"])[0] == 200
    assert config.read_text() == CHANGED and only(config)


def test_a_removed_folder_is_told(tmp_path: Path) -> None:
    folder = tmp_path / "gone"
    folder.mkdir()
    session = EditedFile(str(folder / "hut.toml"))
    folder.rmdir()
    with served(None) as page:
        page.planner.session = session
        status, told = page.post("save", text=LARCH, digest=ABSENT)
        assert status == 422 and "its folder is gone; nothing was written" in told["problems"][0]["text"]
    assert not folder.exists()


def test_a_new_file_is_made_on_saving_alone_and_not_over_one_that_appeared(tmp_path: Path) -> None:
    path = tmp_path / "new.toml"
    with served(path) as page:
        _, begun = page.post("start")
        assert begun["can_save"] and begun["digest"] == ABSENT and 'name = "Hut"' in begun["text"]
        assert page.post("plan", text=begun["text"])[1]["ok"]
        assert not path.exists()
        path.write_text(LARCH)
        assert page.post("save", text=begun["text"], digest=ABSENT)[0] == 409
        assert path.read_text() == LARCH
        path.unlink()
        assert page.post("save", text=begun["text"], digest=ABSENT)[0] == 200
        assert path.read_text() == begun["text"]


def test_without_a_file_nothing_is_saved(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    with served(None) as page:
        _, begun = page.post("start")
        assert not begun["can_save"]
        status, told = page.post("save", text=begun["text"], digest=ABSENT)
        assert status == 422 and "no file was named" in told["problems"][0]["text"]
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("text", ["", "[site]\n", "not TOML", LARCH.replace("47.318", "97")])
def test_a_text_that_is_no_configuration_is_not_saved(config: Path, text: str) -> None:
    session = EditedFile(str(config))
    with pytest.raises(ConfigError):
        session.save(text, session.state().digest)
    assert config.read_text() == LARCH


def test_line_ends_and_mark_of_the_file_stay(config: Path) -> None:
    config.write_bytes(b"\xef\xbb\xbf" + LARCH.replace("\n", "\r\n").encode())
    session = EditedFile(str(config))
    state = session.state()
    assert state.text == LARCH
    session.save(CHANGED, state.digest)
    assert config.read_bytes() == b"\xef\xbb\xbf" + CHANGED.replace("\n", "\r\n").encode()


def test_a_link_stays_a_link(config: Path, tmp_path: Path) -> None:
    link = tmp_path / "link.toml"
    link.symlink_to(config)
    session = EditedFile(str(link))
    session.save(CHANGED, session.state().digest)
    assert link.is_symlink() and config.read_text() == CHANGED


def test_what_cannot_be_a_planners_file_is_refused_at_the_start(tmp_path: Path) -> None:
    with pytest.raises(UsageError, match="wanted the name of one in place of -"):
        EditedFile("-")
    with pytest.raises(MissingFileError, match="is a folder"):
        EditedFile(str(tmp_path))
    os.mkfifo(tmp_path / "pipe")
    with pytest.raises(MissingFileError, match="is a pipe"):
        EditedFile(str(tmp_path / "pipe"))
    (tmp_path / "bytes.toml").write_bytes(b"\xff\xfe")
    with pytest.raises(MissingFileError, match="byte 0 is not UTF-8"):
        EditedFile(str(tmp_path / "bytes.toml"))


def test_conflict_holds_what_is_there(config: Path) -> None:
    session = EditedFile(str(config))
    with pytest.raises(Conflict) as refused:
        session.save(CHANGED, "another")
    assert refused.value.now == session.state()


def test_equal_texts_differ_in_nothing() -> None:
    assert difference("a\nb", "a\nb", "one", "other") == ""
