"""For each warning about a year, what to do about it."""

from __future__ import annotations

import re

_ADVICE: tuple[tuple[str, str], ...] = (
    (
        r"^longitude_deg .* differ by",
        "Look at the sign of longitude_deg: east of Greenwich is positive, west negative. If it is right, your zone's "
        "clock simply lies far from the Sun, and nothing need be done.",
    ),
    (
        r"^closes before sunset",
        "Ask for a moment after sunset, or raise the evening's not_after, or lower later_min towards zero from "
        "below. Count the birds after closing on such a day before you trust it.",
    ),
    (
        r"^still open after nautical dusk",
        "Lower the evening's not_before or later_min, or ask for a smaller depression_deg. Where the limit is "
        "wanted for stragglers, weigh it against the minutes the door stands open in the dark.",
    ),
    (
        r"^open for less than",
        "Short days may be true at your latitude. See that food and water are inside, or open earlier and close "
        "later on these dates with a season entry. If it is as you want it, lower warn.least_open_h.",
    ),
    (
        r"decides the (opening|closing) on most days",
        "The Sun hardly decides here: look whether the limit is meant. A limit for neighbours or noise is often wanted "
        "in summer only; a season entry can keep it to those dates.",
    ),
    (
        r"^no twilight for the (opening|closing)",
        "The Sun never reaches the angle you asked for on these dates, so the stand-in named here decides. Look at "
        "these weeks on the map; a smaller depression_deg lets the Sun decide on more of them.",
    ),
    (
        r"^no twilight on .*stays down",
        "The birds stay in on these dates: they need light, water, food and air inside. Put 'light' or 'limit' in "
        "no_twilight if the door should move.",
    ),
    (
        r"^season .* touches no day",
        "The season's dates miss this year. Correct from and to, or take the entry out.",
    ),
    (
        r"^kept_in .* touches no day",
        "These dates lie outside this year: nothing to do if they are past or still to come; write them without a year "
        "if they hold every year.",
    ),
)
_GENERAL = "Look at the dates named here on the map and in the tables, and change the rule that decides them."


def advice(warning: str) -> str:
    """What to do about a warning of plan/warnings.py; general words for one that is not known here."""
    for pattern, words in _ADVICE:
        if re.search(pattern, warning, re.DOTALL):
            return words
    return _GENERAL
