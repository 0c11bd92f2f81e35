"""A load while the door moves, and at dusk, changes no second of the door's own work."""

from __future__ import annotations

import datetime as dt
import re

from sunsched.base.civil_time import day_number
from sunsched.job.chip.words import asked
from tests.chip import sites
from tests.chip.line import cuts, talking

SITE = "larch_end"
DAY = dt.date(2027, 11, 3)


class Lived:
    """A closing lived by a chip with a door: its log's own rows, and the tenth of a second of each change of drive."""

    def __init__(self, typed: bytes) -> None:
        plan = sites.built(SITE, 2027).plan
        close_min = int(plan.close_min[day_number(DAY) - plan.first_day])
        at = dt.datetime.combine(DAY, dt.time()) + dt.timedelta(minutes=close_min) - dt.timedelta(seconds=130)
        self.chip = talking.Chip(talking.program(SITE), at)
        self.drives: list[tuple[int, int]] = []
        self.lowered = 0
        # the load ends while the door moves: it is typed from 2 s before the closing minute on
        for tenth in range(1600):
            if tenth == 1280:
                self._type(typed)
            self._tenth(tenth)
        self.rows = re.findall(r"^2027-11-03,.*,(?:start|move|ended|alarm),.*$", self.chip.log, re.MULTILINE)

    def _type(self, typed: bytes) -> None:
        self.waiting = typed

    waiting = b""

    def _tenth(self, tenth: int) -> None:
        until = self.chip.cycle() + talking.HZ // 10
        while self.chip.cycle() < until:
            if self.waiting:
                self.chip.say(self.waiting[:1])
                # a line waits for its answer: 40 ms of writing, and the answer's 35 characters
                self.chip.run(0.1 if self.waiting[:1] == b"\r" else 0.0)
                self.waiting = self.waiting[1:]
            else:
                self.chip.run(0.01)
        driven = self.chip.library.talk_driven(self.chip.head)
        if not self.drives or self.drives[-1][1] != driven:
            self.drives.append((self.chip.cycle() * 10 // talking.HZ // 5, driven))
        self.lowered += driven == -1
        self.chip.library.talk_switches(self.chip.head, int(self.lowered < 8), int(self.lowered > 75))
        self.chip.received()

    def end(self) -> None:
        self.chip.free()


def test_a_load_while_the_door_closes_changes_no_second_of_it() -> None:
    lines = [asked(line) for line in cuts.load_lines(talking.image(SITE, 2028), 0)]
    alone, loaded = Lived(b""), Lived(b"\r\r" + b"".join(lines))
    assert "# c 0 01" in loaded.chip.log
    assert [row for row in alone.rows if ",move," in row and ",close_minute," in row]
    assert loaded.rows == alone.rows
    # the motor's pins, to half a second
    assert [(abs(a[0] - b[0]) <= 1, a[1] == b[1]) for a, b in zip(alone.drives, loaded.drives, strict=True)] == [
        (True, True)
    ] * len(alone.drives)
    assert {driven for _, driven in alone.drives} == {0, -1}
    alone.end()
    loaded.end()
