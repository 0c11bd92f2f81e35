"""A comparison as plain text and as CSV."""

from __future__ import annotations

import csv
import io
from typing import Any

from sunsched.base import cautions
from sunsched.base.civil_time import MONTHS, clock_text
from sunsched.hardware.figures import Assumption, number
from sunsched.job.comparison import Comparison
from sunsched.report.text.answer import Block, told
from sunsched.report.text.comparison_answer import comparison_answer, near_table
from sunsched.report.text.comparison_tables import (
    better_table,
    device_table,
    dull_shift,
    matched_table,
    months_out,
    plain,
    reopened,
    second_chance,
    settings_table,
)
from sunsched.report.text.plain import columns, wrapped
from sunsched.study.limits_of_mean import TELLING_ERRORS
from sunsched.study.sensitivity import Moved, Sensitivity, Verdict
from sunsched.study.settings import IN_WORDS, STRATEGIES
from sunsched.study.stage import DAY_ALTITUDE_DEG
from sunsched.study.tally import BIRD_FIGURES, DOOR_FIGURES, LAMP_MIN


def comparison_text(work: Comparison, every: bool = False) -> str:
    """The comparison for a terminal: the answer, the settings near yours; with `every` all tables."""
    found = plain(work)
    has_birds = bool(work.configuration.flock.birds)
    blocks = [Block(near_table(found) + NEAR_NOTE if has_birds else ""), Block(_heading(work), "what was drawn")]
    if has_birds:
        settings = "\n".join(_trade_off(work, follow) for follow in range(len(work.follow_light)))
        blocks.append(Block(settings, "every setting"))
        blocks += [
            Block(_flock_nights(work), "half the flock out"),
            Block(_equal_minutes(work), "strategies at your minutes"),
            Block(hangs_on_text(work.hangs_on), "what turns the verdicts"),
            Block(_second_chance(work), "a second chance"),
            Block(_better(work), "what does as well"),
            Block(_months(work), "months"),
            Block(_mornings(work), "mornings"),
            Block(_spread(work), "spread of cells"),
        ]
    blocks += [Block(_door(work), "the door's own figures"), Block(_dull(work), "dull evenings")]
    return told(comparison_answer(found), [*blocks, Block(limits_text(every))], every)


_NEAR = (
    "* yours. From and to: as little or as much of the birds' habit follows the evening's light. Minutes open are "
    "time, not risk."
)
NEAR_NOTE = wrapped(_NEAR, "") + "\n"


def limits_text(every: bool = True) -> str:
    """What stands beside every result; without `every` what a keeper has to know first."""
    lines = list(cautions.STUDY if every else cautions.STUDY_FIRST)
    return "WHAT THESE FIGURES CANNOT SAY\n" + "\n".join(wrapped(line, "  - ") for line in lines) + "\n"


def shown(figure: dict[str, float]) -> str:
    """A mean with its 95 % limits."""
    return f"{number(figure['mean'])} +-{number(TELLING_ERRORS * figure['error'])}"


def band(figure: dict[str, float]) -> str:
    """What a tenth of the years lie below and above."""
    return f"{number(figure['low'])}..{number(figure['high'])}"


def _heading(work: Comparison) -> str:
    c = work.configuration
    text = (
        f"{c.site.name}, {work.year}: {work.sums.n_years} weather years, seed {work.seed}, {c.flock.birds} birds. "
        f"Yours is {IN_WORDS[work.chosen.own_strategy]}, marked *. Figures are means of a year with 95 % "
        f"limits; bands hold the middle 80 % of the years. Climate: {work.climate_source}. {_clock_words(work)}"
    )
    left = "".join(wrapped(f"left out: {line}", "") + "\n" for line in work.chosen.left_out)
    return wrapped(text, "") + "\n" + left


def _clock_words(work: Comparison) -> str:
    c = work.configuration
    return (
        f"Clocks are set every {c.model.clock_set_every_days:g} days, wrong by {c.model.clock_set_min:g} min (one "
        f"standard deviation), and drift by at most {c.clock.drift_ppm:g} ppm; the light corrects that of clock and "
        "light from 20 min on."
    )


