"""The drive's advised set: plate, spool, cut-offs, turns and fuse that hold together.

The order is that in which one asks for the other: the plate has to fall by itself, the spool has to let the motor lift
it, the cut-offs have to outlast the cold travel of that spool, and the turns have to cover their over-run.
What holds already is left as it is.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping

from sunsched.base.errors import RangeError
from sunsched.base.model import Settings
from sunsched.hardware.advice import Advice, changed
from sunsched.hardware.drive import FUSE_RATINGS_A, drive_constants, drive_spans, results_of
from sunsched.hardware.drive_sums import Margin, drive_sums, margins_of
from sunsched.hardware.figures import propagated, verdict
from sunsched.hardware.parts import Door, Motor, Spool

Parts = dict[str, Settings]
LEAST_CORE_MM = 12.0  # a thinner drum bends a 2 mm cord too sharply: six cord diameters, common practice
MOST_PLATE_FACTOR = 3.0  # a plate of more than three times the weight is another door: judged
LEAST_RPM_SHARE = 0.2  # the slowest gear tried, of the present one: judged
TURN_STEP = 0.5
CORD_STEP_N = 10.0
MOST_CUTOFF_S, MOST_TURNS = 300, 200.0  # the configuration's own bounds


def drive_advice(door: Door, spool: Spool, motor: Motor) -> Advice:
    """The set for one drive; empty where every verdict holds already.

    A value that no step cures stays as it is, and its verdict is named in `remains`: more torque than any spool or gear
    tried gives, or a fuse that would have to carry the running current and open at too small a stall current.
    """
    parts: Parts = {"door": door, "spool": spool, "motor": motor}
    before = _open_verdicts(parts)
    if not before:
        return Advice({}, (), ())
    tried = dict(parts)
    for cure in (_plate, _spool, _times, _cord, _fuse):
        tried = cure(tried)
    remains = _open_verdicts(tried)
    # A step may ask for more than it cures: a set is never worse than what is there.
    if set(remains) - set(before) or not _program_runs(tried):
        return Advice({}, before, before)
    return Advice(changed(parts, tried), before, remains)


def _open_verdicts(parts: Parts) -> tuple[str, ...]:
    return tuple(one.name for one in drive_sums(*_three(parts)).verdicts if one.state != "holds")


def _three(parts: Parts) -> tuple[Door, Spool, Motor]:
    door, spool, motor = parts["door"], parts["spool"], parts["motor"]
    assert isinstance(door, Door) and isinstance(spool, Spool) and isinstance(motor, Motor)
    return door, spool, motor


def _program_runs(parts: Parts) -> bool:
    try:
        drive_constants(*_three(parts))
    except RangeError:
        return False
    return True


def _holds(parts: Parts, *names: str) -> bool:
    """Whether these verdicts hold; those that the parts do not have count as holding."""
    spans, _ = drive_spans(*_three(parts))
    margins: Mapping[str, Margin] = margins_of(*_three(parts))
    return all(verdict(name, margins[name], spans, "", "").state == "holds" for name in names if name in margins)


def _with(parts: Parts, section: str, **values: float) -> Parts:
    # The key counts as given, as it would in a configuration that has it.
    return {**parts, section: parts[section].model_copy(update=values)}


def _first(tries: Iterable[Parts], *names: str) -> Parts | None:
    return next((parts for parts in tries if _holds(parts, *names)), None)


def _plate(parts: Parts) -> Parts:
    """A heavier plate, in steps of 100 g, until it falls by itself and is not lifted from below."""
    names = ("falls by itself", "lifted from below")
    if _holds(parts, *names):
        return parts
    door = _three(parts)[0]
    steps = range(math.floor(door.plate_kg * 10) + 1, math.floor(door.plate_kg * 10 * MOST_PLATE_FACTOR) + 1)
    least = _least(steps, lambda step: _holds(_with(parts, "door", plate_kg=step / 10), *names))
    return parts if least is None else _with(parts, "door", plate_kg=least / 10)


def _least(steps: range, holds: Callable[[int], bool]) -> int | None:
    """The first step that holds, by halving: more of it never harms; None where the last does not."""
    if not steps or not holds(steps[-1]):
        return None
    low, high = 0, len(steps) - 1
    while low < high:
        middle = (low + high) // 2
        low, high = (low, middle) if holds(steps[middle]) else (middle + 1, high)
    return steps[low]


def _spool(parts: Parts) -> Parts:
    """A thinner core, by millimetres; else a slower gear, by twentieths of the present one; until the torque holds."""
    if _holds(parts, "torque"):
        return parts
    _, spool, motor = _three(parts)
    thinner = range(max(0, math.ceil(spool.core_diameter_mm) - int(LEAST_CORE_MM)))

    def core(step: int) -> Parts:
        return _with(parts, "spool", core_diameter_mm=float(math.ceil(spool.core_diameter_mm) - 1 - step))

    step = _least(thinner, lambda k: _holds(core(k), "torque"))
    if step is not None:
        return core(step)

    def gear(step: int) -> Parts:
        return _with(parts, "motor", rpm=round(motor.rpm * (19 - step) / 20, 1))

    slower = range(20 - int(LEAST_RPM_SHARE * 20))
    step = _least(slower, lambda k: _holds(gear(k), "torque"))
    return parts if step is None else gear(step)


def _times(parts: Parts) -> Parts:
    """The lowering cut-off, then the turns that its over-run asks, then the raising cut-off."""
    _, spool, motor = _three(parts)
    if not _holds(parts, "lowering cut-off"):
        start = _needed_s(parts, "down_cold_s")
        steps = range(min(start, MOST_CUTOFF_S), MOST_CUTOFF_S + 1)
        step = _least(steps, lambda k: _holds(_with(parts, "motor", cutoff_down_s=k), "lowering cut-off"))
        parts = parts if step is None else _with(parts, "motor", cutoff_down_s=step)
    if not _holds(parts, "turns on the spool"):
        halves = range(math.floor(spool.turns_left_when_down / TURN_STEP) + 1, int(MOST_TURNS / TURN_STEP) + 1)

        def turns(step: int) -> Parts:
            return _with(parts, "spool", turns_left_when_down=step * TURN_STEP)

        step = _least(halves, lambda k: _holds(turns(k), "turns on the spool"))
        parts = parts if step is None else turns(step)
    names = ("raising cut-off", "slack taken in")
    if not _holds(parts, *names):
        steps = range(motor.cutoff_up_s, MOST_CUTOFF_S + 1)
        step = _least(steps, lambda k: _holds(_with(parts, "motor", cutoff_up_s=k), *names))
        parts = parts if step is None else _with(parts, "motor", cutoff_up_s=step)
    return parts


def _needed_s(parts: Parts, name: str) -> int:
    spans, _ = drive_spans(*_three(parts))
    return max(1, math.ceil(propagated(results_of, spans)[name].high))


def _cord(parts: Parts) -> Parts:
    """A stronger cord, where one is described, in steps of 10 N."""
    if _holds(parts, "cord"):
        return parts
    breaking_n = _three(parts)[1].cord_breaking_n or 0.0
    steps = range(math.floor(breaking_n / CORD_STEP_N) + 1, 2000)
    step = _least(steps, lambda k: _holds(_with(parts, "spool", cord_breaking_n=k * CORD_STEP_N), "cord"))
    return parts if step is None else _with(parts, "spool", cord_breaking_n=step * CORD_STEP_N)


def _fuse(parts: Parts) -> Parts:
    """A rating of the preferred series that carries the move, opens at stall and guards the cable."""
    names = ("fuse holds", "fuse opens at stall", "fuse guards the cable")
    if _holds(parts, *names):
        return parts
    return _first((_with(parts, "motor", fuse_a=rating) for rating in FUSE_RATINGS_A), *names) or parts
