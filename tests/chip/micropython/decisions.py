# Feeds recorded seconds to the decision under MicroPython and writes what it gives; see micropython_run.py.
import gc
import struct

import door_site as own
from door.decision import DoorDecision
from door.door_state import Inputs
from door.settings import Settings
from tables import Tables

INPUT, OUTPUT = "<HHhBBBBBBB", "<BBBBBBHHH"
NAMES = (
    "clock_day",
    "clock_min",
    "light_counts",
    "clock_valid",
    "clock_set",
    "top",
    "bottom",
    "hand",
    "keep_shut",
    "battery",
)
SIZE = struct.calcsize(INPUT)
source, given = open("inputs.bin", "rb"), open("outputs.bin", "wb")  # noqa: SIM115
core = DoorDecision(Settings, Tables(own.UTC_OFFSET_MIN).row)
gc.collect()
heap_bytes = [gc.mem_alloc()]


def some(seconds):
    gc.collect()  # what the piece before has left: this port collects between pieces only
    heap_bytes.append(gc.mem_alloc())
    i = Inputs()
    for _ in range(seconds):
        raw = source.read(SIZE)
        if not raw:
            given.close()
            return "done"
        for name, value in zip(NAMES, struct.unpack(INPUT, raw)):  # noqa: B905
            setattr(i, name, value)
        o = core.step(i)
        given.write(
            struct.pack(OUTPUT, o.drive, o.duty, o.door, o.want, o.reason, o.time, o.own_day, o.own_min, o.alarms)
        )
    return "more"


# ---
print(some(3600))
# repeat
# ---
print("heap", heap_bytes[0], max(heap_bytes), heap_bytes[-1])
