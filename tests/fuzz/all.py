"""Fuzz every input: `python -m tests.fuzz.all --minutes 10` takes ten minutes for each kind, and prints the counts.

--only NAME   one kind only; --seed N other draws; --cases N a number of cases in place of minutes;
--keep DIR   keep the inputs that fell. Ends with 1 when one did.
"""

from __future__ import annotations

import argparse
import random
import resource
import sys
import time
import traceback
import warnings
from collections import Counter
from dataclasses import dataclass, field
from pathlib import Path

from tests.fuzz.targets import TARGETS, Target


@dataclass
class Tally:
    """What became of the cases of a target; the slowest in seconds; the inputs that fell with their errors."""

    outcomes: Counter[str] = field(default_factory=Counter)
    slowest_s: float = 0.0
    fallen: list[tuple[str, bytes, str]] = field(default_factory=list)


def fuzzed(target: Target, seed: int, seconds: float | None = None, cases: int | None = None) -> Tally:
    """Read damaged inputs for so long, or so many; case n of a seed is always the same."""
    tally, end = Tally(), None if seconds is None else time.monotonic() + seconds
    number = -1
    while True:
        number += 1
        if (end is not None and time.monotonic() >= end) or (cases is not None and number >= cases):
            return tally
        name, content = target.case(random.Random(f"{seed} {target.name} {number}"))
        start = time.monotonic()
        try:
            outcome = target.read(name, content)
        except Exception:
            outcome = "fallen"
            tally.fallen.append((name, content, traceback.format_exc()))
        tally.slowest_s = max(tally.slowest_s, time.monotonic() - start)
        tally.outcomes[outcome] += 1


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--minutes", type=float, default=10.0)
    parser.add_argument("--cases", type=int)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--only")
    parser.add_argument("--keep", type=Path)
    asked = parser.parse_args()
    warnings.simplefilter("ignore")
    print("| input | tried | refused | accepted | fallen | slowest [s] |\n|---|---|---|---|---|---|")
    fell = 0
    for target in TARGETS:
        if asked.only not in (None, target.name):
            continue
        seconds = None if asked.cases else asked.minutes * 60
        tally = fuzzed(target, asked.seed, seconds, asked.cases)
        seen = [tally.outcomes[outcome] for outcome in ("refused", "accepted", "fallen")]
        print(f"| {target.name} | {sum(seen)} | {' | '.join(map(str, seen))} | {tally.slowest_s:.2f} |", flush=True)
        for number, (name, content, error) in enumerate(tally.fallen[:20]):
            print(f"{name}, {len(content)} bytes:\n{error}", file=sys.stderr)
            if asked.keep:
                asked.keep.mkdir(exist_ok=True)
                (asked.keep / f"{target.name}-{name}-{number}".replace("/", "_")).write_bytes(content)
        fell += len(tally.fallen)
    print(f"peak memory {resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1000:.0f} MB, seed {asked.seed}")
    return 1 if fell else 0


if __name__ == "__main__":
    raise SystemExit(main())