SHOWN_MOVES = 3


def hangs_on_text(found: Sensitivity | None) -> str:
    """Each verdict with the assumptions that turn it or hide it, and the values at which they turn it."""
    if found is None:
        return ""
    text = "WHAT THESE VERDICTS HANG ON: EACH ASSUMPTION MOVED TO THE ENDS OF ITS RANGE\n"
    for one in found.verdicts:
        sign = "-" if one.birds_out < 0 else "+"
        difference = f"{sign}{number(abs(one.birds_out))} +-{number(TELLING_ERRORS * one.error)}"
        text += wrapped(f"w = {one.follow_light:g}, {one.of} - {one.less} {difference}: {one.words}.", "  ") + "\n"
        if one.significant:
            text += wrapped(_moves_words(one), "    ") + "\n"
    note = (
        f"{found.n_years} weather years for each end, all on the same weather. sunsched compare --assumptions lists "
        "the ranges and what they rest on; write a key that you have measured, and it is no longer moved."
    )
    return text + wrapped(note, "") + "\n"


def _moves_words(one: Verdict) -> str:
    parts = []
    if one.turned_by:
        parts.append("turned by " + "; ".join(_turn_words(m) for m in one.turned_by[:SHOWN_MOVES]))
    if one.hidden_by:
        parts.append("no longer told at " + ", ".join(_end_words(m) for m in one.hidden_by[:SHOWN_MOVES]))
    pair = one.worst_pair
    if pair is not None and not (one.turned_by or one.hidden_by):
        state = (
            "is turned" if pair.birds_out * one.birds_out < 0 else "holds" if pair.significant else "is no longer told"
        )
        parts.append(f"no assumption alone turns it; with the worst pair, {_end_words(pair)}, it {state}")
    return ". ".join(parts) + "." if parts else "No assumption turns it."


def _turn_words(moved: Moved) -> str:
    at = "" if moved.turns_at is None else f" (from about {moved.turns_at:.2g} on)"
    return _end_words(moved) + at


def _end_words(moved: Moved) -> str:
    return " and ".join(f"{key} = {value:.3g}" for key, value in zip(moved.keys, moved.values, strict=True))


def assumptions_list_text(assumed: tuple[Assumption, ...]) -> str:
    """Every assumption with its value, its range and what it rests on."""
    rows: list[tuple[str, ...]] = [("ASSUMPTION", "value", "range", "what it rests on")]
    for one in assumed:
        span = one.span
        ends = "not moved" if span.fixed else f"{span.low:g} .. {span.high:g}"
        rows.append((one.key, f"{span.value:g}", ends, one.why))
    return columns(rows, frozenset({1, 2}))


def _rows(work: Comparison) -> list[dict[str, Any]]:
    order = {"light": 0, "clock": 1, "both": 2}
    rows = settings_table(work)
    return sorted(rows, key=lambda r: (order[r["strategy"]], r["by_follow_light"][0]["open_after_dark_min"]["mean"]))


def _named(row: dict[str, Any]) -> tuple[str, str]:
    return "*" if row["yours"] else "", f"{IN_WORDS[row['strategy']]}, {row['setting']}"


def _trade_off(work: Comparison, follow: int) -> str:
    share = work.follow_light[follow]
    table = [("", "setting", "birds out a year", "band", "open after last bird, min", "band")]
    for row in _rows(work):
        figures = row["by_follow_light"][follow]
        birds, minutes = figures["birds_out"], figures["open_after_dark_min"]
        table.append((*_named(row), shown(birds), band(birds), shown(minutes), band(minutes)))
    title = f"EVENINGS IF {100 * share:.0f} % OF THE HABIT FOLLOWS THE EVENING'S LIGHT (w = {share:g})\n"
    return title + columns(table, frozenset({2, 3, 4, 5}))


