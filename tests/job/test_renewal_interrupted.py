"""Killed, out of room, without permission, or two at once: all of the old tables or all of the new, never a mixture."""

from __future__ import annotations

import errno
import os
import random
import resource
import shutil
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import ParamSpec, TypeVar

import pytest

from sunsched.job import disk
from sunsched.job.renewal import generations, renewal
from sunsched.job.renewal import record as records
from tests.job.renewals import ROOT, WHOLE, config_in, contents, run, traces
from tests.support.unprivileged import run_unprivileged

TODAY = "2027-06-01"
TIMED_KILLS = 200 if WHOLE else 6
OPERATIONS = ("open", "mkdir", "rename", "replace", "unlink", "rmdir", "fsync")


@pytest.fixture(scope="module")
def template(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with an old table, two generations of it, and a configuration that makes another."""
    folder = tmp_path_factory.mktemp("template")
    config = config_in(folder)
    run(config, folder / "out", TODAY)
    config_in(folder, changes={"later_min = 15": "later_min = 20"})
    run(config, folder / "out", TODAY)
    config_in(folder, changes={"later_min = 15": "later_min = 25"})
    return folder


@pytest.fixture(scope="module")
def wanted(template: Path, tmp_path_factory: pytest.TempPathFactory) -> dict[str, bytes]:
    """The tables that a renewal of the template ends with."""
    folder = tmp_path_factory.mktemp("wanted") / "hut"
    shutil.copytree(template, folder)
    run(folder / "larch_end.toml", folder / "out", TODAY)
    return contents(folder / "out" / "larch_end")


@pytest.fixture
def quick_proof(monkeypatch: pytest.MonkeyPatch) -> None:
    """Leave the proof out: what is tried here is what happens to files."""
    monkeypatch.setattr(renewal, "_faults", lambda *_: [])


def renewed_and_killed(hut: Path, prepare: Callable[[], None], after_s: float | None = None) -> bool:
    """Renew in a child that `prepare` makes die, or that is killed after a while; whether it was killed."""
    child = os.fork()
    if child == 0:
        try:
            prepare()
            run(hut / "larch_end.toml", hut / "out", TODAY)
        finally:
            os._exit(0)
    if after_s is not None:
        time.sleep(after_s)
        os.kill(child, signal.SIGKILL)
    _, status = os.waitpid(child, 0)
    return os.WIFSIGNALED(status)


def holds_old_or_new(hut: Path, template: Path, wanted: dict[str, bytes]) -> None:
    """Check the live folder, run again, and check that all is tidy."""
    old = contents(template / "out" / "larch_end")
    assert contents(hut / "out" / "larch_end") in (old, wanted)
    (outcome,) = run(hut / "larch_end.toml", hut / "out", TODAY)
    assert outcome.exit_code == 0, outcome.error
    assert contents(hut / "out" / "larch_end") == wanted
    assert contents(hut / "out" / "larch_end.previous") == old
    assert not (hut / "out" / ".larch_end.next").exists()


P = ParamSpec("P")
T = TypeVar("T")


def dying_at(operation: int) -> Callable[[], None]:
    """Kill this process just before its n-th change to the file system."""
    count = iter(range(operation))

    def dying(plain: Callable[P, T]) -> Callable[P, T]:
        def call(*args: P.args, **kwargs: P.kwargs) -> T:
            if next(count, None) is None:
                os.kill(os.getpid(), signal.SIGKILL)
            return plain(*args, **kwargs)

        return call

    def prepare() -> None:
        for name in OPERATIONS:
            setattr(os, name, dying(getattr(os, name)))
        disk.exchanged = dying(disk.exchanged)

    return prepare


def without_exchange() -> None:
    """As on a system where two folders cannot change places."""
    disk.exchanged = lambda one, other: False


def each_operation(hut_of: Callable[[], Path], prepare: Callable[[int], Callable[[], None]]) -> Iterator[Path]:
    """A hut whose renewal was killed before its first, second, ... change to the file system, until none is left."""
    for operation in range(1000):
        hut = hut_of()
        if not renewed_and_killed(hut, prepare(operation)):
            assert operation > 20
            return
        yield hut
    raise AssertionError("the renewal never ended")


@pytest.fixture
def new_hut(template: Path, tmp_path: Path) -> Callable[[], Path]:
    """Makes copies of the template."""
    numbers = iter(range(10_000))

    def make() -> Path:
        hut = tmp_path / f"hut{next(numbers)}"
        shutil.copytree(template, hut)
        return hut

    return make


@pytest.mark.usefixtures("quick_proof")
def test_killed_before_any_of_its_changes(
    template: Path, wanted: dict[str, bytes], new_hut: Callable[[], Path]
) -> None:
    for hut in each_operation(new_hut, dying_at):
        holds_old_or_new(hut, template, wanted)


@pytest.mark.usefixtures("quick_proof")
def test_killed_before_any_change_where_folders_cannot_change_places(
    template: Path, wanted: dict[str, bytes], new_hut: Callable[[], Path], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(disk, "exchanged", lambda one, other: False)
    old = contents(template / "out" / "larch_end")
    missing = 0
    for hut in each_operation(new_hut, dying_at):
        # For a moment the live name may be missing here, but a whole folder then lies beside it.
        if not (hut / "out" / "larch_end").exists():
            missing += 1
            assert contents(hut / "out" / "larch_end.previous") == old
            (outcome,) = run(hut / "larch_end.toml", hut / "out", TODAY)
            assert outcome.exit_code == 0
            assert contents(hut / "out" / "larch_end") == wanted
        else:
            holds_old_or_new(hut, template, wanted)
    assert missing == 1


def test_killed_at_random_moments(template: Path, wanted: dict[str, bytes], new_hut: Callable[[], Path]) -> None:
    run(new_hut() / "larch_end.toml", new_hut() / "out", TODAY)
    hut = new_hut()
    start = time.monotonic()
    assert not renewed_and_killed(hut, lambda: None)
    whole_s = time.monotonic() - start
    moments = random.Random(20270601)
    killed = 0
    for _ in range(TIMED_KILLS):
        hut = new_hut()
        killed += renewed_and_killed(hut, lambda: None, moments.uniform(0, whole_s))
        holds_old_or_new(hut, template, wanted)
    assert killed >= TIMED_KILLS // 2


@pytest.mark.usefixtures("quick_proof")
@pytest.mark.parametrize("room_bytes", [0, 5_000, 30_000, 60_000])
def test_no_room_changes_nothing(new_hut: Callable[[], Path], room_bytes: int) -> None:
    hut = new_hut()
    before = traces(hut / "out" / "larch_end"), traces(hut / "out" / "larch_end.previous")

    def tight() -> None:
        signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
        resource.setrlimit(resource.RLIMIT_FSIZE, (room_bytes, room_bytes))
        (outcome,) = run(hut / "larch_end.toml", hut / "out", TODAY)
        named = "larch_end: File too large; nothing was changed, the tables there are whole" in outcome.error
        os._exit(0 if named and outcome.exit_code == 73 else 1)

    child = os.fork()
    if child == 0:
        try:
            tight()
        finally:
            os._exit(2)
    assert os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]) == 0
    assert (traces(hut / "out" / "larch_end"), traces(hut / "out" / "larch_end.previous")) == before
    assert not (hut / "out" / ".larch_end.next").exists()


@pytest.mark.usefixtures("quick_proof")
def test_a_full_disk_at_any_write_changes_nothing(
    template: Path, new_hut: Callable[[], Path], monkeypatch: pytest.MonkeyPatch
) -> None:
    hut = new_hut()
    before = contents(hut / "out")
    plain, failed = os.fsync, 0
    for write in range(1000):
        count = iter(range(write))

        def full(handle: int, count: Iterator[int] = count) -> None:
            if next(count, None) is None:
                raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))
            plain(handle)

        monkeypatch.setattr(os, "fsync", full)
        (outcome,) = run(hut / "larch_end.toml", hut / "out", TODAY)
        if outcome.status == "renewed" or contents(hut / "out") != before:
            break
        assert outcome.error.endswith("No space left on device; nothing was changed, the tables there are whole")
        failed += 1
    # Each of the three tables, the record and their folder are brought to the disk before the new one takes over.
    assert failed >= 5


def mounted(folder: Path) -> bool:
    """Mount a file system of 400 kB on a folder; False where that is not allowed."""
    folder.mkdir()
    done = subprocess.run(["mount", "-t", "tmpfs", "-o", "size=400k", "none", str(folder)], capture_output=True)
    return done.returncode == 0


@pytest.mark.usefixtures("quick_proof")
def test_a_file_system_that_is_full(template: Path, tmp_path: Path) -> None:
    small = tmp_path / "small"
    if not mounted(small):
        # Without the right to mount, the two tests above stand for it.
        assert os.geteuid() != 0 or not os.path.ismount(small)
        return
    try:
        shutil.copytree(template / "out" / "larch_end", small / "larch_end")
        before = traces(small / "larch_end")
        (small / "filler").write_bytes(b"x" * 150_000)
        (outcome,) = run(template / "larch_end.toml", small, TODAY)
        assert (outcome.exit_code, "No space left on device; nothing was changed" in outcome.error) == (73, True)
        assert traces(small / "larch_end") == before
        (small / "filler").unlink()
        assert run(template / "larch_end.toml", small, TODAY)[0].status == "renewed"
    finally:
        subprocess.run(["umount", str(small)], check=True)


def test_a_read_only_folder(new_hut: Callable[[], Path]) -> None:
    hut = new_hut()
    before = traces(hut)
    hut.chmod(0o755)
    words = ["renew", "larch_end.toml", "--out", "out", "--today", TODAY]
    code, out, err = run_unprivileged([*words, "--check"], hut)
    assert (code, err) == (1, "") and out.startswith("out/larch_end: due.\nBecause 2027: the configuration changed")
    code, out, err = run_unprivileged(words, hut)
    assert (code, out) == (73, "")
    assert err.startswith("error: out: Permission denied; wanted a folder to write tables into")
    assert {k: v for k, v in traces(hut).items() if k != str(hut)} == {k: v for k, v in before.items() if k != str(hut)}


def test_two_at_once(new_hut: Callable[[], Path], wanted: dict[str, bytes]) -> None:
    hut = new_hut()
    with generations.locked(hut / "out", "test"):
        (outcome,) = run(hut / "larch_end.toml", hut / "out", TODAY)
        assert (outcome.status, outcome.exit_code) == ("refused", 73)
        assert "another run is at work there; this renewal changed nothing" in outcome.error
    words = [sys.executable, "-m", "sunsched", "renew", "larch_end.toml", "--out", "out", "--today", TODAY]
    env = {**os.environ, "PYTHONPATH": str(ROOT)}
    both = [subprocess.Popen(words, cwd=hut, env=env, stdout=subprocess.PIPE, stderr=subprocess.PIPE) for _ in "ab"]
    outputs = [one.communicate(timeout=120) for one in both]
    # The second either found the first at work, or came late and found all done.
    assert sorted(one.returncode for one in both) in ([0, 0], [0, 73]), outputs
    assert sum(b"renewed" in out for out, _ in outputs) == 1
    assert contents(hut / "out" / "larch_end") == wanted


@pytest.mark.usefixtures("quick_proof")
def test_leftovers_say_what_was_interrupted(new_hut: Callable[[], Path], wanted: dict[str, bytes]) -> None:
    hut = new_hut()
    out = hut / "out"
    run(hut / "larch_end.toml", out, TODAY)
    before = contents(out / "larch_end.previous")
    # Killed between changing places and keeping the old generation.
    (out / "larch_end.previous").rename(out / ".larch_end.next")
    (outcome,) = run(hut / "larch_end.toml", out, TODAY)
    assert (outcome.status, outcome.reasons) == ("renewed", ("by a run that ended before it had tidied up",))
    assert contents(out / "larch_end.previous") == before
    # Killed while making: what has no record, or a newer one, was never live.
    (out / ".larch_end.next").mkdir()
    (out / ".larch_end.next" / "larch_end_2027.h").write_text("half")
    assert run(hut / "larch_end.toml", out, TODAY)[0].status == "right"
    assert not (out / ".larch_end.next").exists()
    assert records.generation_of(out / "larch_end") == 3
    assert contents(out / "larch_end") == wanted
