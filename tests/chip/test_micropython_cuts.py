"""Power cuts while a MicroPython board replaces its files: run by MicroPython, cut in littlefs, started by MicroPython.

The program's own code renews the tables under MicroPython on a file system that writes down each change. littlefs does
the changes again on a simulated flash that is cut at every program and erase. MicroPython then starts on what each cut
has left.
"""

from __future__ import annotations

import ast
import shutil
from collections.abc import Sequence
from functools import cache
from itertools import groupby
from pathlib import Path

import pytest

from sunsched.job.compact import packed
from tests.chip import cut_files, micropython_run, sites
from tests.support import micropython

RECORDED = (Path(__file__).parent / "micropython" / "recorded.py").read_text()
# Changes before, so that littlefs comes to fold its directory within what is cut.
AGES = range(0, 16, 3)
AT_ROOT = "import sys\nsys.path.append('/')\n"
RENEWED = "import recorded\nrecorded.begin()\nfrom tables import Tables\nprint(Tables(60).renew())\nrecorded.end()\n"
# Each start twice: what a start leaves behind has to start as well.
SERVED = """
import os
from tables import Tables
for n in range(STATES):
    os.chdir("/state%d" % n)
    said = []
    for _ in range(2):
        board = Tables(60)
        board.renew()
        said.append(board.years())
    print(said, "tables.bad" in os.listdir())
"""
KEPT = """
import recorded
recorded.begin()
import files
files.write_whole(files.KEPT, b"new" * 90)
recorded.end()
"""
READ = (
    'import os, files\nfor n in range(STATES):\n    os.chdir("/state%d" % n)\n    print(files.read_whole(files.KEPT))\n'
)


@pytest.fixture(scope="module")
def board(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("board")
    micropython_run.board_folder("larch_end", 2027, folder)
    (folder / "recorded.py").write_text(RECORDED)
    (folder / "disk").mkdir()
    return folder


@cache
def image(year: int) -> bytes:
    return packed([sites.built("larch_end", year)]).table.raw


def changes_of(board: Path, files: cut_files.Files, script: str) -> list[cut_files.Change]:
    """What a script does to files, as MicroPython did it."""
    for path in (board / "disk").iterdir():
        path.unlink()
    for name, content in files.items():
        (board / "disk" / name).write_bytes(content)
    micropython.run(board, AT_ROOT + script, "written")
    return [ast.literal_eval(line) for line in (board / "written").read_text().splitlines()]


class Cuts:
    """All that cuts leave of some changes: a run of states for each age of the file system, and each state once."""

    def __init__(self, files: cut_files.Files, changes: Sequence[cut_files.Change]) -> None:
        self.states: list[cut_files.Files] = []
        self.runs: list[list[int]] = []
        for age in AGES:
            run = []
            for state in cut_files.after_cuts(cut_files.formatted(files, age), changes):
                state.pop("log.csv", None)
                if state not in self.states:
                    self.states.append(state)
                run.append(self.states.index(state))
            self.runs.append(run)

    def said(self, answers: list[str]) -> list[list[str]]:
        """The answers of MicroPython, in the order of the cuts, repetitions left out, a list for each age."""
        assert len(answers) == len(self.states)
        return [[said for said, _ in groupby(answers[n] for n in run)] for run in self.runs]


def started(board: Path, states: Sequence[cut_files.Files], script: str, tmp_path: Path) -> list[str]:
    """What MicroPython says when it starts on each state."""
    shutil.copytree(board, tmp_path, dirs_exist_ok=True)
    for n, state in enumerate(states):
        (tmp_path / f"state{n}").mkdir()
        for name, content in state.items():
            (tmp_path / f"state{n}" / name).write_bytes(content)
    return micropython.run(tmp_path, AT_ROOT + script.replace("STATES", str(len(states))))


# Images in the file: a small file lies in the directory's own blocks, a large one in blocks of its own.
@pytest.mark.parametrize("images", [1, 40])
@pytest.mark.parametrize("damaged", [False, True])
def test_a_power_cut_at_any_moment_leaves_the_old_tables_or_the_new(
    damaged: bool, images: int, board: Path, tmp_path: Path
) -> None:
    old, new = image(2027) * images, bytearray(image(2028) * images)
    new[-40] ^= damaged
    renewed = changes_of(board, {"tables.bin": old, "tables.new": bytes(new)}, RENEWED)
    assert [change[0] for change in renewed] == (["rename"] if damaged else ["rename", "rename"])
    copied: list[cut_files.Change] = [("write", "/tables.new", bytes(new))]  # by the keeper, cut as well
    cuts = Cuts({"tables.bin": old}, copied + renewed)
    assert sum(map(len, cuts.runs)) > (40 if images == 1 else 90)
    served = cuts.said(started(board, cuts.states, SERVED, tmp_path))
    of_old, of_new = (str([[(year, year)] * images] * 2) for year in (2027, 2028))
    if damaged:
        assert all(run == [f"{of_old} False", f"{of_old} True"] for run in served)
    else:
        # A copy of which littlefs holds the name alone is refused and becomes tables.bad; the old tables go on.
        years = [[said for said, _ in groupby(said.rsplit(" ", 1)[0] for said in run)] for run in served]
        assert all(run == [of_old, of_new] for run in years)
        assert {"tables.old", "tables.new"} in [set(state) for state in cuts.states]  # between the renames


def test_a_power_cut_at_any_moment_leaves_the_state_kept_before_or_the_new(board: Path, tmp_path: Path) -> None:
    kept = changes_of(board, {}, KEPT.replace("new", "old"))
    assert [change[0] for change in kept] == ["write", "rename"]
    old = {"kept.bin": kept[0][2]}
    cuts = Cuts(old, changes_of(board, old, KEPT))
    said = cuts.said(started(board, cuts.states, READ, tmp_path))
    assert said == [[str(b"old" * 90), str(b"new" * 90)]] * len(AGES)


def test_a_program_that_writes_over_its_only_copy_is_found_out(board: Path, tmp_path: Path) -> None:
    """The judge itself: tables.bin written anew in place, as a careless program would."""
    old, new = image(2027) * 40, image(2028) * 40
    cuts = Cuts({"tables.bin": old}, [("remove", "/tables.bin"), ("write", "/tables.bin", new)])
    assert any("[[], []]" in said for run in cuts.said(started(board, cuts.states, SERVED, tmp_path)) for said in run)
