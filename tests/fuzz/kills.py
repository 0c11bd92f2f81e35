"""Kill renewals and batches at drawn moments: `python -m tests.fuzz.kills --renewals 200 --batches 100`.

After each kill the tables are all old or all new, what a second run says is what is on the disk, and for a batch the
workers are gone and the end is that of a run in one go. Prints what was counted; ends with 1 where anything was not so.
"""

from __future__ import annotations

import argparse
import os
import random
import shutil
import signal
import subprocess
import sys
import tempfile
import time
from collections import Counter
from pathlib import Path

from tests.job.renewals import ROOT, config_in, contents, run
from tests.support.made_sites import written

TODAY = "2027-06-01"
WITHIN_S = 1.0
ENVIRONMENT = {**os.environ, "PYTHONPATH": str(ROOT)}


def command(*words: object) -> subprocess.Popen[bytes]:
    """A run of the program in a process group of its own."""
    line = [sys.executable, "-m", "sunsched", *map(str, words)]
    return subprocess.Popen(
        line, env=ENVIRONMENT, stdout=subprocess.PIPE, stderr=subprocess.PIPE, start_new_session=True
    )


def ended(process: subprocess.Popen[bytes]) -> tuple[int, str]:
    """Exit code and all that was said."""
    out, err = process.communicate(timeout=300)
    return process.returncode, (out + err).decode()


def killed_renewals(folder: Path, number: int, chance: random.Random) -> Counter[str]:
    """Renew over old tables, kill, and look."""
    template = folder / "template"
    template.mkdir()
    run(config_in(template), template / "out", TODAY)
    config = config_in(template, changes={"later_min = 15": "later_min = 20"})
    old = contents(template / "out" / "larch_end")
    whole = folder / "whole"
    shutil.copytree(template, whole)
    start = time.monotonic()
    code, said = ended(command("renew", whole / config.name, "--out", whole / "out", "--today", TODAY))
    whole_s = time.monotonic() - start
    assert (code, "put the new table on the chip" in said) == (0, True), said
    new = contents(whole / "out" / "larch_end")
    counts: Counter[str] = Counter()
    for n in range(number):
        hut = folder / f"hut{n}"
        shutil.copytree(template, hut)
        words = ("renew", hut / config.name, "--out", hut / "out", "--today", TODAY)
        process = command(*words)
        # The first run is the slowest, for nothing was in memory yet.
        time.sleep(chance.uniform(0, 0.8 * whole_s))
        counts["killed"] += process.poll() is None
        process.kill()
        _, before = ended(process)
        live = contents(hut / "out" / "larch_end")
        counts["old tables found"] += live == old
        counts["new tables found"] += live == new
        mixed = live not in (old, new)
        code, said = ended(command(*words))
        # One of the two runs reports new tables to whoever finds them.
        reported = "put the new table on the chip" in before + said
        whole_again = contents(hut / "out" / "larch_end") == new and not (hut / "out" / ".larch_end.next").exists()
        counts["not so"] += mixed or code != 0 or not whole_again or not reported
        shutil.rmtree(hut)
    return counts


def children(pid: int) -> list[str]:
    """The processes that a process has started and that are there."""
    try:
        return Path(f"/proc/{pid}/task/{pid}/children").read_text().split()
    except OSError:
        return []


def killed_batches(folder: Path, number: int, chance: random.Random) -> Counter[str]:
    """Kill a batch of two workers before and after its first checkpoint, wait for the workers, go on, compare."""
    sites, rules, _ = written(folder, 300, 8)
    words = ("batch", sites, rules, "--year", 2027, "--as", "json", "--jobs", 2, "--out")
    start = time.monotonic()
    assert ended(command(*words, folder / "whole"))[0] == 65
    whole_s = time.monotonic() - start
    whole = _tables(folder / "whole")
    counts: Counter[str] = Counter()
    for n in range(number):
        out = folder / f"out{n}"
        process = command(*words, out)
        time.sleep(chance.uniform(0, whole_s))
        workers = children(process.pid)
        counts["killed"] += process.poll() is None
        process.kill()
        died = time.monotonic()
        while any(_runs(worker) for worker in workers) and time.monotonic() < died + 30:
            time.sleep(0.01)
        counts["workers"] += len(workers)
        counts[f"workers after {WITHIN_S:g} s"] += bool(workers) and time.monotonic() - died > WITHIN_S
        counts["slowest worker [ms]"] = max(counts["slowest worker [ms]"], round(1000 * (time.monotonic() - died)))
        # Nothing holds the pipes any more: this ends.
        ended(process)
        state = out / ".batch.json"
        checkpoint = state.exists() and '"row": 2,' not in state.read_text()
        counts["after the first checkpoint" if checkpoint else "before the first checkpoint"] += 1
        code, said = ended(command(*words, out))
        right = code == 65 and "300 sites: 292 ok, 8 with an error" in said and _tables(out) == whole
        counts["not so"] += not right
        if not right:
            print(said, file=sys.stderr)
        shutil.rmtree(out)
    return counts


def _runs(pid: str) -> bool:
    try:
        return "Z" not in Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()[0]
    except OSError:
        return False


def _tables(out: Path) -> dict[str, bytes]:
    return {name: text for name, text in contents(out).items() if not name.startswith(".")}


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--renewals", type=int, default=200)
    parser.add_argument("--batches", type=int, default=100)
    parser.add_argument("--seed", type=int, default=20270601)
    asked = parser.parse_args()
    signal.signal(signal.SIGPIPE, signal.SIG_DFL)
    wrong = 0
    for name, number, attack in (
        ("renewals", asked.renewals, killed_renewals),
        ("batches", asked.batches, killed_batches),
    ):
        with tempfile.TemporaryDirectory() as folder:
            counts = attack(Path(folder), number, random.Random(f"{asked.seed} {name}")) if number else Counter()
        print(f"{name}: {number} tried; " + ", ".join(f"{what} {count}" for what, count in counts.items()), flush=True)
        wrong += counts["not so"]
    return 1 if wrong else 0


if __name__ == "__main__":
    raise SystemExit(main())
