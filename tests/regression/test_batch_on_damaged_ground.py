"""A batch that was stopped, robbed of files or led astray by links ended in words or bytes that were not so.

Stopped before its first checkpoint it could not go on; results deleted after a kill became zero bytes; tables deleted
after the end were not missed; a killed parent left workers that held its pipes; links at its part files were followed,
and a sign of full width was taken for no formula.
"""

from __future__ import annotations

import csv
import errno
import os
import signal
import subprocess
import sys
import time
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest

from sunsched.base.errors import CannotWriteError
from sunsched.job.batch import batch
from sunsched.job.batch.batch import Ask, Batch
from tests.job.renewals import ROOT, contents
from tests.support.made_sites import RULES, written


def ask(folder: Path, sites: Path, as_archive: bool = False) -> Ask:
    return Ask(sites, str(folder / "rules.toml"), folder / "out", 2027, ("json",), 1, as_archive)


def tree(out: Path) -> dict[str, bytes]:
    return {name: text for name, text in contents(out).items() if not name.startswith(".")}


def stopped_after(wanted: Ask, rows: int) -> None:
    """Run a batch in a child that is killed after some rows."""
    child = os.fork()
    if child == 0:
        try:
            for count, _ in enumerate(Batch(wanted).run(), 1):
                if count >= rows:
                    os.kill(os.getpid(), signal.SIGKILL)
        finally:
            os._exit(0)
    assert os.WIFSIGNALED(os.waitpid(child, 0)[1])


@pytest.mark.parametrize("as_archive", [False, True])
def test_stopped_before_the_first_checkpoint(tmp_path: Path, as_archive: bool) -> None:
    sites, _, _ = written(tmp_path, 12, 2)
    wanted = ask(tmp_path, sites, as_archive)
    stopped_after(wanted, 3)
    assert len(list(Batch(wanted).run())) == 12
    whole = tree(wanted.out)
    other = replace(wanted, out=tmp_path / "other")
    list(Batch(other).run())
    assert tree(other.out) == whole


def test_no_room_for_the_first_rows(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    sites, _, _ = written(tmp_path, 6, 0)
    wanted = ask(tmp_path, sites)
    plain = os.replace

    def full(source: Path, target: Path) -> None:
        if str(target).endswith(".json") and "000003" in str(target):
            raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))
        plain(source, target)

    monkeypatch.setattr(os, "replace", full)
    with pytest.raises(CannotWriteError, match="No space left on device; the same command goes on from here"):
        list(Batch(wanted).run())
    monkeypatch.undo()
    assert len(list(Batch(wanted).run())) == 6


