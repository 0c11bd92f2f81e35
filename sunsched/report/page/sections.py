"""Sections that every page has: place and rules, what to do about each warning, the chip's settings."""

from __future__ import annotations

from sunsched.base.civil_time import WEEKDAYS, clock_text
from sunsched.hardware.clock_reach import drift_s_per_day, reach_days
from sunsched.hardware.light_cell import threshold_counts
from sunsched.hardware.parts import ClockSource, LightCell
from sunsched.plan.moments import moment_words
from sunsched.plan.rules import MOMENT_KEYS, MomentRule, Rules, WeekdayLater, WeekdayLimits
from sunsched.plan.year import YearPlan
from sunsched.report.page.html import Markup, apart, bullets, element, facts, grid, joined, scrolled


def asked(plan: YearPlan, rules: Rules, cell: LightCell) -> Markup:
    """Place and rules as a list for a keeper to check."""
    site = plan.site
    place = f"{_degrees(site.latitude_deg, 'N', 'S')}, {_degrees(site.longitude_deg, 'E', 'W')}"
    held = f"{cell.confirm_s}\u00a0s"
    pairs: list[tuple[object, object]] = [
        ("Site", Markup(apart(site.name))),
        ("Place", place),
        ("Zone", f"{site.zone}, tzdata {plan.tzdata}"),
        ("The chip's clock", _clock(plan)),
        ("Light cell", f"dark below {cell.dark_lux:g} lux, light above {cell.light_lux:g} lux, for {held}"),
    ]
    if site.skyline or site.height_above_horizon_m:
        horizon = [f"{len(site.skyline)} points of skyline"] if site.skyline else []
        horizon += [f"{site.height_above_horizon_m:g} m above the horizon"] if site.height_above_horizon_m else []
        pairs.append(("Horizon (moves sunrise and sunset, never twilight)", ", ".join(horizon)))
    parts = []
    for side, rule in (("Morning", rules.morning), ("Evening", rules.evening)):
        parts.append((side, _rule(rule)))
    if rules.season:
        parts.append(("Seasons", bullets(_seasons(rules))))
    if rules.kept_in:
        kept = (joined((f"{k.from_} to {k.to}: ", Markup(apart(k.why)))) for k in rules.kept_in)
        parts.append(("Kept in: the door stays down", bullets(kept)))
    rule_parts = (element("div", element("h3", head), inside, class_="keep") for head, inside in parts)
    return joined((facts(pairs), element("div", *rule_parts, class_="rules")))


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
    words += [f"planned {name} {clock_text(minute)} civil time" for minute, name in limits if minute is not None]
    own = ((rule.weekday_not_before, "not before"), (rule.weekday_not_after, "not after"))
    words += [
        f"planned {name} on {_limits_words(by_day)} civil time, in place of that" for by_day, name in own if by_day
    ]
    if rule.cell_from_min or rule.cell_until_min:
        window = f"by light from {rule.cell_from_min:+d} to {rule.cell_until_min:+d} min around the planned minute"
        words.append(f"{window}, also beyond a limit: limits bind the planned minute" if rule.has_limits else window)
    else:
        words.append("by the clock alone: the light cell may not act")
    return words


def _limits_words(limits: WeekdayLimits) -> str:
    """Each weekday that has a limit of its own, with it."""
    own = [(day, getattr(limits, day)) for day in WEEKDAYS]
    return ", ".join(f"{day} {clock_text(minute)}" for day, minute in own if minute is not None)


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
            merged = patch.on(getattr(rules, side))
            words = dict.fromkeys(
                _replaced(key, merged) for key in MomentRule.model_fields if key in patch.model_fields_set
            )
            changed += [f"{side}: {', '.join(words)}"] if words else []
        found.append(joined((Markup(apart(season.name)), dates, "; ".join(changed) or "nothing replaced")))
    return found


