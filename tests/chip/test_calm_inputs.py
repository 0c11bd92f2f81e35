"""What the program takes for a calm second is none in which an input changes: the twin steps through every second."""

from __future__ import annotations

import datetime as dt

import numpy as np

from tests.chip import emulated, sites
from tests.chip.runs import Twin

NAME, DATE, NOON_S = "larch_end", dt.date(2027, 4, 11), 12 * 3600
LONG_S = 320  # switches count as held for 255 s, and calm seconds begin after that
HAND_UP, HAND_DOWN, KEEP_SHUT = 0x04, 0x08, 0x10
BRIGHT = 900
BATTERY_LOW, BATTERY_SPENT, BATTERY_GOOD = 560, 400, 634


def test_every_input_ends_a_calm() -> None:
    life = emulated.Life(NAME, 2027, DATE, NOON_S, chip=False)
    twin = Twin(NAME, sites.built(NAME, 2027).plan)
    rng = np.random.default_rng(3)
    inputs = []

    def live(seconds: int, counts: int, wobble: int) -> None:
        light = np.clip(counts + rng.integers(-wobble, wobble + 1, seconds), 0, 1023).astype(np.uint16)
        record = life.run(light, recorded=True)
        inputs.append(record)
        assert twin.differences(record) == []

    live(LONG_S, BRIGHT, 0)
    for n, (counts, wobble) in enumerate(((BRIGHT, 0), (BRIGHT, 3), (300, 12), (20, 1), (BRIGHT, 40))):
        live(LONG_S, counts, wobble)
        life.state.hand_pins = HAND_UP if n % 2 else HAND_DOWN
        live(3, counts, wobble)
        life.state.hand_pins = KEEP_SHUT
        live(LONG_S, counts, wobble)
        life.state.hand_pins = 0
        for battery in (BATTERY_LOW, BATTERY_SPENT, BATTERY_GOOD):
            life.state.battery_counts = battery
            live(LONG_S, counts, wobble)
        life.clock_fault(absent=True)
        live(LONG_S, counts, wobble)
        life.clock_fault()
        live(LONG_S, counts, wobble)
        life.say("t 2027-04-11 13:30:20\r")
        live(LONG_S, counts, wobble)
    lived = np.concatenate(inputs)
    for name in ("hand", "keep_shut", "battery", "clock_valid", "clock_set", "want", "top", "bottom", "alarms"):
        assert len(np.unique(lived[name])) > 1, name  # else nothing has changed that could have been missed
    life.end()
