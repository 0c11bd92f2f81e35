"""A batch that was broken off goes on and ends with what it would have been in one go; memory stays flat."""

from __future__ import annotations

import os
import resource
import signal
import sys
from collections.abc import Callable, Generator
from dataclasses import replace
from pathlib import Path

import pytest

from sunsched.base.errors import CannotWriteError
from sunsched.job.batch import batch
from sunsched.job.batch.batch import Ask, Batch
from sunsched.job.renewal.generations import locked
from tests.job.renewals import WHOLE, contents
from tests.support.made_sites import written

N_ROWS = 10_000 if WHOLE else 300


def ask(folder: Path, sites: Path, jobs: int = 1, as_archive: bool = False) -> Ask:
    return Ask(sites, str(folder / "rules.toml"), folder / "out", 2027, ("json",), jobs, as_archive)


def tree(out: Path) -> dict[str, bytes]:
    return {name: text for name, text in contents(out).items() if not name.startswith(".")}


@pytest.mark.parametrize("as_archive", [False, True])
def test_killed_halfway_and_resumed(tmp_path: Path, as_archive: bool) -> None:
    sites, _, _ = written(tmp_path, N_ROWS, N_ROWS // 40)
    wanted = ask(tmp_path, sites, 2, as_archive)
    list(Batch(wanted).run())
    whole = tree(wanted.out)
    wanted.out.rename(tmp_path / "whole")
    for share in (0.5, 0.1, 0.05):
        child = os.fork()
        if child == 0:
            try:
                for count, _ in enumerate(Batch(replace(wanted, jobs=1)).run()):
                    if count >= share * N_ROWS:
                        os.kill(os.getpid(), signal.SIGKILL)
            finally:
                os._exit(0)
        assert os.WIFSIGNALED(os.waitpid(child, 0)[1])
    resumed = Batch(wanted)
    n = len(list(resumed.run()))
    # What a checkpoint had said to be done was not done again.
    assert n < N_ROWS and (resumed.state.good + resumed.state.bad, resumed.state.done) == (N_ROWS, True)
    assert tree(wanted.out) == whole
    assert list(Batch(wanted).run()) == []
    assert tree(wanted.out) == whole


def test_broken_off_in_any_row(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(batch, "CHECKPOINT_ROWS", 4)
    monkeypatch.setattr(batch, "ROWS_AT_ONCE", 2)
    sites, _, _ = written(tmp_path, 24, 4)
    wanted = ask(tmp_path, sites, as_archive=True)
    list(Batch(wanted).run())
    whole = tree(wanted.out)
    wanted.out.rename(tmp_path / "whole")
    done = 0
    while True:
        rows = Batch(wanted).run()
        for count, _ in enumerate(rows):
            if count == 5:
                assert isinstance(rows, Generator)
                rows.close()
                break
        else:
            break
        done += 1
        assert done < 30
    assert done >= 4
    assert tree(wanted.out) == whole


def test_another_batch_is_not_mixed_in(tmp_path: Path) -> None:
    sites, _, _ = written(tmp_path, 20, 2)
    wanted = ask(tmp_path, sites)
    list(Batch(wanted).run())
    before = contents(wanted.out)
    for other in (replace(wanted, year=2028), replace(wanted, forms=("csv",)), replace(wanted, as_archive=True)):
        with pytest.raises(CannotWriteError, match="holds another batch"):
            list(Batch(other).run())
    sites.write_text(sites.read_text().replace("Hut 3,", "Hut three,"))
    with pytest.raises(CannotWriteError, match="holds another batch"):
        list(Batch(wanted).run())
    assert contents(wanted.out) == before
    list(Batch(replace(wanted, force=True)).run())
    assert "Hut three" in (wanted.out / batch.RESULTS).read_text()


def test_a_results_file_of_someone_else_is_left_alone(tmp_path: Path) -> None:
    sites, _, _ = written(tmp_path, 3, 0)
    wanted = ask(tmp_path, sites)
    wanted.out.mkdir()
    (wanted.out / batch.RESULTS).write_text("mine")
    with pytest.raises(CannotWriteError, match="is not of a batch"):
        list(Batch(wanted).run())
    assert (wanted.out / batch.RESULTS).read_text() == "mine"


def test_two_at_once(tmp_path: Path) -> None:
    sites, _, _ = written(tmp_path, 3, 0)
    wanted = ask(tmp_path, sites)
    with locked(wanted.out, "test"), pytest.raises(CannotWriteError, match="another run is at work there"):
        list(Batch(wanted).run())


def in_a_child(body: Callable[[], bool]) -> bool:
    """Run in a child process, whose limits and memory are its own; whether it said yes."""
    child = os.fork()
    if child == 0:
        code = 3
        try:
            code = 0 if body() else 1
        finally:
            os._exit(code)
    return os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]) == 0


@pytest.mark.parametrize("jobs", [1, 2])
def test_a_full_disk_stops_the_batch_and_it_goes_on(tmp_path: Path, jobs: int) -> None:
    sites, _, _ = written(tmp_path, 200, 5)
    wanted = ask(tmp_path, sites, jobs, as_archive=True)
    list(Batch(wanted).run())
    whole = tree(wanted.out)
    wanted.out.rename(tmp_path / "whole")

    def out_of_room() -> bool:
        signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
        resource.setrlimit(resource.RLIMIT_FSIZE, (12_000_000, 12_000_000))
        try:
            list(Batch(wanted).run())
        except CannotWriteError as error:
            return "File too large; the same command goes on from here" in str(error)
        return False

    assert in_a_child(out_of_room)
    rest = len(list(Batch(wanted).run()))
    assert 0 < rest < 200
    assert tree(wanted.out) == whole


def test_memory_does_not_grow_with_the_rows(tmp_path: Path) -> None:
    def peak_mb(n: int) -> float:
        folder = tmp_path / str(n)
        folder.mkdir()
        sites, _, _ = written(folder, n, 0)

        def body() -> bool:
            for _ in Batch(ask(folder, sites, as_archive=True)).run():
                pass
            (folder / "peak").write_text(str(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss))
            return True

        assert in_a_child(body)
        return int((folder / "peak").read_text()) / (1 << 20 if sys.platform == "darwin" else 1 << 10)

    # The tables of 400 rows more are 24 MB.
    few, many = peak_mb(100), peak_mb(5000 if WHOLE else 500)
    assert many - few < 8
