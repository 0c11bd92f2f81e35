"""The chip's own record of its last events, fetched and written as a log."""

from __future__ import annotations

import datetime as dt

from sunsched.job.chip.port import Line
from sunsched.job.chip.state import ChipState
from sunsched.job.chip.words import Event, event_of, in_order
from sunsched.study.log_rows import CHIP_HEADING


def events(line: Line, state: ChipState, now: dt.datetime) -> list[Event]:
    """The events from the oldest to the newest; one that comes while they are read is read too."""
    following = _next(line)
    places = [_event(line, place, now) for place in range(state.places)]
    while (after := _next(line)) != following:
        while following != after:
            places[following] = _event(line, following, now)
            following = (following + 1) % state.places
    return in_order(places, following)


def _next(line: Line) -> int:
    return int(line.ask("i9")[2:])


def _event(line: Line, place: int, now: dt.datetime) -> Event | None:
    answer = line.ask(f"e{place:02x}").split()[1]
    return None if answer == "-" else event_of(bytes.fromhex(answer), now)


def log_text(found: list[Event], state: ChipState) -> str:
    """The events as a log (LOG.md): the chip's own remarks, then a line for each."""
    begun = state.when is None or state.when.year >= state.first_year
    head = [
        "# sunsched door log, revision 1",
        f"# site {state.site}",
        f"# chip_offset_min {state.offset_min}",
        f"# table {state.first_year}-01-01..{state.last_year}-12-31",
        "# from the chip's memory: times to the minute, light in steps of 4",
        CHIP_HEADING,
    ]
    return "\n".join([*head, *(event.log_line(begun) for event in found)]) + "\n"
