"""The settings put beside the configuration's own: lux, angles and minutes around it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any

from sunsched.base.errors import ConfigError
from sunsched.hardware.parts import LightCell
from sunsched.plan.rules import TWILIGHT_DEPRESSION_DEG, MomentRule, Rules
from sunsched.plan.year import YearPlan
from sunsched.sky.daylight import depression_of_clear_sky_lux
from sunsched.study.scene import study_minutes
from sunsched.study.settings import Setting, Strategy

LUX_FACTORS = (0.2, 0.4, 0.6, 1.6, 2.4, 4.0, 6.0)
ANGLE_STEPS_DEG = (-3.0, -2.0, -1.0, -0.5, 0.5, 1.0, 2.0, 3.0, 4.0)
LOWEST_DEG, HIGHEST_DEG = -2.0, 14.0
USUAL_WINDOW = (-10, 15)  # simulated: the insurance costs little on healthy evenings and bounds the rest
OTHER_WINDOWS = ((-5, 10), (-20, 15), (-10, 30))
WIDE_MIN = 360  # a window this wide leaves the clock nothing to say
DEVICE_Z = 1.2816  # a tenth of the cells lie below, a tenth above
SUNRISE_DEPRESSION_DEG = 0.8333


@dataclass(frozen=True)
class Choices:
    """The settings to judge, which strategy the configuration is, and which angles no plan could be made for."""

    settings: tuple[Setting, ...]
    own_strategy: Strategy
    left_out: tuple[str, ...]

    def row(self, strategy: Strategy, role: str = "own") -> int:
        """Where the setting of a strategy with a role stands."""
        return next(n for n, s in enumerate(self.settings) if s.strategy == strategy and s.role == role)

    @property
    def own_row(self) -> int:
        """Where the configuration itself stands."""
        return self.row(self.own_strategy)


def own_choices(rules: Rules, cell: LightCell, plan: YearPlan) -> Choices:
    """The configuration's lux, window and plan as light alone, as clock alone and as both."""
    evening = (rules.evening.cell_from_min, rules.evening.cell_until_min)
    morning = (rules.morning.cell_from_min, rules.morning.cell_until_min)
    windows = (evening if any(evening) else USUAL_WINDOW), (morning if any(morning) else USUAL_WINDOW)
    minutes = study_minutes(plan, plan.close_min), study_minutes(plan, plan.open_min)
    lux = (cell.dark_lux, cell.light_lux)
    light = Setting("light", f"{cell.dark_lux:g} lux", *lux, *minutes, role="own")
    clock = Setting("clock", moment_words(rules.evening), *lux, *minutes, role="own")
    both = replace(light, strategy="both", label=both_words(cell.dark_lux, windows[0]))
    both = replace(both, evening_window=windows[0], morning_window=windows[1])
    return Choices((light, both, clock), _own_strategy(evening), ())


def choices(rules: Rules, cell: LightCell, plan: YearPlan, plan_of: Callable[[Rules], YearPlan]) -> Choices:
    """Settings around the configuration's own; `plan_of` makes the year's plan for other rules."""
    own = own_choices(rules, cell, plan)
    light, both, clock = own.settings
    ratio = cell.light_lux / cell.dark_lux
    found: list[Setting] = []
    for one in (light, both):
        found.append(one)
        found += [replace(one, role="device", on_curve=False, cell_z=z) for z in (-DEVICE_Z, 0.0, DEVICE_Z)]
    for lux in (_round(cell.dark_lux * factor) for factor in LUX_FACTORS):
        other: dict[str, Any] = {"dark_lux": lux, "light_lux": lux * ratio, "role": "swept"}
        found.append(replace(light, label=f"{lux:g} lux", **other))
        found.append(replace(both, label=both_words(lux, both.evening_window), **other))
    for window in OTHER_WINDOWS:
        if window != both.evening_window:
            words = both_words(cell.dark_lux, window)
            wide = replace(both, label=words, evening_window=window, morning_window=window)
            found.append(replace(wide, role="swept", on_curve=False))
    others, left_out = _other_angles(rules, cell, plan_of)
    return Choices((*found, clock, *others), own.own_strategy, left_out)


def both_words(lux: float, window: tuple[int, int]) -> str:
    """Lux and window in words: "5 lux, -10..+15 min"."""
    return f"{lux:g} lux, {window_words(window)}"


def window_words(window: tuple[int, int]) -> str:
    """A window in words: "-10..+15 min"."""
    return f"{window[0]:+d}..{window[1]:+d} min"


def moment_words(rule: MomentRule) -> str:
    """An evening's moment in words, as the configuration has it."""
    later = f" {rule.later_min:+d} min" if rule.later_min else ""
    return f"{depression_deg(rule):.1f} deg{later}"


def depression_deg(rule: MomentRule) -> float:
    """The depression that a rule's moment stands for [degrees]."""
    if rule.depression_deg is not None:
        return rule.depression_deg
    if rule.clear_sky_lux is not None:
        return depression_of_clear_sky_lux(rule.clear_sky_lux)
    return TWILIGHT_DEPRESSION_DEG.get(str(rule.twilight), SUNRISE_DEPRESSION_DEG)


def _own_strategy(evening: tuple[int, int]) -> Strategy:
    if not any(evening):
        return "clock"
    return "light" if evening[0] <= -WIDE_MIN and evening[1] >= WIDE_MIN else "both"


def _other_angles(
    rules: Rules, cell: LightCell, plan_of: Callable[[Rules], YearPlan]
) -> tuple[list[Setting], tuple[str, ...]]:
    found, left_out = [], []
    for step in ANGLE_STEPS_DEG:
        evening, morning = _at_angle(rules.evening, step), _at_angle(rules.morning, step)
        if evening is None:
            continue
        moved = rules.model_copy(update={"evening": evening, "morning": morning or rules.morning})
        label = moment_words(moved.evening)
        try:
            plan = plan_of(moved)
        except ConfigError as error:
            left_out.append(f"{label}: {error}")
            continue
        minutes = study_minutes(plan, plan.close_min), study_minutes(plan, plan.open_min)
        found.append(Setting("clock", label, cell.dark_lux, cell.light_lux, *minutes))
    return found, tuple(left_out)


def _at_angle(rule: MomentRule, step_deg: float) -> MomentRule | None:
    angle = round(depression_deg(rule) + step_deg, 2)
    if not LOWEST_DEG <= angle <= HIGHEST_DEG:
        return None
    return rule.model_copy(update={"twilight": None, "clear_sky_lux": None, "depression_deg": angle})


def _round(lux: float) -> float:
    return float(f"{lux:.2g}")
