"""Writing to a pipe hung for ever, and with --force it (or a device) was replaced by a file; so was a link.

And when the old file could not be set aside, the message named another file and a half copy was left.
"""

from __future__ import annotations

import os
import shutil
import stat
from pathlib import Path

import pytest

from sunsched.base.errors import CannotWriteError
from sunsched.job import files
from tests.support.own_files import ours


@pytest.mark.parametrize("force", [False, True])
def test_a_pipe_stays_a_pipe(tmp_path: Path, force: bool) -> None:
    pipe = tmp_path / "x.h"
    os.mkfifo(pipe)
    with pytest.raises(CannotWriteError, match=r"x\.h is a pipe or a device; wanted a plain file to write"):
        files.write_all({pipe: ours()}, force=force)
    assert stat.S_ISFIFO(pipe.stat().st_mode)


def test_a_link_stays_a_link_and_its_file_is_written(tmp_path: Path) -> None:
    (tmp_path / "far").mkdir()
    link, target = tmp_path / "x.h", tmp_path / "far" / "real.h"
    link.symlink_to(target)
    assert files.write_all({link: ours()}) == [link]
    assert link.is_symlink()
    assert target.read_bytes() == ours()
    target.write_bytes(b"mine")
    with pytest.raises(CannotWriteError, match="was not written by sunsched"):
        files.write_all({link: ours()})
    assert target.read_bytes() == b"mine"


def test_links_in_a_ring_are_refused(tmp_path: Path) -> None:
    (tmp_path / "a").symlink_to(tmp_path / "b")
    (tmp_path / "b").symlink_to(tmp_path / "a")
    with pytest.raises(CannotWriteError, match="wanted a file"):
        files.write_all({tmp_path / "a": ours()})


def test_a_file_that_cannot_be_set_aside_is_named(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    first, last = tmp_path / "a.h", tmp_path / "b.h"
    first.write_bytes(ours("old a"))
    last.write_bytes(ours("old b"))

    def no_links(source: Path, target: Path) -> None:
        raise OSError(1, "Operation not permitted")

    def full(source: Path, target: Path) -> None:
        if source == last:
            target.write_bytes(b"half")
            raise OSError(28, "No space left on device")
        target.write_bytes(source.read_bytes())

    monkeypatch.setattr(os, "link", no_links)
    monkeypatch.setattr(shutil, "copyfile", full)
    with pytest.raises(CannotWriteError, match=r"b\.h: No space left on device; nothing was changed"):
        files.write_all({first: ours("new a"), last: ours("new b")})
    assert (first.read_bytes(), last.read_bytes()) == (ours("old a"), ours("old b"))
    assert sorted(path.name for path in tmp_path.iterdir()) == ["a.h", "b.h"]


def test_an_interruption_brings_the_old_files_back(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    first, last = tmp_path / "a.h", tmp_path / "b.h"
    first.write_bytes(ours("old a"))
    real = os.replace

    def interrupted(source: Path, target: Path) -> None:
        if Path(target) == last:
            raise KeyboardInterrupt
        real(source, target)

    monkeypatch.setattr(os, "replace", interrupted)
    with pytest.raises(KeyboardInterrupt):
        files.write_all({first: ours("new a"), last: ours("new b")})
    assert first.read_bytes() == ours("old a")
    assert [path.name for path in tmp_path.iterdir()] == ["a.h"]
