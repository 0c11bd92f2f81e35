"""The archive past the limits of plain ZIP, read by Python's own zipfile, and its exact bytes."""

from __future__ import annotations

import zipfile
from pathlib import Path

import pytest

from sunsched.job.batch import one_row


def finished(path: Path, entries: list[tuple[str, bytes, int | None]]) -> None:
    """An archive of entries, each at an offset or behind the one before; gaps are holes of the file."""
    contents = path.with_suffix(".part")
    with path.open("wb") as file, contents.open("wb") as lines:
        for name, content, offset in entries:
            local, record = one_row.entry(name, content)
            if offset is not None:
                file.seek(offset)
            lines.write(one_row.central(record, file.tell()))
            file.write(local)
        lines.flush()
        one_row.finish(file, contents, len(entries))


# PKWARE APPNOTE 6.3.9, 4.4.8 and 4.5.3: an offset of 4 GiB or more stands in the ZIP64 extra field.
def test_offsets_beyond_four_gigabytes(tmp_path: Path) -> None:
    path = tmp_path / "far.zip"
    finished(path, [("a/x.json", b"near" * 9, None), ("b/y.json", b"far" * 9, 5 << 30)])
    with zipfile.ZipFile(path) as found:
        assert found.testzip() is None
        assert [(info.filename, info.header_offset) for info in found.infolist()] == [
            ("a/x.json", 0),
            ("b/y.json", 5 << 30),
        ]
        assert found.read("b/y.json") == b"far" * 9


# APPNOTE 4.4.21: a count past 65,534 stands in the ZIP64 end record.
@pytest.mark.parametrize("count", [0, 1, 65_534, 65_535, 65_536])
def test_more_entries_than_plain_zip_counts(tmp_path: Path, count: int) -> None:
    path = tmp_path / "many.zip"
    finished(path, [(f"{k}/x", b"", None) for k in range(count)])
    with zipfile.ZipFile(path) as found:
        assert found.namelist() == [f"{k}/x" for k in range(count)]


def test_the_bytes_are_those_of_zipfile(tmp_path: Path) -> None:
    path = tmp_path / "same.zip"
    files = [("a/x.json", b"one"), ("b/y.json", b"")]
    finished(path, [(name, content, None) for name, content in files])
    with zipfile.ZipFile(tmp_path / "theirs.zip", "w") as theirs:
        for name, content in files:
            info = zipfile.ZipInfo(name)
            info.create_system = 3
            info.external_attr = 0o100644 << 16
            theirs.writestr(info, content)
    assert path.read_bytes() == (tmp_path / "theirs.zip").read_bytes()
