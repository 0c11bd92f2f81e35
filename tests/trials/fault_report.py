"""The tables of the fault nights, as Markdown: what the door did, a healthy year's alarms, what each rule is worth."""

from __future__ import annotations

import dataclasses
from collections import Counter
from dataclasses import dataclass, field

import numpy as np

from sunsched.controller.door_settings import DoorSettings
from sunsched.controller.words import Alarm, alarm_words
from tests.trials.door_world import BIRDS
from tests.trials.fault_invariants import invariants_cell, invariants_line
from tests.trials.fault_nights import Fault, Verdict

FLOCK_NIGHT = BIRDS // 2  # so many out make a flock night
Cut = tuple[str, str, str]


def _mean(verdicts: list[Verdict], name: str, first: bool) -> float:
    nights = np.array([getattr(verdict, name) for verdict in verdicts], dtype=np.float64)
    return float(nights[:, 0].mean() if first else nights[:, 1:].mean())


def _night_cell(verdicts: list[Verdict], first: bool) -> str:
    out, dark, left = (_mean(verdicts, name, first) for name in ("out", "open_dark_min", "left_open"))
    text = f"{out:.1f} / {dark:.0f}"
    return f"{text} / **{left:.2f}**" if left > 0 else text


def _alarm_cell(verdicts: list[Verdict]) -> str:
    hours = np.array([verdict.alarm_after_h for verdict in verdicts])
    raised = hours[np.isfinite(hours)]
    if not len(raised):
        return "none"
    words = ", ".join(alarm_words(int(np.bitwise_or.reduce([verdict.alarms for verdict in verdicts]))))
    never = 100 * (1 - len(raised) / len(hours))
    tail = f"; {never:.0f} % never" if never > 0 else ""
    return f"{np.median(raised):.1f} ({raised.max():.1f}{tail}) {words}"


def _did_cell(verdicts: list[Verdict]) -> str:
    reason, _ = Counter(verdict.first_reason for verdict in verdicts).most_common(1)[0]
    after = [v.first_close_after_min for v in verdicts if v.first_reason == reason]
    return reason if np.isnan(after).any() else f"{reason} {np.median(after):+.0f}"


HEAD = (
    "| fault | night 1: out / min / left open | nights 2-7 | locked in, worst min | did, min after planned "
    "| alarm after h (worst) | invariants | most cord mm |",
    "|---|---|---|---|---|---|---|---|",
)


def fault_row(words: str, verdicts: list[Verdict]) -> str:
    """Birds out, minutes open in the dark, nights left open, what was done, alarms, invariants."""
    locked = max(int(verdict.locked_min.max()) for verdict in verdicts)
    cord = max(verdict.machine["most_cord_mm"] for verdict in verdicts)
    cells = [
        words, _night_cell(verdicts, True), _night_cell(verdicts, False), str(locked),
        _did_cell(verdicts), _alarm_cell(verdicts), invariants_cell([v.machine for v in verdicts]), f"{cord:.0f}",
    ]  # fmt: skip
    return "| " + " | ".join(cells) + " |"


def fault_table(faults: list[Fault], found: dict[str, list[Verdict]], beside: Endings | None = None) -> str:
    """One row a fault; with `beside` only those that end otherwise than there."""
    shown = [fault.words for fault in faults]
    if beside is not None:
        shown = [words for words in shown if ends_otherwise(ending(found[words]), beside[words])]
    lines = [*HEAD, *(fault_row(words, found[words]) for words in shown)]
    runs = [verdict.machine for verdicts in found.values() for verdict in verdicts]
    return "\n".join([*lines, "", last_in_line(found[faults[0].words]), invariants_line(runs)]) + "\n"


Ending = dict[str, float | str]
Endings = dict[str, Ending]


def ending(verdicts: list[Verdict]) -> Ending:
    """How a fault ends, in the figures that say whether it ends otherwise elsewhere."""
    found: Ending = {}
    for first in (True, False):
        for name in ("out", "open_dark_min", "left_open"):
            found[f"{name} {'first night' if first else 'later'}"] = _mean(verdicts, name, first)
    found["locked_min"] = max(int(verdict.locked_min.max()) for verdict in verdicts)
    found["alarmed"] = float(np.mean([np.isfinite(verdict.alarm_after_h) for verdict in verdicts]))
    found["invariants"] = invariants_cell([verdict.machine for verdict in verdicts])
    return found


# A fault ends otherwise when a mean differs by more than this: birds, minutes open, shares of nights and of alarms.
ROOM = {"out": 0.5, "open_dark_min": 30.0, "left_open": 0.0, "locked_min": 30.0, "alarmed": 0.0}


def ends_otherwise(one: Ending, other: Ending) -> bool:
    """Whether two endings of a fault differ by more than the weather does."""
    if one["invariants"] != other["invariants"]:
        return True
    figures = [name for name in one if name != "invariants"]
    return any(abs(float(one[name]) - float(other[name])) > ROOM[name.split()[0]] for name in figures)