def _by_share(work: Comparison, title: str, figure: str) -> str:
    table = [("", "setting", *(f"w = {w:g}" for w in work.follow_light))]
    for row in _rows(work):
        table.append((*_named(row), *(shown(case[figure]) for case in row["by_follow_light"])))
    return f"{title}\n" + columns(table, frozenset(range(2, 2 + len(work.follow_light))))


def _flock_nights(work: Comparison) -> str:
    return _by_share(work, "NIGHTS A YEAR WITH HALF THE FLOCK SHUT OUT", "flock_nights")


_PAIRS = (("light", "clock"), ("light", "both"), ("clock", "both"))


def _equal_minutes(work: Comparison) -> str:
    entries = matched_table(work)
    table = [("w", "at minutes", *(IN_WORDS[s] for s in STRATEGIES))]
    gaps = [("w", *(f"{IN_WORDS[one]} less {IN_WORDS[other]}" for one, other in _PAIRS))]
    for entry in entries:
        birds, words = entry["birds_out"], {(d["of"], d["less"]): d["words"] for d in entry["differences"]}
        share = f"{entry['follow_light']:g}"
        cells = ["-" if birds[s] is None else shown(birds[s]) for s in STRATEGIES]
        table.append((share, number(entry["open_after_dark_min"]), *cells))
        gaps.append((share, *(words.get(pair, "-") for pair in _PAIRS)))
    note = (
        "A dash: no setting tried of that strategy comes to these minutes. No strategy wins for every w. Times alone "
        "do not say which is yours; with a light log of the same evenings they may (sunsched angle --light)."
    )
    title = "BIRDS OUT A YEAR AT YOUR OWN MINUTES OPEN AFTER THE LAST BIRD\n"
    return title + columns(table) + "\n" + columns(gaps) + wrapped(note, "") + "\n"


def _second_chance(work: Comparison) -> str:
    cost = second_chance(work)
    table: list[tuple[str, ...]] = [("w", "birds let in a year", "more minutes open a night", "nights used")]
    for row in cost["by_follow_light"]:
        cells = (shown(row[name]) for name in ("birds_let_in", "more_open_min", "nights_used"))
        table.append((f"{row['follow_light']:g}", *cells))
    note = (
        f"Up once for {cost['for_s']} s, {cost['after_min']} min after a closing by light and not after the window's "
        f"end ([door] reopen_once, {'on' if cost['chosen'] else 'off'}), with clock and light. It runs the motor twice "
        "more; a bird may walk out again, and who else walks in is not modelled."
    )
    return "A SECOND CHANCE FOR STRAGGLERS, AND ITS COST\n" + columns(table) + wrapped(note, "") + "\n"


def _better(work: Comparison) -> str:
    found = better_table(work)
    title = "AT LEAST AS GOOD AS YOURS, BIRDS AND MINUTES, FOR EVERY w SHOWN\n"
    if not found:
        return title + "  none of the settings tried\n"
    table = [("", "setting", "birds a year", "minutes", "verdict")]
    for b in found:
        gaps = [", ".join(f"{d['difference']:+.1f}" for d in b[key]) for key in ("birds_out", "open_after_dark_min")]
        table.append((IN_WORDS[b["strategy"]], b["setting"], *gaps, b["words"]))
    return title + columns(table)


def _months(work: Comparison) -> str:
    rows = months_out(work)
    table: list[tuple[str, ...]] = [("month", *(f"w = {row['follow_light']:g}" for row in rows))]
    for month, name in enumerate(MONTHS):
        cells = (shown({"mean": row["birds_out"][month], "error": row["error"][month]}) for row in rows)
        table.append((name, *cells))
    return "BIRDS THAT YOURS SHUTS OUT, BY MONTH\n" + columns(table, frozenset(range(1, 1 + len(rows))))


