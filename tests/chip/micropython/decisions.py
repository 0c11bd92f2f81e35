# Takes recorded seconds through the decision under MicroPython and compares each output of each second with what the C
# program gave. The record is by runs: how many seconds had the same inputs and outputs; see micropython_run.py.
import gc
import struct

import door_site as own
from door.decision import DoorDecision
from door.door_state import Inputs
from door.settings import Settings
from tables import Tables

RUN = "<HHHhBBBBBBBBBBBBBHHH"
SIZE = struct.calcsize(RUN)
source = open("record.bin", "rb")  # noqa: SIM115
core = DoorDecision(Settings, Tables(own.UTC_OFFSET_MIN).row)
i = Inputs()
lived = differing = 0
gc.collect()
heap_bytes = [gc.mem_alloc()]


def differs(o, run):
    global differing
    differing += 1
    if differing <= 3:
        done = (o.drive, o.duty, o.door, o.want, o.reason, o.time, o.own_day, o.own_min, o.alarms)
        print("differs", lived, run[11:], done)


def some(seconds):
    global lived
    gc.collect()  # what the piece before has left: this port collects between pieces only
    heap_bytes.append(gc.mem_alloc())
    step, read, unpack = core.step, source.read, struct.unpack
    while seconds > 0:
        raw = read(SIZE)
        if not raw:
            return "done"
        run = unpack(RUN, raw)
        n, i.clock_day, i.clock_min, i.light_counts, i.clock_valid, i.clock_set = run[:6]
        i.top, i.bottom, i.hand, i.keep_shut, i.battery = run[6:11]
        drive, duty, door, want, reason, time, own_day, own_min, alarms = run[11:]
        seconds -= n
        for _ in range(n):
            o = step(i)
            if (
                o.own_min != own_min
                or o.drive != drive
                or o.door != door
                or o.want != want
                or o.reason != reason
                or o.time != time
                or o.alarms != alarms
                or o.duty != duty
                or o.own_day != own_day
            ):
                differs(o, run)
            lived += 1
    return "more"


# ---
print(some(3600))
# repeat
# ---
print("lived", lived, differing, heap_bytes[0], max(heap_bytes), heap_bytes[-1])