def last_in_line(verdicts: list[Verdict]) -> str:
    """When the last bird of an evening goes in: the same evenings for every fault."""
    after = np.concatenate([verdict.last_in_after_min for verdict in verdicts])
    early, median, late = np.percentile(after, (5, 50, 95))
    return (
        f"Last bird in, minutes after the planned closing: median {median:+.0f}, one evening in twenty before "
        f"{early:+.0f}, one after {late:+.0f}, the latest {after.max():+d} ({len(after)} evenings)."
    )


@dataclass(frozen=True)
class HealthyYears:
    """Years without a fault at one place: one entry a night in the arrays, false alarms as starts of a bit a year."""

    name: str
    years: int
    out: np.ndarray[tuple[int, ...], np.dtype[np.float64]]
    dark_min: np.ndarray[tuple[int, ...], np.dtype[np.float64]]
    left_open: int
    late_openings: int
    false_alarms: dict[str, int]


def healthy_table(years: list[HealthyYears]) -> str:
    """Birds out, exposure and alarms of healthy years."""
    lines = [
        "| site | years | birds out a year | nights with 3 or more out a year "
        "| open in the dark, mean / p95 / worst min | nights left open | days opened over 15 min late a year "
        "| alarms a year |",
        "|---|---|---|---|---|---|---|---|",
    ]
    for site in years:
        alarms = ", ".join(f"{word} {count / site.years:.2f}" for word, count in site.false_alarms.items()) or "none"
        flock = float((site.out >= FLOCK_NIGHT).sum()) / site.years
        dark = f"{site.dark_min.mean():.0f} / {np.percentile(site.dark_min, 95):.0f} / {site.dark_min.max():.0f}"
        late = site.late_openings / site.years
        cells = [
            site.name, str(site.years), f"{site.out.sum() / site.years:.1f}", f"{flock:.2f}", dark,
            str(site.left_open), f"{late:.2f}", alarms,
        ]  # fmt: skip
        lines.append("| " + " | ".join(cells) + " |")
    return "\n".join(lines) + "\n"


def alarm_starts(alarms: np.ndarray[tuple[int, ...], np.dtype[np.uint16]]) -> dict[str, int]:
    """How often each alarm came on in a series of minutes."""
    found = {}
    for alarm in Alarm:
        on = (alarms & int(alarm)) != 0
        starts = int(np.count_nonzero(on[1:] & ~on[:-1]))
        if starts:
            found[alarm_words(int(alarm))[0]] = starts
    return found


@dataclass(frozen=True)
class Without:
    """A rule left out: the constants that disarm it, and the faults in which it should show.

    cut     where constants cannot: a file of the core, a text that stands in it once, and what stands there instead
    given   constants of both sides
    """

    rule: str
    changes: dict[str, int]
    faults: tuple[str, ...]
    cut: Cut | None = None
    given: dict[str, int] = field(default_factory=dict)

    def both(self, settings: DoorSettings) -> DoorSettings:
        """The constants of both sides."""
        return dataclasses.replace(settings, **self.given)

    def settings(self, settings: DoorSettings) -> DoorSettings:
        """The constants with the rule disarmed."""
        return dataclasses.replace(settings, **self.given, **self.changes)


