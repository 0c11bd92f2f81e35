"""All of the battery's figures and verdicts for one place and panel, over many winters, and their words."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from sunsched.base import cautions
from sunsched.base.civil_time import MONTH_NAMES
from sunsched.base.rounding import rounded
from sunsched.hardware.battery import Winters, battery_results, chance_with_limits, cold_of
from sunsched.hardware.battery_case import OF_THE_SKY, Case, Place, Weather
from sunsched.hardware.figures import (
    Assumption,
    Figure,
    Inputs,
    Moves,
    Number,
    Span,
    Verdict,
    drawn,
    ends_of,
    judged,
    propagated,
    turning_at_once,
    verdict,
)
from sunsched.hardware.model import MODEL, Model
from sunsched.hardware.parts import Battery
from sunsched.hardware.solar_input import month_of_row

I_T = "I t"
# group, name, label, unit, formula and source
ROWS: tuple[tuple[str, str, str, str, str], ...] = (
    ("used each day", "moves_ah", "one raising and one lowering", "Ah", "sum of I t"),
    ("used each day", "board_ah", "board, asleep and awake", "Ah", I_T),
    ("used each day", "sensor_ah", "light cell", "Ah", I_T),
    ("used each day", "driver_ah", "motor driver at rest", "Ah", I_T),
    ("used each day", "controller_ah", "charge controller", "Ah", I_T),
    ("used each day", "self_discharge_ah", "self-discharge, full battery", "Ah", "3 %/month AGM at 20 C: Victron"),
    ("used each day", "used_ah", "together", "Ah", "sum"),
    ("without Sun", "cold_share", "share of capacity left by the cold", "", "typical datasheet, from memory"),
    ("without Sun", "usable_ah", "charge down to the depth limit", "Ah", "capacity x usable share x cold"),
    ("without Sun", "autonomy_days", "days to the depth limit", "days", "charge / use"),
    ("without Sun", "flat_after_days", "days until the door stops", "days", "capacity x cold / use"),
    ("worst month", "irradiation_kwh", "Sun on the panel", "kWh/m2/day", "H0 K, Erbs 1982, Liu & Jordan 1962"),
    ("worst month", "gain_ah", "charge from the panel", "Ah/day", "W x kWh/m2 x yield / V"),
    ("worst month", "gain_over_use", "charge gained over charge used", "", "1.3 to 1.4 asked: IEEE 1562, from memory"),
)


CHANGES_HELP = "sunsched battery advises sizes that hold together; its --all shows what each change does."
NO_CHANGE_HELPS = (
    "No change by itself helps: several together may, as sunsched battery advises, or a charged spare battery or "
    "another supply for the dark weeks."
)


def battery_figures(results: Mapping[str, Span]) -> tuple[Figure, ...]:
    """The results in reading order with their names and formulas; those without a result are left out."""
    return tuple(Figure(group, name, label, results[name], unit, how) for group, name, label, unit, how in ROWS)


def at_disconnect(results: Mapping[str, Span]) -> tuple[str, ...]:
    """What the door does as the battery runs down; the keeper has to decide it beforehand."""
    lowering_mah = 1000.0 * results["moves_ah"].high
    return (
        "Battery low (about 11.8 V at rest): an alarm only; both moves go on.",
        "Nearly out (about 11.3 V, or the supply sags below the motor's least voltage): the door is lowered at its "
        f"planned time as usual, with gravity's help. It is not raised unless one more lowering, at most "
        f"{lowering_mah:.1f} mAh, is left; after one day shut it opens.",
        "Cut off: no motor, no clock, no alarm. The door stays as it is. Cut off by day, it stays open all night; cut "
        "off by night, it stays shut, and birds locked in need water and air.",
        "A clock with its own cell keeps the time through it; without one the chip starts again without the time.",
        "Settle it now: keep a charged spare, let the controller's alarm reach you, and leave water inside.",
    )


def autonomy_texts(days: Span, asked: float) -> tuple[str, str, str]:
    """Good and bad text for the days without Sun, and what to do."""
    stated = f"{days.value:.1f} days ({days.low:.1f} .. {days.high:.1f}) without Sun before the depth limit"
    return (
        f"{stated}; {asked:.0f} are asked.",
        f"{stated}, {asked:.0f} are asked: a dull week may end it.",
        "A board that sleeps deeper often helps more than a greater battery.",
    )


def worst_month_texts(month: str, ratio: Span, asked: float) -> tuple[str, str, str]:
    """Good and bad text for the month with least gain, and what to do."""
    stated = f"in {month} the panel gives {ratio.value:.1f} ({ratio.low:.1f} .. {ratio.high:.1f}) times what is used"
    return (
        f"{stated}; {asked:.1f} is asked.",
        f"{stated}, {asked:.1f} is asked: the battery may run down through the month.",
        "Use less, turn or tilt the panel better, or fit a greater one.",
    )


def winter_verdict(
    name: str, state: str, turning: tuple[str, ...], counts: tuple[int, int, int], fewest: int
) -> Verdict:
    """The verdict on many winters: `counts` are hits at the stated inputs, hits with inputs drawn, winters.

    `fewest` are the hits that the best of the changes leaves.
    """
    stated, drawn, n_years = counts
    happens = "the depth limit is passed" if name == "depth limit" else "the battery is flat and the door stops"
    text = (
        f"{happens} in {stated} of {n_years} winters with the inputs as stated, and in {drawn} of {n_years} with the "
        "inputs drawn from their ranges."
    )
    if state == "holds":
        return Verdict(name, state, turning, text)
    to_do = CHANGES_HELP if fewest < stated or not stated else NO_CHANGE_HELPS
    return Verdict(name, state, turning, f"{text} {to_do}", to_do=to_do)


Array = NDArray[np.float64]

AUTONOMY_ASKED_DAYS = Span(5.0, 5.0, 7.0)  # remote sites 5-10 days, high reliability 7-14: IEEE 1013, from memory
GAIN_ASKED = Span(1.3, 1.1, 1.4)  # array-to-load ratio 1.1-1.2, critical 1.3-1.4: IEEE 1562, from memory
WINTERS_SPARED = 0.05  # one flat winter in twenty: judged, no source
DRAW_SEED = 20
VERDICTS = ("depth limit", "flat battery", "days without Sun", "worst month")


@dataclass(frozen=True)
class Change:
    """What one change would do, the rest staying as it is."""

    settings: Mapping[str, float]
    autonomy_days: float
    gain_over_use: float
    n_over_limit: int
    n_flat: int


@dataclass(frozen=True)
class BatterySums:
    """Everything `battery` shows.

    stated, drawn    winters with the inputs as stated, and drawn from their ranges
    limit_held_ah, flat_held_ah   charge held at the depth limit and at a flat battery in that day's cold, (n_days,)
    """

    figures: tuple[Figure, ...]
    verdicts: tuple[Verdict, ...]
    assumptions: tuple[Assumption, ...]
    used_ah: Mapping[str, float]
    worst_month: str
    start_row: int
    limit_held_ah: Array
    flat_held_ah: Array
    stated: Winters
    drawn: Winters
    changes: tuple[Change, ...]
    at_disconnect: tuple[str, ...]
    cautions: tuple[str, ...]

    def figure(self, name: str) -> Span:
        """The value and range of the figure called `name`."""
        return next(figure.span for figure in self.figures if figure.name == name)

    @property
    def typical(self) -> int:
        """The median weather year by its least charge."""
        return int(np.argsort(self.stated.outcome.lowest_ah, kind="stable")[self.stated.n_years // 2])

    @property
    def worst(self) -> int:
        """The weather year with the least charge of all."""
        return int(np.argmin(self.stated.outcome.lowest_ah))

    def chance(self, n_hits: int) -> tuple[float, float, float]:
        """Chance per winter with its 95 % limits."""
        return chance_with_limits(n_hits, self.stated.n_years)


def battery_sums(
    battery: Battery, moves_ah_per_day: Span, where: Place, weather: Weather, model: Model = MODEL
) -> BatterySums:
    """Figures, verdicts and winters of a battery, and what changes would do.

    moves_ah_per_day   charge of one raising and one lowering [Ah], from the drive's sums
    Raises RangeError where a clearness is outside 0 to 0.85.
    """
    case = Case.of(battery, moves_ah_per_day, where, weather, model)
    results = propagated(case.results, case.spans, at_once=True)
    tries = _tries(battery, where.latitude_deg)
    others = [case.changed(settings, moves_ah_per_day, where, model) for settings in tries]
    winters = _many_winters(case)
    states = _winter_states(case, *winters, others)
    cold = cold_of(case.values, weather.warmer_c)
    month = MONTH_NAMES[int(month_of_row(weather.clearness.shape[1])[case.month_rows.argmax()])]
    changes = tuple(_change(settings, other) for settings, other in zip(tries, others, strict=True))
    used = {name: results[name].value for name in ("moves_ah", "board_ah", "sensor_ah", "driver_ah", "controller_ah")}
    return BatterySums(
        figures=battery_figures(results),
        verdicts=(
            *_winter_verdicts(case, states, *winters, changes[1:]),
            *_verdicts(case, results, month),
        ),
        assumptions=case.assumptions,
        used_ah=used,
        worst_month=month,
        start_row=case.start_row,
        limit_held_ah=battery.capacity_ah * (1.0 - battery.usable_share * cold),
        flat_held_ah=battery.capacity_ah * (1.0 - cold),
        stated=winters[0],
        drawn=winters[1],
        changes=changes,
        at_disconnect=at_disconnect(results),
        cautions=cautions.BATTERY,
    )


def open_verdicts(
    battery: Battery,
    moves_ah_per_day: Span,
    where: Place,
    weather: Weather,
    model: Model = MODEL,
    names: tuple[str, ...] = VERDICTS,
) -> tuple[str, ...]:
    """Those of `names` whose verdict does not hold, without figures and changes; the winters take longest."""
    case = Case.of(battery, moves_ah_per_day, where, weather, model)
    states: dict[str, str] = {}
    if set(names) & set(VERDICTS[:2]):
        states |= {one.name: one.state for one in _winter_states(case, *_many_winters(case))}
    asked = _asked(case)
    states |= {name: judged(margin, asked, at_once=True)[0] for name, margin in _margins(case).items() if name in names}
    return tuple(name for name, state in states.items() if state != "holds" and name in names)


def _asked(case: Case) -> dict[str, Span]:
    return {**case.spans, "autonomy asked": AUTONOMY_ASKED_DAYS, "gain asked": GAIN_ASKED}


def _margins(case: Case) -> dict[str, Callable[[Inputs], Number]]:
    return {
        "days without Sun": lambda x: battery_results(x)["autonomy_days"] - x["autonomy asked"],
        "worst month": lambda x: case.results(x)["gain_over_use"] - x["gain asked"],
    }


def _verdicts(case: Case, results: Mapping[str, Span], month: str) -> tuple[Verdict, ...]:
    days, gain = results["autonomy_days"], results["gain_over_use"]
    texts = {
        "days without Sun": autonomy_texts(days, AUTONOMY_ASKED_DAYS.value),
        "worst month": worst_month_texts(month, gain, GAIN_ASKED.value),
    }
    asked = _asked(case)
    return tuple(verdict(name, margin, asked, *texts[name], at_once=True) for name, margin in _margins(case).items())


def _hits(winters: Winters) -> tuple[int, int]:
    return winters.n_over_limit, winters.n_flat


def _many_winters(case: Case) -> tuple[Winters, Winters]:
    """The winters with the inputs as stated, and drawn from their ranges."""
    return case.stated, case.winters(drawn(case.spans, case.stated.n_years, DRAW_SEED))


class _State(NamedTuple):
    """A verdict on the winters: name, state, and each input that turns it by itself with the nearer end that does."""

    name: str
    state: str
    turning: dict[str, float]


def _winter_states(case: Case, stated: Winters, with_ranges: Winters, beside: Sequence[Case] = ()) -> list[_State]:
    """Both verdicts on the winters. They hold where at most one winter in twenty is lost, by the upper 95 % limit, with
    the inputs drawn.

    beside   cases whose winters, as stated, are followed together with these
    """
    n_years, limit = stated.n_years, WINTERS_SPARED * stated.n_years
    moved = ends_of(case.spans)
    fails = [hits > limit for hits in case.hits]
    # An end can turn a verdict that fails only if it may spare winters, and one that holds only if it may cost some.
    better, worse = case.beside_stated(moved)
    may_turn = (~worse & any(fails)) | (~better & (not all(fails)))
    asked = [move for move, may in zip(moved, may_turn, strict=True) if may]
    hits = case.hits_at(asked, beside)
    found = []
    for which, name in enumerate(VERDICTS[:2]):
        turning: dict[str, float] = {}
        for (key, end), its in zip(asked, hits, strict=True):
            value = case.values[key]
            if (its[which] > limit) is not fails[which] and abs(end - value) < abs(turning.get(key, np.inf) - value):
                turning[key] = end
        drawn_limit = chance_with_limits(_hits(with_ranges)[which], n_years)[2]
        certain = not turning and (fails[which] or drawn_limit <= WINTERS_SPARED)
        found.append(_State(name, ("fails" if fails[which] else "holds") if certain else "in doubt", turning))
    return found


def _winter_verdicts(
    case: Case, states: list[_State], stated: Winters, with_ranges: Winters, changes: tuple[Change, ...]
) -> list[Verdict]:
    return [
        _winter_verdict(case, one, which, (_hits(stated)[which], _hits(with_ranges)[which], stated.n_years), changes)
        for which, one in enumerate(states)
    ]


def _winter_verdict(
    case: Case, found: _State, which: int, counts: tuple[int, int, int], changes: tuple[Change, ...]
) -> Verdict:
    limit = WINTERS_SPARED * counts[2]

    def spared(moved: Moves) -> list[bool]:
        return [hits[which] <= limit for hits in case.hits_at(moved)]

    # Each value of an input of the sky has a light of its own: no more of them are worked out than are needed.
    at: dict[str, float] = {}
    for of_sky, at_once in ((False, 2), (True, 1)):
        ends = {key: end for key, end in found.turning.items() if (key in OF_THE_SKY) is of_sky}
        if ends:
            at |= turning_at_once(spared, case.spans, ends, counts[0] <= limit, at_once)
    fewest = min(((change.n_over_limit, change.n_flat)[which] for change in changes), default=counts[0])
    said = winter_verdict(found.name, found.state, tuple(found.turning), counts, fewest)
    return replace(said, turns_at=tuple((key, at[key]) for key in found.turning))


def _tries(battery: Battery, latitude_deg: float) -> list[dict[str, float]]:
    """What is changed: nothing first, then one setting at a time."""
    toward_equator = 180.0 if latitude_deg >= 0 else 0.0
    tries: list[dict[str, float]] = [{}]
    tries += [{"panel_tilt_deg": tilt} for tilt in (45.0, 60.0, 75.0, 90.0) if tilt != battery.panel_tilt_deg]
    if battery.panel_azimuth_deg % 360.0 != toward_equator:
        tries.append({"panel_azimuth_deg": toward_equator})
    tries.append({"panel_w": 2.0 * battery.panel_w or 10.0})
    tries.append({"capacity_ah": 2.0 * battery.capacity_ah})
    tries += [{"sleep_ma": least} for least in (1.0, 0.1) if least < battery.sleep_ma]
    if battery.controller_ma > 1.0:
        tries.append({"controller_ma": 1.0})
    return tries


def _change(settings: Mapping[str, float], case: Case) -> Change:
    results, (n_over_limit, n_flat) = case.results(case.values), case.hits
    return Change(
        settings=settings,
        autonomy_days=rounded(float(results["autonomy_days"])),
        gain_over_use=rounded(float(results["gain_over_use"])),
        n_over_limit=n_over_limit,
        n_flat=n_flat,
    )
