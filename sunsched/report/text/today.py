"""A hut at an instant as one line for a keeper, and as plain values for programs."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from typing import Any

import numpy as np

from sunsched.base.civil_time import DAY_MIN, MONTHS, WEEKDAY_NAMES, clock_text, date_of, iso_utc, zone_of
from sunsched.job.today import HutNow, Move
from sunsched.report.page.html import one_line

_LONGEST_NAME = 40


def today_lines(huts: Sequence[tuple[str, HutNow]]) -> list[str]:
    """Each hut, with its configuration's file, in one line.

    Huts of one name are told apart by their files; where the zones differ, each line names its own.
    """
    names = Counter(hut.configuration.site.name for _, hut in huts)
    zones = {hut.configuration.site.zone for _, hut in huts}
    lines = []
    for file, hut in huts:
        site = hut.configuration.site
        apart = [one_line(file, _LONGEST_NAME)] if names[site.name] > 1 else []
        apart += [f"{site.zone.rpartition('/')[2].replace('_', ' ')} time"] if len(zones) > 1 else []
        lines.append(today_line(hut, f" ({', '.join(apart)})" if apart else ""))
    return lines


def today_line(hut: HutNow, apart: str = "") -> str:
    """The hut in one line: the door now, its next move and why, when to look and what for.

    `apart` stands behind its name.
    """
    name = one_line(hut.configuration.site.name, _LONGEST_NAME) + apart
    look = hut.look
    when = "look today" if look is None else f"look {_when(hut, look.look_utc_min)}"
    return f"{name}: door {_door(hut)}; {when}: {look_for(hut, look)}"


def look_for(hut: HutNow, move: Move | None) -> str:
    """What to see at the hut after a move, or on a day without one."""
    flock = hut.configuration.flock
    counted = f"{flock.birds} in" if "birds" in flock.model_fields_set else "birds in"  # a default is nobody's flock
    if move is None:
        return f"shut, {counted}, food, water, air?"
    return f"shut, {counted}?" if move.to == "down" else "up, birds out?"


def plain(hut: HutNow, file: str) -> dict[str, Any]:
    """The hut as plain values; times are ISO 8601 in UTC, null where no move is planned within 400 days.

    door   up or down, by the planned minute; between earliest_utc and latest_utc the light cell decides
    why   the reason's word, as in every table; stays_down: why no move is planned on the days before it, or null
    """
    move, look = hut.next, hut.look
    return {
        "file": file,
        "site": hut.configuration.site.name,
        "now": iso_utc(hut.now_utc_min),
        "door": hut.door,
        "next_move": move and move.to,
        "next_utc": move and iso_utc(move.utc_min),
        "next_civil": move and _stamp(hut, move.utc_min),
        "earliest_utc": move and iso_utc(move.from_utc_min),
        "latest_utc": move and iso_utc(move.until_utc_min),
        "why": move and move.reason.word,
        "stays_down": hut.stays_down or None,
        "look_at": look and iso_utc(look.look_utc_min),
        "look_for": look_for(hut, look),
    }


def _door(hut: HutNow) -> str:
    """Where the door is, why it stays there on days without a move, and until when."""
    move, last = hut.next, hut.last
    text: str = hut.door
    going = last is not None and last.by_cell and hut.now_utc_min < last.until_utc_min
    if last is not None and going:
        text = f"going {hut.door} by {_when(hut, last.until_utc_min)}, then {hut.door}"
    if hut.stays_down:
        text += f" ({one_line(hut.stays_down, _LONGEST_NAME)})"
    if move is None:
        return f"{text}, no move planned within 400 days"
    why = move.reason.word.replace("_", " ")
    if move.by_cell and not going:
        first, end = (clock_text(_civil(hut, at) % DAY_MIN) for at in (move.from_utc_min, move.until_utc_min))
        why += f", light {first}-{end}"
    return f"{text} until {_when(hut, move.utc_min)} ({why})"


def _civil(hut: HutNow, utc_min: float) -> int:
    """Civil minutes since 1970, to the nearest minute."""
    zone = zone_of(hut.configuration.site.zone)
    return round(utc_min) + int(zone.utc_offset_min(np.array([utc_min]))[0])


def _when(hut: HutNow, utc_min: float) -> str:
    """A civil time, with its day where that is not the day of now."""
    day, minute = divmod(_civil(hut, utc_min), DAY_MIN)
    ahead = day - _civil(hut, hut.now_utc_min) // DAY_MIN
    if ahead == 0:
        return clock_text(minute)
    date = date_of(day)
    if ahead == 1:
        return f"tomorrow {clock_text(minute)}"
    year = "" if date.year == date_of(day - ahead).year else f" {date.year}"
    return f"{WEEKDAY_NAMES[date.weekday()]} {date.day} {MONTHS[date.month - 1]}{year} {clock_text(minute)}"


def _stamp(hut: HutNow, utc_min: float) -> str:
    day, minute = divmod(_civil(hut, utc_min), DAY_MIN)
    return f"{date_of(day)} {clock_text(minute)}"