def test_results_deleted_after_a_kill(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(batch, "CHECKPOINT_ROWS", 4)
    monkeypatch.setattr(batch, "ROWS_AT_ONCE", 2)
    sites, _, _ = written(tmp_path, 12, 2)
    wanted = ask(tmp_path, sites)
    stopped_after(wanted, 7)
    (wanted.out / batch.RESULTS).unlink()
    again = Batch(wanted)
    assert len(list(again.run())) == 12
    assert again.remarks and "is gone; the batch starts over" in again.remarks[0]
    assert b"\0" not in (wanted.out / batch.RESULTS).read_bytes()
    # Cut or edited results are the keeper's doing and are left alone.
    path = wanted.out / batch.RESULTS
    path.write_bytes(path.read_bytes().replace(b"Hut 1,", b"Hut X,"))
    with pytest.raises(CannotWriteError, match="was changed since the batch wrote it; --force starts over"):
        list(Batch(wanted).run())


def test_tables_deleted_after_the_end(tmp_path: Path) -> None:
    sites, _, _ = written(tmp_path, 8, 0)
    wanted = ask(tmp_path, sites)
    list(Batch(wanted).run())
    whole = tree(wanted.out)
    gone = sorted(path for path in wanted.out.rglob("*.json") if path.name != batch.CHECKPOINT)[3]
    gone.unlink()
    again = Batch(wanted)
    assert [row.row for row in again.run()] == [5]
    assert again.remarks == ["the tables of 1 rows are gone, first of row 5; made again"]
    assert tree(wanted.out) == whole


def test_an_archive_deleted_after_the_end(tmp_path: Path) -> None:
    sites, _, _ = written(tmp_path, 4, 0)
    wanted = ask(tmp_path, sites, as_archive=True)
    list(Batch(wanted).run())
    whole = tree(wanted.out)
    (wanted.out / batch.ARCHIVE).unlink()
    assert len(list(Batch(wanted).run())) == 4
    assert tree(wanted.out) == whole


def test_links_are_not_written_through(tmp_path: Path) -> None:
    sites, _, _ = written(tmp_path, 2, 0)
    wanted = ask(tmp_path, sites)
    wanted.out.mkdir()
    far = tmp_path / "far.txt"
    far.write_text("mine")
    for name in (".batch.part", f".{batch.CHECKPOINT}.part"):
        (wanted.out / name).symlink_to(far)
    list(Batch(wanted).run())
    assert far.read_text() == "mine"


def test_foreign_files_in_its_folders_are_left_alone(tmp_path: Path) -> None:
    sites, _, _ = written(tmp_path, 2, 0)
    wanted = ask(tmp_path, sites)
    path = wanted.out / "000002_hut_0" / "hut_0_2027.json"
    path.parent.mkdir(parents=True)
    path.write_text("mine")
    with pytest.raises(CannotWriteError, match="was not written by sunsched and is left alone"):
        list(Batch(wanted).run())
    assert path.read_text() == "mine"


def test_a_sign_of_full_width_is_a_formula(tmp_path: Path) -> None:
    heads = ("＝1+1", "=1+1", " ＝1", "\u200b=1", "−1", "＠SUM(1)")
    sites = tmp_path / "sites.csv"
    rows = [f'"{head}",47.0,8.0,Europe/Zurich' for head in heads]
    sites.write_text("\n".join(["name,latitude,longitude,zone", *rows]) + "\n", encoding="utf-8")
    (tmp_path / "rules.toml").write_text(RULES)
    wanted = ask(tmp_path, sites)
    list(Batch(wanted).run())
    with (wanted.out / batch.RESULTS).open(encoding="utf-8", newline="") as file:
        names = [row[1] for row in csv.reader(file)][1:]
    assert len(names) == len(heads)
    assert all(name.startswith("'") for name in names)


def test_a_number_of_thousands_of_digits_costs_its_row_only(tmp_path: Path) -> None:
    sites = tmp_path / "sites.csv"
    good, bad = "Hut,47.0,8.0,Europe/Zurich,", f"Hut,47.0,8.0,Europe/Zurich,{'9' * 5000}"
    sites.write_text("\n".join(["name,latitude,longitude,zone,evening.later_min", good, bad, good]) + "\n")
    (tmp_path / "rules.toml").write_text(RULES)
    rows = list(Batch(ask(tmp_path, sites)).run())
    assert [row.good for row in rows] == [True, False, True]
    assert rows[1].column == "evening.later_min"


def until(held: Callable[[], bool], seconds: float) -> bool:
    end = time.monotonic() + seconds
    while time.monotonic() < end:
        if held():
            return True
        time.sleep(0.02)
    return held()


@pytest.mark.skipif(not sys.platform.startswith("linux"), reason="reads /proc")
def test_workers_end_with_their_parent(tmp_path: Path) -> None:
    sites, _, _ = written(tmp_path, 3000, 0)
    words = [sys.executable, "-m", "sunsched", "batch", str(sites), str(tmp_path / "rules.toml")]
    words += ["--out", str(tmp_path / "out"), "--year", "2027", "--as", "json", "--jobs", "3"]
    parent = subprocess.Popen(words, env={**os.environ, "PYTHONPATH": str(ROOT)}, stdout=subprocess.PIPE)

    def children() -> set[str]:
        listed = Path(f"/proc/{parent.pid}/task/{parent.pid}/children").read_text().split()
        return set(listed)

    assert until(lambda: len(children()) == 3 and any((tmp_path / "out").glob("0*")), 60)
    workers = children()
    parent.kill()
    parent.wait()
    # Generous for a loaded machine; `python -m tests.fuzz.kills` counts how many need more than a second.
    assert until(lambda: not any(Path(f"/proc/{worker}").exists() for worker in workers), 10)
    assert parent.stdout is not None
    # Nothing holds the pipe any more: reading it ends.
    assert parent.stdout.read() == b""
    parent.stdout.close()
