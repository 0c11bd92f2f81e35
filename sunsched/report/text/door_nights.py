"""The door's own nights in plain text: what is wrong first, then a line for each night."""

from __future__ import annotations

from collections.abc import Sequence

from sunsched.job.logs.door_nights import DOWN, HALTED, NO_SWITCH, RIGHT, STAYED, UNDERWAY, UNKNOWN, UP, DoorNight
from sunsched.report.text.plain import columns

# The gravest first.
WORDS = {
    HALTED: "HALTED HALF-WAY",
    UP: "STAYED UP",
    NO_SWITCH: "LOWERED, BUT THE LOWER SWITCH DID NOT SAY SO",
    UNDERWAY: "the log ends while it moves",
    UNKNOWN: "no row of the log says",
    DOWN: "down",
    STAYED: "stayed down",
}
_MOST_NAMED, _MOST_ROWS = 3, 31


def nights_text(nights: Sequence[DoorNight]) -> str:
    """A line for each night, or for those that were not right; empty without nights."""
    if not nights:
        return ""
    rows = [("THE DOOR, NIGHT BY NIGHT", "", "from", "by", "alarms")]
    shown = list(nights)
    if len(shown) > _MOST_ROWS:
        shown = [one for one in nights if one.state not in RIGHT or one.alarms]
        rows[0] = ("NIGHTS NOT DOWN, OR WITH AN ALARM", "", "from", "by", "alarms")
    for one in shown:
        alarms = ", ".join([*one.alarms, *([f"{one.starts} restarts"] if one.starts else [])])
        rows.append((f"  {one.date}", WORDS[one.state], one.civil, one.reason, alarms))
    return columns(rows)


def first_line(nights: Sequence[DoorNight]) -> str:
    """One line for all nights: those on which the door was not down, gravest first, then the rest and the alarms."""
    parts = []
    for state, words in WORDS.items():
        of_it = [one for one in nights if one.state == state]
        if state in RIGHT or not of_it:
            continue
        dates = ", ".join(f"{one.date} {one.civil}".rstrip() for one in of_it[:_MOST_NAMED])
        more = f" and {len(of_it) - _MOST_NAMED} more nights" if len(of_it) > _MOST_NAMED else ""
        parts.append(f"{words}: {dates}{more}")
    right, every = sum(one.state in RIGHT for one in nights), len(nights)
    parts.append(f"down on every night ({every})" if right == every else f"down on {right} of {every} nights")
    alarms = dict.fromkeys(word for one in nights for word in one.alarms)
    parts.append(f"alarms: {', '.join(alarms)}" if alarms else "no alarm")
    return "THE DOOR: " + "; ".join(parts) + "."
