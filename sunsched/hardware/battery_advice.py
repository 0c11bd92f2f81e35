"""The battery's advised set: capacity and panel that carry the door, and where these do not do it, smaller draws.

Days without Sun ask for capacity, the worst month asks for panel; many winters then judge the two together.
"""

from __future__ import annotations

from collections.abc import Callable

from sunsched.hardware.advice import Advice, changed
from sunsched.hardware.battery_case import Place, Weather
from sunsched.hardware.battery_sums import VERDICTS, open_verdicts
from sunsched.hardware.figures import Span
from sunsched.hardware.model import MODEL, Model
from sunsched.hardware.parts import Battery

# Sizes that shops have, small lead-acid batteries and panels: common practice.
CAPACITIES_AH = (1.3, 2.3, 4.5, 7.0, 9.0, 12.0, 18.0, 24.0, 33.0, 45.0, 65.0, 80.0, 100.0)
PANELS_W = (2.0, 5.0, 10.0, 20.0, 30.0, 50.0, 80.0, 100.0, 150.0, 200.0)
SAVED = {"sleep_ma": 1.0, "controller_ma": 1.0}  # a board that sleeps, a controller chosen for its own draw
WORTH_SAVING = 1.5  # times: a smaller gain is not worth another board
BUMPS = 3  # sizes tried beyond what the single days ask, where the winters still do not hold

Judge = Callable[..., tuple[str, ...]]


def battery_advice(
    battery: Battery,
    moves_ah_per_day: Span,
    where: Place,
    weather: Weather,
    before: tuple[str, ...],
    model: Model = MODEL,
) -> Advice:
    """The set for one battery; `before` are the names of its verdicts that do not hold.

    Empty where they all hold, and where nothing tried cures one of them: in a long polar night no panel does.
    """
    if not before:
        return Advice({}, (), ())

    def judge(tried: Battery, *names: str) -> tuple[str, ...]:
        return open_verdicts(tried, moves_ah_per_day, where, weather, model, names or VERDICTS)

    best, least = battery, before
    saving = {key: most for key, most in SAVED.items() if getattr(battery, key) > WORTH_SAVING * most}
    for draws in ({}, saving) if saving else ({},):
        tried, remains = _sized(battery.model_copy(update=draws), judge)
        if set(remains) <= set(before) and len(remains) < len(least):
            best, least = tried, remains
        if not least:
            break
    return Advice(changed({"battery": battery}, {"battery": best}), before, least)


def _sized(battery: Battery, judge: Judge) -> tuple[Battery, tuple[str, ...]]:
    """The least capacity, then the least panel, that hold by themselves; then both raised until the winters hold."""
    capacities = [battery.capacity_ah, *(size for size in CAPACITIES_AH if size > battery.capacity_ah)]
    panels = [battery.panel_w, *(size for size in PANELS_W if size > battery.panel_w)]

    def with_sizes(capacity: int, panel: int) -> Battery:
        update = {"capacity_ah": capacities[capacity], "panel_w": panels[panel]}
        # What stays as it was stays a default, with a default's range.
        kept = {key: value for key, value in update.items() if value != getattr(battery, key)}
        return battery.model_copy(update=kept)

    capacity = _least(len(capacities), lambda k: not judge(with_sizes(k, 0), "days without Sun"))
    panel = _least(len(panels), lambda k: not judge(with_sizes(capacity, k), "worst month"))
    tried = with_sizes(capacity, panel)
    remains = judge(tried)
    for bump in range(2 * BUMPS):
        if not set(remains) & {"depth limit", "flat battery"}:
            break
        capacity = min(capacity + bump % 2, len(capacities) - 1)
        panel = min(panel + (bump + 1) % 2, len(panels) - 1)
        tried = with_sizes(capacity, panel)
        remains = judge(tried)
    return tried, remains


def _least(count: int, holds: Callable[[int], bool]) -> int:
    """The first of `count` sizes that holds, by halving: more never harms; the last where none does."""
    low, high = 0, count - 1
    while low < high:
        middle = (low + high) // 2
        low, high = (low, middle) if holds(middle) else (middle + 1, high)
    return low
