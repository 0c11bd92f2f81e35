"""What a comparison depends on: each assumption moved to the ends of its range, one at a time, then the worst pair.

All of it on the same weather years (common random numbers), evenings only, with fewer settings than the comparison.
What counts is by how much a matched difference shifts against the same years at the stated values; that shift is added
to the comparison's own difference, which many more years know better.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import asdict, dataclass
from itertools import combinations
from typing import Any

import numpy as np

from sunsched.hardware.figures import Assumption, number
from sunsched.study.block import SameNights, draw_block, judged_evenings, weather_rng
from sunsched.study.limits_of_mean import error_of_years
from sunsched.study.settings import IN_WORDS, STRATEGIES, Setting, Strategy
from sunsched.study.stage import Stage
from sunsched.study.tally import (
    CANNOT_TELL,
    OPEN_MINUTES,
    Difference,
    Sums,
    evening_birds,
    matched,
    matched_difference,
    means,
)
from sunsched.study.weather import Floats

YEARS = 16
SEED_STEP = 1_000_003  # other weather than the comparison's own: its years are not looked at twice
KEPT_LUX_FACTORS = (0.3, 0.7, 1.0, 1.7, 2.5)
KEPT_STEPS = 4  # clock angles on either side of the configuration's own
Name = tuple[int, Strategy, Strategy]  # share of followers by number; birds of the one less those of the other


@dataclass(frozen=True)
class Moved:
    """A verdict with one assumption, or two, at an end of the range.

    keys, values   what was moved, and to where
    turns_at   the value of a single key at which the difference passes 0, by a straight line; None where it does not
    """

    keys: tuple[str, ...]
    values: tuple[float, ...]
    birds_out: float
    error: float
    turns_at: float | None

    @property
    def significant(self) -> bool:
        """The sampling error does not hide the sign."""
        return Difference(self.birds_out, self.error).significant

    def plain(self) -> dict[str, Any]:
        """Plain values, for JSON."""
        return {**asdict(self), "keys": list(self.keys), "values": list(self.values)}


@dataclass(frozen=True)
class Verdict:
    """One strategy's birds out a year less another's at the configuration's own minutes, and what moves it.

    turned_by   ends at which the other strategy is the better one, beyond the sampling error
    hidden_by   ends at which the difference is within the sampling error
    worst_pair  the two assumptions that work most against it, together
    """

    follow_light: float
    of: Strategy
    less: Strategy
    birds_out: float
    error: float
    significant: bool
    turned_by: tuple[Moved, ...]
    hidden_by: tuple[Moved, ...]
    worst_pair: Moved | None

    @property
    def words(self) -> str:
        """Which has fewer birds out, and by how many."""
        if not self.significant:
            return CANNOT_TELL
        better, worse = (self.less, self.of) if self.birds_out > 0 else (self.of, self.less)
        return f"{IN_WORDS[better]} has {number(abs(self.birds_out))} fewer out than {IN_WORDS[worse]}"

    @property
    def firm(self) -> bool:
        """Significant, and no assumption by itself, nor the worst pair, turns or hides it."""
        pair = self.worst_pair
        holds = pair is None or (pair.significant and pair.birds_out * self.birds_out > 0)
        return self.significant and not self.turned_by and not self.hidden_by and holds

    def plain(self) -> dict[str, Any]:
        """Plain values, for JSON."""
        moves = {
            "turned_by": [m.plain() for m in self.turned_by],
            "hidden_by": [m.plain() for m in self.hidden_by],
            "worst_pair": None if self.worst_pair is None else self.worst_pair.plain(),
        }
        # The JSON's key is `told`, for programs that read it.
        fields = {"told" if name == "significant" else name: value for name, value in asdict(self).items()}
        return {**fields, **moves, "words": self.words, "firm": self.firm}


@dataclass(frozen=True)
class Sensitivity:
    """The verdicts with what they depend on, and the assumptions that were moved."""

    n_years: int
    assumptions: tuple[Assumption, ...]
    verdicts: tuple[Verdict, ...]

    def plain(self) -> dict[str, Any]:
        """Plain values, for JSON."""
        return {
            "weather_years": self.n_years,
            "assumptions": [one.plain() for one in self.assumptions],
            "verdicts": [one.plain() for one in self.verdicts],
        }


@dataclass(frozen=True)
class _Gap:
    """A matched difference and its fluctuation year by year (n_years,)."""

    mean: float
    by_year: Floats


def kept_settings(settings: tuple[Setting, ...]) -> tuple[Setting, ...]:
    """The settings that carry each strategy's curve near the configuration's own."""
    own_lux = next(s.dark_lux for s in settings if s.role == "own")
    clocks = [s for s in settings if s.strategy == "clock" and s.on_curve]
    order = sorted(clocks, key=lambda s: float(np.nanmean(s.close_min)))
    place = next(n for n, s in enumerate(order) if s.role == "own")
    near = order[max(place - KEPT_STEPS, 0) : place + KEPT_STEPS + 1]
    return tuple(
        s
        for s in settings
        if s.on_curve
        and (
            any(s is one for one in near)
            if s.strategy == "clock"
            else any(abs(s.dark_lux / own_lux / factor - 1) < 0.45 for factor in KEPT_LUX_FACTORS)
        )
    )


def sensitivity(
    stage_with: Callable[[Mapping[str, float]], Stage],
    assumptions: tuple[Assumption, ...],
    own_strategy: Strategy,
    main: Mapping[Name, Difference],
    seed: int,
    n_years: int = YEARS,
) -> Sensitivity:
    """Move every assumption; `stage_with` gives the stage with some keys at other values, on the same minutes held.

    main   the comparison's own differences, for the pairs of strategies that reach the own minutes
    """
    same = SameNights()
    stated = _gaps(stage_with({}), own_strategy, seed, n_years, same)
    ends = [(one.key, end) for one in assumptions for end in (one.span.low, one.span.high) if end != one.span.value]
    moved = {(key, end): _gaps(stage_with({key: end}), own_strategy, seed, n_years, same) for key, end in ends}
    pairs: dict[tuple[tuple[str, float], ...], dict[Name, _Gap]] = {}
    value_of = {one.key: one.span.value for one in assumptions}
    follow_light = stage_with({}).follow_light
    verdicts = []
    for name, difference in main.items():
        if name not in stated:
            continue
        found = [
            _moved({key: end}, value_of, difference, stated[name], gaps[name])
            for (key, end), gaps in moved.items()
            if name in gaps
        ]
        worst = _worst_two(found, difference) if difference.significant else ()
        pair = None
        if worst:
            if worst not in pairs:
                pairs[worst] = _gaps(stage_with(dict(worst)), own_strategy, seed, n_years, same)
            if name in pairs[worst]:
                pair = _moved(dict(worst), value_of, difference, stated[name], pairs[worst][name])
        turned = [m for m in found if difference.significant and m.significant and m.birds_out * difference.mean < 0]
        hidden = [m for m in found if difference.significant and not m.significant]
        follow, of, less = name
        verdicts.append(
            Verdict(
                follow_light=follow_light[follow],
                of=of,
                less=less,
                birds_out=difference.mean,
                error=difference.error,
                significant=difference.significant,
                turned_by=tuple(sorted(turned, key=lambda m: -abs(m.birds_out - difference.mean))),
                hidden_by=tuple(sorted(hidden, key=lambda m: -abs(m.birds_out - difference.mean))),
                worst_pair=pair,
            )
        )
    return Sensitivity(n_years, assumptions, tuple(verdicts))


def _moved(
    ends: Mapping[str, float], value_of: Mapping[str, float], main: Difference, stated: _Gap, gap: _Gap
) -> Moved:
    shift = gap.mean - stated.mean
    by_year = gap.by_year - stated.by_year
    error = float(np.hypot(main.error, error_of_years(by_year)))
    birds = main.mean + shift
    turns_at = None
    if len(ends) == 1 and main.mean * birds < 0:
        ((key, end),) = ends.items()
        turns_at = float(value_of[key] + (end - value_of[key]) * main.mean / (main.mean - birds))
    return Moved(tuple(ends), tuple(ends.values()), float(birds), error, turns_at)


def _worst_two(found: list[Moved], main: Difference) -> tuple[tuple[str, float], ...]:
    """The ends of two different keys that take most from the verdict; none where fewer than two take anything."""
    taken = sorted(
        (m for m in found if (m.birds_out - main.mean) * main.mean < 0), key=lambda m: m.birds_out * main.mean
    )
    ends: dict[str, float] = {}
    for m in taken:
        if m.keys[0] not in ends and len(ends) < 2:
            ends[m.keys[0]] = m.values[0]
    return tuple(sorted(ends.items())) if len(ends) == 2 else ()


def _gaps(
    stage: Stage, own_strategy: Strategy, seed: int, n_years: int, same: SameNights | None = None
) -> dict[Name, _Gap]:
    """Every matched difference of a stage on its years; `same` of stages that meet the same weather."""
    rng = weather_rng(seed + SEED_STEP, 0)
    block = judged_evenings(stage, *draw_block(stage, n_years, rng), rng, same)
    figures = evening_birds(block)
    flat = figures.reshape(n_years, len(stage.follow_light), -1)
    sums = Sums(n_years=n_years, birds=[figures], bird_sum=flat.sum(axis=0))
    own = next(n for n, s in enumerate(stage.settings) if s.strategy == own_strategy and s.role == "own")
    found: dict[Name, _Gap] = {}
    for follow in range(len(stage.follow_light)):
        minutes = float(means(sums, follow)[own, OPEN_MINUTES])
        at = matched(sums, stage.settings, follow, minutes, own=own)
        for of, less in combinations(STRATEGIES, 2):
            one, other = at[of], at[less]
            if one is not None and other is not None:
                by_year = flat[:, follow] @ (one.weights - other.weights)
                found[follow, of, less] = _Gap(one.figure - other.figure, by_year)
    return found


def differences_of(sums: Sums, settings: tuple[Setting, ...], own: int, n_follow: int) -> dict[Name, Difference]:
    """The comparison's own matched differences, for every pair that reaches the own minutes."""
    found = {}
    for follow in range(n_follow):
        minutes = float(means(sums, follow)[own, OPEN_MINUTES])
        at = matched(sums, settings, follow, minutes, own=own)
        for of, less in combinations(STRATEGIES, 2):
            one, other = at[of], at[less]
            if one is not None and other is not None:
                found[follow, of, less] = matched_difference(sums, follow, one, other)
    return found
