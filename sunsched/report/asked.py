"""What was asked, in words: place, clock, rules, seasons, kept-in dates."""

from __future__ import annotations

from sunsched.base.civil_time import WEEKDAYS, clock_text
from sunsched.hardware.parts import LightCell
from sunsched.plan.moments import moment_words
from sunsched.plan.rules import MomentRule, Rules
from sunsched.plan.year import YearPlan
from sunsched.report.html import Markup, bullets, element, facts, joined
from sunsched.report.plain import apart


def asked(plan: YearPlan, rules: Rules, cell: LightCell) -> Markup:
    """Place and rules as a list for a keeper to check against what was meant."""
    site = plan.site
    place = f"{_degrees(site.latitude_deg, 'N', 'S')}, {_degrees(site.longitude_deg, 'E', 'W')}"
    pairs: list[tuple[object, object]] = [
        ("Site", Markup(apart(site.name))),
        ("Place", place),
        ("Zone", f"{site.zone}, tzdata {plan.tzdata}"),
        ("The chip's clock", _clock(plan)),
        ("Light cell", f"dark below {cell.dark_lux:g} lux, light above {cell.light_lux:g} lux, for {cell.confirm_s} s"),
    ]
    if site.skyline or site.height_above_horizon_m:
        horizon = [f"{len(site.skyline)} points of skyline"] if site.skyline else []
        horizon += [f"{site.height_above_horizon_m:g} m above the horizon"] if site.height_above_horizon_m else []
        pairs.append(("Horizon (moves sunrise and sunset, never twilight)", ", ".join(horizon)))
    parts = [facts(pairs)]
    for side, rule in (("Morning", rules.morning), ("Evening", rules.evening)):
        parts += [element("h3", side), _rule(rule)]
    if rules.season:
        parts += [element("h3", "Seasons"), bullets(_seasons(rules))]
    if rules.kept_in:
        kept = (joined((f"{k.from_} to {k.to}: ", Markup(apart(k.why)))) for k in rules.kept_in)
        parts += [element("h3", "Kept in: the door stays down"), bullets(kept)]
    return joined(parts)


def _degrees(value: float, positive: str, negative: str) -> str:
    return f"{abs(value):.4f}° {positive if value >= 0 else negative}"


def _clock(plan: YearPlan) -> str:
    if plan.chip.keeps == "civil":
        return "civil time with its summer time"
    name = "UTC" if plan.chip.keeps == "utc" else "standard time"
    return f"{name}, UTC{plan.chip_offset_min / 60:+g} h all year, no summer time"


def rule_words(rule: MomentRule) -> list[str]:
    """A rule as short sentences, in the order in which its steps apply."""
    words = [f"when: {moment_words(rule)}"]
    words.append(f"if the Sun never gets there: {', then '.join(rule.no_twilight)} (light: {rule.fallback_lux:g} lux)")
    if rule.later_min:
        words.append(_shift(rule.later_min))
    shifts = zip(WEEKDAYS, rule.weekday_later_min.minutes(), strict=True)
    by_day = [f"{day} {_shift(minutes)}" for day, minutes in shifts if minutes]
    if by_day:
        words.append(", ".join(by_day))
    limits = ((rule.not_before, "not before"), (rule.not_after, "not after"))
    words += [f"{name} {clock_text(minute)} civil time" for minute, name in limits if minute is not None]
    if rule.cell_from_min or rule.cell_until_min:
        words.append(f"the light cell may act from {rule.cell_from_min:+d} to {rule.cell_until_min:+d} min")
    else:
        words.append("by the clock alone: the light cell may not act")
    return words


def _rule(rule: MomentRule) -> Markup:
    return bullets(rule_words(rule))


def _shift(minutes: int) -> str:
    return f"{abs(minutes)} min {'later' if minutes > 0 else 'earlier'}"


def _seasons(rules: Rules) -> list[Markup]:
    found = []
    for season in rules.season:
        dates = f" ({_month_day(season.from_)} to {_month_day(season.to)}): "
        changed = []
        for side, patch in (("morning", season.morning), ("evening", season.evening)):
            for key in sorted(patch.model_fields_set):
                changed.append(f"{side} {key.replace('_', ' ')} {_value(key, getattr(patch, key))}")
        found.append(joined((Markup(apart(season.name)), dates, ", ".join(changed) or "nothing replaced")))
    return found


def _value(key: str, value: object) -> str:
    if key in ("not_before", "not_after") and isinstance(value, int):
        return clock_text(value)
    if isinstance(value, tuple):
        return ", ".join(str(part) for part in value)
    if key == "weekday_later_min":
        minutes = value.minutes() if hasattr(value, "minutes") else ()
        return ", ".join(f"{day} {shift:+d}" for day, shift in zip(WEEKDAYS, minutes, strict=False) if shift)
    return f"{value:g}" if isinstance(value, float) else str(value)


def _month_day(month_day: int) -> str:
    return f"{month_day // 100:02d}-{month_day % 100:02d}"
