"""What each alarm of the door's program means and what to do: the words of controller/RULES.md for the bench."""

from __future__ import annotations

from sunsched.controller.words import Alarm, alarm_words

# Alarm in the log -> what it means, and what to do. The rule page has the rule that raises it.
ALARMS: dict[str, tuple[str, str]] = {
    "clock_step": (
        "the clock jumped, stands still, or was set by more than 20 min",
        "Compare the clock with true time; set it with a `t` line, twice where the program asks. Look at the clock "
        "chip's cell and wires.",
    ),
    "clock_lost": (
        "no time is known: the door goes by the light alone",
        "Set the clock. If it is lost again, fit a new cell to the clock chip.",
    ),
    "sun_shift": (
        "the night's middle lies far from where the clock puts it",
        "The clock is probably an hour off or in summer time. Set it to the chip's time.",
    ),
    "contradiction": (
        "clock and light disagreed on two days running",
        "Check the clock first, then the cell: cover it, shine on it, and watch the counts in the log (`s`).",
    ),
    "cell": (
        "the light cell stands at one end, or did not see a day or a night",
        "Look for a broken wire, a lamp near it, snow or dirt. Until then the clock moves the door.",
    ),
    "no_witness": (
        "neither clock nor light can be trusted",
        "Move the door by hand every evening until both are mended.",
    ),
    "no_table": (
        "no table covers today: the door goes by the light alone",
        "Load a table: `sunsched chip load CONFIG`, or write the program again.",
    ),
    "expired": (
        "the last table is over: the door goes by the light alone",
        "Load a table: `sunsched chip load CONFIG`, or write the program again.",
    ),
    "not_begun": (
        "the first table has not begun: the door goes by the light alone",
        "Check the clock's year; else load a table of this year.",
    ),
    "battery": (
        "the battery is low or spent: the door still closes, and at the end no longer opens",
        "Charge it. Look at panel, fuse and terminals. Birds locked in need water and air.",
    ),
    "not_down": (
        "the lower switch was not made when all cord was out, or after three tries",
        "Go and look now: something lies under the plate, it jams, or the switch fails. Isolate the power and support "
        "the plate before you reach in.",
    ),
    "not_up": (
        "the upper switch was not made in time",
        "Look at the plate, the cord on the spool and the switch. Let the birds out by hand.",
    ),
    "not_rising": (
        "the door did not leave its lower switch: frozen, jammed, or no current",
        "Free the plate; look at the fuse and the battery. Let the birds out by hand.",
    ),
    "switches": (
        "both end switches are made at once, or one stays made",
        "Look at the switches and their wires. The door moves by time until then.",
    ),
    "wrong_way": (
        "the motor ran the other way: reversed wires, or cord wound on backwards",
        "The door halts until a hand button is pressed. Isolate the power; check the motor's wires and the spool.",
    ),
    "power": (
        "the board was reset while the motor started: the supply breaks down",
        "Charge or replace the battery; look at the fuse's holder, the terminals, the cable and the capacitor.",
    ),
    "moved": (
        "the door left its place though the motor stood still: lifted, fallen, or blown",
        "Go and look now: an animal at the plate, a cord that gave way, or a switch that shifted.",
    ),
    "driver": (
        "the door ran to its other end though the motor was switched off: a driver or relay stuck on",
        "Take the fuse out, support the plate, and replace the driver. The door halts until a hand button is pressed.",
    ),
    "clock_cell": (
        "the clock chip's own cell is low",
        "Fit a new cell while the board has power, and set the clock.",
    ),
}


def alarm_rows() -> list[tuple[str, str, str]]:
    """Alarm, meaning and what to do, for every alarm of the program, in the order of their bits."""
    every = alarm_words(sum(alarm.value for alarm in Alarm))
    return [(word, *ALARMS[word]) for word in every]