NEVER = 65_000
PLUS_60, MINUS_60 = "clock set +60 min, insisted on", "clock set -60 min, insisted on"
LOST_IN_CUT = "clock lost in a 30 min power cut"
RULES_LEFT_OUT = (
    Without("T2 own count against the clock", {"step_min": 30_000}, ("clock jumps +60 min", "clock jumps -60 min")),
    Without("T3 question", {"question_min": 30_000}, ("cell open (reads 0) AND clock set +60 min, question left",)),
    Without("T5 own count without a clock", {"own_trust_min": 0}, ("clock lost", "cell open (reads 0) AND clock lost")),
    Without("C1 abrupt fall", {"fall_s": 0, "fast_s": 0}, ("cell open 40 min before closing", "cell open (reads 0)")),
    Without("C2 stale dark", {"stale_s": NEVER}, ("cell open from 01:00", "cell covered, 1/3000, at once")),
    Without(
        "C3 flat light", {"flat_min": NEVER, "flat_high_min": NEVER},
        (f"lamp 30 lux every evening AND {PLUS_60}", f"lamp 30 lux every evening AND {LOST_IN_CUT}"),
    ),
    Without(
        "C4 rail", {"rail_counts": 32_767},
        ("cell shorted (reads 1023)", f"cell shorted (reads 1023) AND {LOST_IN_CUT}"),
    ),
    Without("C5 age of proof", {"age_units": NEVER}, ("cell stuck at 300", "lamp 30 lux day and night")),
    Without("M learned shift", {"night_least_min": 2_000}, (PLUS_60, MINUS_60, "clock set +360 min, insisted on")),
    Without("M1 first night", {"shift_one_min": 30_000}, (PLUS_60, MINUS_60)),
    Without("M2 nights alike", {"shift_spread_min": -1}, ("clock set -20 min, insisted on", "clock loses 4 min a day")),
    Without("E2 early dusk", {"early_s": NEVER}, (MINUS_60, "date set +180 days, insisted on")),
    Without(
        "E6 held up", {"hold_counts": 32_767},
        (PLUS_60, "clock set +360 min, insisted on", "date set +180 days, insisted on"),
    ),
    Without("E6 hold by day", {"hold_day_min": 0}, ("clock set +360 min, insisted on", PLUS_60)),
    Without("D5 held down", {"morning_hold_min": 0}, (PLUS_60, "clock set +360 min, insisted on")),
    Without("A3 steady light", {"flat_min": 14_000}, (f"lamp 30 lux day and night AND {LOST_IN_CUT}",)),
    Without("A5 longest shut", {"longest_shut_min": NEVER}, (f"cell open (reads 0) AND {LOST_IN_CUT}",)),
    Without("G1 lowering budget", {"down_budget_s": 90}, ("lower switch never makes",)),
    Without("G2 tries", {"tries": 1}, ("bird in the doorway every other evening", "plate lifted and wedged at night")),
    Without("G4 still on the lower switch", {"leave_s": 60}, ("frozen to the sill for 45 min",)),
    Without(
        "G4 late tries", {"late_tries": 0},
        ("frozen to the sill for 45 min", "frozen to the sill for 150 min after opening"),
    ),
    Without("G7 time against a lying switch", {"down_soon_s": 0}, ("lower switch reads made from mid-lowering on",)),
    Without(
        "G9 a switch must hold", {"seat_s": 1},
        ("lower switch made for one sample in each run", "upper switch made for one sample in each raise"),
    ),
    Without(
        "G10 the place at rest", {"moved_s": 255},
        ("plate lifted and wedged at night", "upper switch made for one sample in each run"),
    ),
    Without(
        "A3 a lamp at night, however it flickers", {},
        (f"lamp of about 40 lux flickers day and night AND {LOST_IN_CUT}",),
        ("door_plan.c", "(door_night_by_time(d) && (d->flat || sight.counts < s->lamp_counts))", "0"),
    ),
    Without(
        "C4 at night where full Sun is at the rail", {}, (f"cell shorted (reads 1023) AND {LOST_IN_CUT}",),
        ("door_light.c", "if (!s->sun_at_rail) { return 1; }", "return (uint8_t)!s->sun_at_rail;"),
    ),
    Without("O2 a hand must hold", {"hand_hold_s": 1}, ("1 % of all seconds glitch, on each wire",)),
    Without(
        "G7 sooner than last time", {}, ("lower switch reads made from late in a lowering on",),
        ("door_motor.c", "if (d->paid_s + SOONER_S <= d->usual_down_s) {", "if (0) {"),
    ),
    Without(
        "G7 a lowering held up teaches nothing", {}, ("bird in the doorway every other evening",),
        ("door_motor.c", "if (d->usual_down_s == 0u || d->paid_s < d->usual_down_s + SOONER_S) {", "if (1) {"),
    ),
    Without(
        "G11 a driver stuck on", {}, ("driver stuck on lowering",),
        ("door_motor.c", "(void)halt_for_good(d, s, DOOR_ALARM_DRIVER);", ""),
    ),
    Without(
        "G12 rests after lost starts", {},
        ("supply browns out at each motor start", "supply browns out at each start of one evening"),
        ("door_decision.c", "{ d->wait_s = wait_for_power(s, d->starts_lost); }", "{ (void)wait_for_power(s, 0u); }"),
    ),
    Without(
        "G13 a jam by current", {}, ("plate jams half way, one evening", "bird in the doorway every other evening"),
        ("door_motor.c", "if (early && !up && s->down_by_current) {", "if (0) {"),
        {"down_by_current": 1},
    ),
    Without(
        "T4 a stored shift beyond what can be learned", {}, ("clock 23 min off for weeks, lost, set right",),
        ("door_decision.c", "        d->shift_min = 0;               /* no night can have taught this */\n", ""),
    ),
)  # fmt: skip


def worth_table(rows: list[tuple[Without, str, list[Verdict], list[Verdict]]]) -> str:
    """What each rule is worth: (rule, fault, verdicts with it, verdicts without it)."""
    lines = [
        "| rule left out | shows in | with it: night 1, nights 2-7, worst locked in | without it "
        "| s stalled, most cord mm, motor starts: with / without | alarm after h: with / without |",
        "|---|---|---|---|---|---|",
    ]
    for without, fault, having, lacking in rows:
        sides = [
            f"{_night_cell(side, True)}, {_night_cell(side, False)}, {max(int(v.locked_min.max()) for v in side)}"
            for side in (having, lacking)
        ]
        machine = " / ".join(
            f"{np.mean([v.machine['stall_s'] for v in side]):.0f}, {max(v.machine['most_cord_mm'] for v in side):.0f}, "
            f"{max(v.machine['starts'] for v in side):.0f}"
            for side in (having, lacking)
        )
        alarm = " / ".join(_alarm_cell(side) for side in (having, lacking))
        lines.append(f"| {without.rule} | {fault} | {sides[0]} | {sides[1]} | {machine} | {alarm} |")
    return "\n".join(lines) + "\n"
