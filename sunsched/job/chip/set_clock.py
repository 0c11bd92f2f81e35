"""The chip's clock set from this computer's: the right time for what the chip keeps, read back."""

from __future__ import annotations

import datetime as dt
import time
from collections.abc import Callable
from dataclasses import dataclass

from sunsched.base.errors import CheckError
from sunsched.job.chip.port import Line
from sunsched.job.chip.state import ChipState, state_of

# The chip takes a setting in its next second, half a second later on the whole; the line takes 23 ms.
SEND_AT_S = 0.45
READ_BACK_S = 2
ASKS = "# a change this large"


@dataclass(frozen=True, slots=True)
class ClockSet:
    """What was sent, what the chip said before and after, and whether it asked again."""

    sent: str
    before: dt.datetime | None
    after: dt.datetime | None
    asked: bool


def chip_now(offset_min: int, utc: dt.datetime) -> dt.datetime:
    """The time that a chip with an offset from UTC should show."""
    return utc.replace(tzinfo=None) + dt.timedelta(minutes=offset_min)


def set_clock(
    line: Line, state: ChipState, sure: Callable[[int], bool], utc_now: Callable[[], dt.datetime]
) -> ClockSet:
    """Set the clock and read it back, to 2 s. `sure` is asked, with the minutes of the change, where the chip asks.

    Raises CheckError if the keeper is not sure, or the chip does not take it.
    """
    sent, answer = _send(line, state, utc_now)
    asked = answer.startswith(ASKS)
    if asked:
        change_min = (
            0
            if state.when is None
            else round((chip_now(state.offset_min, utc_now()) - state.when).total_seconds() / 60)
        )
        if not sure(change_min):
            raise CheckError(
                f"the chip's time is proven by the light, and this computer's is {change_min:+d} min from it: "
                "not set; if this computer's clock is right, run the command again with --yes"
            )
        sent, answer = _send(line, state, utc_now)
    after = state_of(line).when
    off_s = None if after is None else (after - chip_now(state.offset_min, utc_now())).total_seconds()
    if ",clock," not in answer or off_s is None or abs(off_s) > READ_BACK_S:
        off = "no time" if off_s is None else f"{off_s:+.0f} s from what was sent"
        raise CheckError(f"the chip did not take '{sent}': it shows {off}. Is its clock chip connected?")
    return ClockSet(sent, state.when, after, asked)


def _send(line: Line, state: ChipState, utc_now: Callable[[], dt.datetime]) -> tuple[str, str]:
    """Send the time at the right moment; what was sent, and the line that tells what became of it."""
    now = utc_now()
    time.sleep((SEND_AT_S - now.microsecond / 1e6) % 1.0)
    whole = chip_now(state.offset_min, utc_now()) + dt.timedelta(seconds=1 - SEND_AT_S)
    text = f"t {whole.replace(microsecond=0):%Y-%m-%d %H:%M:%S}"
    line.send(text)
    for received in line.lines(3.0):
        answer = received.decode("ascii", "replace")
        if ",clock," in answer or answer.startswith((ASKS, "# what")):
            return text, answer
    return text, ""