def _replaced(key: str, rule: MomentRule) -> str:
    """One key that a season replaces, as a phrase; `rule` is what holds in the season."""
    value = getattr(rule, key)
    name = key.replace("_", " ")
    if key in MOMENT_KEYS:
        return moment_words(rule)
    if key == "no_twilight":
        return f"if the Sun never gets there: {', then '.join(rule.no_twilight)}"
    if key == "later_min":
        return _shift(value) if value else "no minutes later or earlier"
    if key in ("not_before", "not_after"):
        return f"planned {name} {clock_text(value)}" if isinstance(value, int) else f"no {name}"
    if isinstance(value, WeekdayLimits):
        own = _limits_words(value)
        limit = name.removeprefix("weekday ")
        return f"planned {limit} on {own}" if own else f"no {limit} of a weekday's own"
    if isinstance(value, WeekdayLater):
        shifts = zip(WEEKDAYS, value.minutes(), strict=True)
        return ", ".join(f"{day} {_shift(minutes)}" for day, minutes in shifts if minutes) or "all weekdays alike"
    if key == "fallback_lux":
        return f"the light that stands in: {rule.fallback_lux:g} lux"
    if rule.cell_from_min or rule.cell_until_min:
        return f"by light from {rule.cell_from_min:+d} to {rule.cell_until_min:+d} min around the planned minute"
    return "by the clock alone"


def _month_day(month_day: int) -> str:
    return f"{month_day // 100:02d}-{month_day % 100:02d}"


CLOCK_BUDGET_MIN = 2  # how far a clock may drift before it is set again: common practice


def chip_section(plan: YearPlan, cell: LightCell, clock: ClockSource, rules: Rules) -> Markup:
    """Clock, cell and windows."""
    keeps = "civil time" if plan.chip.keeps == "civil" else f"UTC{plan.chip_offset_min / 60:+g} h all year"
    pairs: list[tuple[object, object]] = [("Board", plan.chip.board), ("Chip's clock", keeps), ("Clock", _drift(clock))]
    for side, rule in (("morning", rules.morning), ("evening", rules.evening)):
        window = f"{rule.cell_from_min:+d} to {rule.cell_until_min:+d} min"
        pairs.append((f"Cell may act, {side}", window if rule.cell_from_min or rule.cell_until_min else "never"))
    return joined((facts(pairs), element("h3", "Light cell"), _cell(cell)))


def _drift(clock: ClockSource) -> str:
    if clock.source == "none":
        return "none: the light cell alone keeps the day"
    days = reach_days(CLOCK_BUDGET_MIN, clock.drift_ppm)
    reach = "never drifts that far" if days is None else f"set every {days} days it stays within {CLOCK_BUDGET_MIN} min"
    return f"{clock.source}, {clock.drift_ppm:g} ppm = {drift_s_per_day(clock.drift_ppm):.2f} s a day; {reach}"


def _cell(cell: LightCell) -> Markup:
    levels = (("dark", cell.dark_lux), ("light", cell.light_lux))
    if cell.kind == "lux":
        return facts([(f"{name.capitalize()} threshold", f"{lux:g} lux") for name, lux in levels])
    rows = []
    for name, lux in levels:
        found = threshold_counts(lux, cell.r10_ohm, cell.gamma, cell.fixed_ohm, cell.adc_steps, cell.spread)
        reach = f"{found.lux_low:.3g} to {found.lux_high:.3g}"
        spread = f"{found.counts_low} to {found.counts_high}"
        rows.append((name, f"{lux:g}", str(found.counts), spread, reach, f"{found.counts_per_efold:.0f}"))
    middle = ("lux at the cell", "ADC counts", "same light, other cells", "same counts, lux")
    table = grid("Thresholds as counts", ("threshold", *middle, "counts per e-fold"), rows)
    words = (
        f"A cell within its tolerance may see up to {cell.spread:g} times more or less light than the stated one "
        f"({cell.r10_ohm / 1000:g} kΩ at 10 lux, gamma {cell.gamma:g}, fixed resistor {cell.fixed_ohm / 1000:g} kΩ): "
        "calibrate it in its place."
    )
    return joined((scrolled("Thresholds as counts", table), element("p", words)))
