"""The door's decision, one step a second: the Python twin of c/door_decision.c. The rules are on the page RULES.md.

It has three witnesses: the clock, the light and the chip's own count of seconds; each is checked by the others.
The C gives the same results second by second; tests prove it over random inputs and over the fault nights.

The core advises a motor; it certifies nothing. Isolate power before clearing a jam, support the plate, keep fingers
clear, and look at birds and door daily.
"""

from __future__ import annotations

from sunsched.controller.door_plan import step_plan
from sunsched.controller.door_settings import DoorSettings
from sunsched.controller.door_state import DoorState, Inputs, KeptOver, Outputs, RowReader, boot, keep
from sunsched.controller.light_witness import cell_verdict, learn, step_light
from sunsched.controller.motor import step_motor
from sunsched.controller.orders import alarms_now, door_word, obey
from sunsched.controller.time_witness import find_cycle, step_time
from sunsched.controller.words import Drive, Want

UP, DOWN, STAY = int(Drive.UP), int(Drive.DOWN), int(Want.STAY)


class DoorDecision:
    """A door's program between two resets. `reader` gives the table's row of a day, None outside the table."""

    def __init__(self, settings: DoorSettings, reader: RowReader, kept: KeptOver | None = None, cause: int = 0) -> None:
        self.settings = settings
        self.reader = reader
        self.state = boot(settings, kept, cause)

    def kept(self) -> KeptOver:
        """What survives a power cut now."""
        return keep(self.state)

    def step(self, inputs: Inputs) -> Outputs:
        """One second; returns what goes on the pins, where the door is, and why."""
        return step(self.state, self.settings, self.reader, inputs)


def step(d: DoorState, s: DoorSettings, reader: RowReader, i: Inputs) -> Outputs:
    """One second on the state `d`, which is changed; the rules in the order of the page."""
    before = d.plan
    step_time(d, s, reader, i)
    find_cycle(d, reader)
    step_light(d, s, i.light_counts)
    if learn(d, s, i):  # the last night counts at once
        find_cycle(d, reader)
    step_plan(d, s, i.light_counts)
    cell_verdict(d, s)
    changed = d.plan != before and before != STAY
    want, reason = obey(d, s, i, changed)
    drive = step_motor(d, s, want, int(i.top != 0), int(i.bottom != 0))
    duty = s.up_duty if drive == UP else s.down_duty if drive == DOWN else 0
    alarms, door = alarms_now(d, s, i), door_word(d, drive)
    return Outputs(alarms, d.own_day, d.own_min, drive, duty, door, want, reason, d.time)
