"""The words of the rule page: the door's states, reasons and alarms. The numbers are those of c/door_decision.h."""

from __future__ import annotations

from enum import IntEnum, IntFlag


class Drive(IntEnum):
    """The motor's orders; the hand switch gives the same."""

    HALT = 0
    UP = 1
    DOWN = 2


class Want(IntEnum):
    """Where the door is wanted; STAY leaves it as it is."""

    DOWN = 0
    UP = 1
    STAY = 2


class Place(IntEnum):
    """Where the door is known to be."""

    UNKNOWN = 0
    UP = 1
    DOWN = 2


class Door(IntEnum):
    """The door's state as the keeper reads it."""

    HALTED = 0
    UP = 1
    DOWN = 2
    MOVING_UP = 3
    MOVING_DOWN = 4


class TimeBy(IntEnum):
    """Which witness keeps the time."""

    CLOCK = 0
    OWN_COUNT = 1
    LIGHT = 2


class Battery(IntEnum):
    """What the battery's rest voltage says."""

    GOOD = 0
    LOW = 1
    SPENT = 2


class Why(IntEnum):
    """The rule that decided where the door is wanted."""

    START = 0
    DAY = 1
    DUSK = 2
    CLOSE_MINUTE = 3
    DUSK_LIMIT = 4
    EARLY_DUSK = 5
    HELD_UP = 6
    NIGHT = 7
    DAWN = 8
    OPEN_MINUTE = 9
    DAWN_LIMIT = 10
    HELD_DOWN = 11
    LIGHT_ALONE = 12
    STEADY_LIGHT = 13
    LONG_SHUT = 14
    NO_WITNESS = 15
    KEPT_IN = 16
    KEEP_SHUT = 17
    HAND = 18
    SECOND_CHANCE = 19
    BATTERY = 20


class Alarm(IntFlag):
    """What the keeper should look at; several may stand at once."""

    NONE = 0
    CLOCK_STEP = 0x0001
    CLOCK_LOST = 0x0002
    SUN_SHIFT = 0x0004
    CONTRADICTION = 0x0008
    CELL = 0x0010
    NO_TABLE = 0x0020
    BATTERY = 0x0040
    NOT_DOWN = 0x0080
    NOT_UP = 0x0100
    NOT_RISING = 0x0200
    SWITCHES = 0x0400
    WRONG_WAY = 0x0800
    POWER = 0x1000
    MOVED = 0x2000
    DRIVER = 0x4000
    CLOCK_CELL = 0x8000


class Facts(IntFlag):
    """What the table holds of a day beside its minutes."""

    NONE = 0
    DARK_EXPECTED = 1
    LIGHT_EXPECTED = 2
    OPEN_BY_TWILIGHT = 4
    CLOSE_BY_TWILIGHT = 8


class Kept(IntFlag):
    """The bits that survive a power cut."""

    NONE = 0
    CELL_GOOD = 1
    WIRING_PROVEN = 2
    STAMP = 4
    ODD_DAY = 8


class Reset(IntFlag):
    """Why the chip has started; several may be said at once."""

    NONE = 0
    POWER_UP = 1
    BUTTON = 2
    BROWN_OUT = 4
    HANG = 8


def alarm_words(alarms: int) -> tuple[str, ...]:
    """The alarms that stand, in words, lowest bit first; a bad cell with no time or table to go by is `no_witness`."""
    words = [(alarm.name or "").lower() for alarm in Alarm if alarm & alarms]
    if alarms & Alarm.CELL and alarms & (Alarm.CLOCK_LOST | Alarm.NO_TABLE):
        words.insert(words.index("cell") + 1, "no_witness")
    return tuple(words)
