"""Files whole or not at all."""

from __future__ import annotations

import os
import stat
from pathlib import Path

import pytest

from sunsched.base.errors import CannotWriteError
from sunsched.job import files
from tests.support.own_files import ours


def test_new_files_have_the_keepers_umask(tmp_path: Path) -> None:
    old = os.umask(0o027)
    try:
        files.write_all({tmp_path / "a" / "x.h": ours()})
    finally:
        os.umask(old)
    assert stat.S_IMODE((tmp_path / "a" / "x.h").stat().st_mode) == 0o640
    assert [path.name for path in (tmp_path / "a").iterdir()] == ["x.h"]


def test_a_strangers_file_is_left_alone_unless_forced(tmp_path: Path) -> None:
    path = tmp_path / "x.h"
    path.write_bytes(b"mine")
    with pytest.raises(CannotWriteError, match=r"x\.h was not written by sunsched and is left alone; --force"):
        files.write_all({tmp_path / "new.h": ours(), path: ours()})
    assert path.read_bytes() == b"mine"
    assert not (tmp_path / "new.h").exists()
    files.write_all({path: ours()}, force=True)
    assert path.read_bytes() == ours()
    files.write_all({path: ours("again")})
    assert path.read_bytes() == ours("again")


def test_all_come_back_when_the_last_cannot_be_put_in_place(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    first, last = tmp_path / "a.h", tmp_path / "b.h"
    first.write_bytes(ours("old a"))
    last.write_bytes(ours("old b"))
    real = os.replace

    def fails_on_the_last(source: Path, target: Path) -> None:
        if Path(target) == last and not str(source).endswith(".old"):
            raise OSError(28, "No space left on device")
        real(source, target)

    monkeypatch.setattr(os, "replace", fails_on_the_last)
    with pytest.raises(CannotWriteError, match=r"b\.h: No space left on device; nothing was changed"):
        files.write_all({first: ours("new a"), last: ours("new b")})
    monkeypatch.undo()
    assert first.read_bytes() == ours("old a")
    assert last.read_bytes() == ours("old b")
    assert sorted(path.name for path in tmp_path.iterdir()) == ["a.h", "b.h"]


def test_a_folder_in_the_way_is_named(tmp_path: Path) -> None:
    (tmp_path / "x.h").mkdir()
    with pytest.raises(CannotWriteError, match=r"x\.h is a folder"):
        files.write_all({tmp_path / "x.h": ours()})
