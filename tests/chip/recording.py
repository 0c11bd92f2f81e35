"""Days of the C program on this computer, written down by runs of seconds: for another machine to live them again."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from typing import Any

import numpy as np
from numpy.typing import NDArray

from tests.chip import judge, runs, skies

YEAR = 2027
COLUMNS = (*runs.Twin.INPUTS, *runs.Twin.COLUMNS)
_CODES = ("<u2", "<u2", "<i2", *["u1"] * 7, *["u1"] * 6, "<u2", "<u2", "<u2")
RUN = np.dtype([("seconds", "<u2"), *zip(COLUMNS, _CODES, strict=True)])
_LONGEST_RUN_S = 600


class Recording(runs.ChipRun):
    """The C program's days on this computer, and what it was given and did, second by second."""

    def __init__(self, name: str, row: int, kinds: list[skies.Kind], cuts_s: Sequence[int] = ()) -> None:
        """From solar noon of a day of the year on, a day for each kind of weather.

        cuts_s   seconds lived after which the power is cut and comes back
        """
        super().__init__(name, YEAR, row, kinds, chip=False)
        self.cuts_s = sorted(cuts_s)
        self.pieces: list[NDArray[Any]] = []
        self.run(recorded=True)
        self.host_kept = self.life.host_eeprom
        self.moves = len(judge.moves_of(self.life.events(), self.first_s))
        self.misjudged = self.faults()
        self.life.end()

    @property
    def record(self) -> NDArray[Any]:
        """Inputs and outputs by runs."""
        return np.concatenate(self.pieces)

    def _run(self, first_s: int, last_s: int, recorded: bool) -> None:
        cuts = [self.first_s + cut for cut in self.cuts_s if first_s < self.first_s + cut < last_s]
        for begin_s, end_s in pairwise([first_s, *cuts, last_s]):
            if begin_s in cuts:
                self.life.power_cut()
            self.pieces.append(by_runs(self.life.run(self.counts[begin_s:end_s], recorded)))


def by_runs(record: NDArray[Any]) -> NDArray[Any]:
    """A record as runs of seconds in which nothing differs from the second before, none longer than ten minutes."""
    turned = np.zeros(len(record), bool)
    turned[0] = True
    for column in COLUMNS:
        turned[1:] |= record[column][1:] != record[column][:-1]
    ends = [*np.flatnonzero(turned).tolist(), len(record)]
    starts = np.array([at for a, b in pairwise(ends) for at in range(a, b, _LONGEST_RUN_S)])
    found = np.zeros(len(starts), RUN)
    found["seconds"] = np.diff(starts, append=len(record))
    for column in COLUMNS:
        found[column] = record[column][starts]
    return found


def recorded(name: str, row: int, kinds: list[skies.Kind]) -> NDArray[Any]:
    """Inputs and outputs of the C program, by runs, from solar noon of a day of the year on."""
    return Recording(name, row, kinds).record