def _mornings(work: Comparison) -> str:
    early = _by_share(work, "MORNINGS: MINUTES OPEN BEFORE THE FIRST BIRD COMES OUT (FOX)", "open_before_light_min")
    return early + "\n" + _by_share(work, "MORNINGS: MINUTES THAT BIRDS ARE KEPT WAITING", "kept_waiting_min")


def _spread(work: Comparison) -> str:
    table = [("strategy", "w", "figure", "stated cell", "weather: 80 % of years", "cells: 10th, 90th of 100")]
    for row in device_table(work):
        table.append(
            (
                IN_WORDS[row["strategy"]],
                f"{row['follow_light']:g}",
                row["figure"].replace("_", " "),
                f"{number(row['stated_cell'])} +-{number(TELLING_ERRORS * row['error'])}",
                f"{number(row['weather_low'])}..{number(row['weather_high'])}",
                f"{number(row['cell_sees_less'])}, {number(row['cell_sees_more'])}",
            )
        )
    words = "A cell that sees less light closes early. Calibrate in place: it takes the cells' spread away."
    note = wrapped(words, "") + "\n"
    return "WEATHER SPREAD AND DEVICE SPREAD APART (YOUR OWN LUX)\n" + columns(table, frozenset({3, 4, 5})) + note


def _door(work: Comparison) -> str:
    late = clock_text(work.late_minute)
    head = (
        "",
        "setting",
        f"open past {late}",
        "never shut",
        "daytime closings",
        "days not opened",
        "moves",
    )
    table = [head] + [(*_named(row), *(shown(row[figure]) for figure in DOOR_FIGURES)) for row in _rows(work)]
    again = reopened(work)
    by_lamp, by_day = shown(again["by_a_lamp_each_evening"]), shown(again["by_daylight"])
    note = wrapped(
        f"A daytime closing has the Sun above {DAY_ALTITUDE_DEG:g} degrees; a limit that closes in white nights is "
        "one. Every door here stays down till morning once down. Your light rule without that latch would open again "
        f"on {by_lamp} nights a year with a lamp lit for {LAMP_MIN} min each evening, and on {by_day} by daylight "
        "after a storm; each is two moves more.",
        "",
    )
    return "THE DOOR, NIGHTS OR DAYS A YEAR\n" + columns(table, frozenset(range(2, 7))) + note + "\n"


def _dull(work: Comparison) -> str:
    table: list[tuple[str, ...]] = [("", *MONTHS)]
    rows = dull_shift(work)
    for words, key in (
        ("mean", "mean_min"),
        ("dullest tenth", "dullest_tenth_min"),
        ("brightest tenth", "brightest_tenth_min"),
    ):
        table.append((words, *("-" if row[key] is None else f"{row[key]:.0f}" for row in rows)))
    title = f"MINUTES BY WHICH WEATHER MOVES A CLOSING AT {work.configuration.light_cell.dark_lux:g} LUX\n"
    return title + columns(table, frozenset(range(1, 13)))


CSV_HEAD = (
    "strategy",
    "setting",
    "yours",
    "follow_light",
    "figure",
    "mean",
    "error",
    "tenth_below",
    "tenth_above",
)


def comparison_csv(work: Comparison) -> str:
    """One row for each setting, share of followers and figure; the limits stand above as comments."""
    text = io.StringIO()
    for line in cautions.STUDY:
        text.write(f"# {line}\n")
    out = csv.writer(text, lineterminator="\n")
    out.writerow(CSV_HEAD)
    for row in settings_table(work):
        start = (row["strategy"], row["setting"], "yes" if row["yours"] else "no")
        for figures in row["by_follow_light"]:
            for name in BIRD_FIGURES:
                out.writerow((*start, f"{figures['follow_light']:g}", name, *_digits(figures[name])))
        for name in DOOR_FIGURES:
            out.writerow((*start, "", name, *_digits(row[name])))
    return text.getvalue()


def _digits(figure: dict[str, float]) -> tuple[str, ...]:
    return tuple(f"{figure[key]:.6g}" for key in ("mean", "error", "low", "high"))
