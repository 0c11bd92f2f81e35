"""What a comparison says first: birds and minutes of the keeper's own door, and whether a setting tried does better.

Everything here is taken from the comparison's values as `compare --json` prints them, so that the sentences can be
checked against the table below them.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

from sunsched.hardware.figures import number
from sunsched.report.text.answer import Answer
from sunsched.report.text.plain import WIDTH, columns
from sunsched.study.settings import IN_WORDS

MOST_ROWS = 12  # of the table under the answer
NEAREST = 3  # settings of each strategy shown beside yours
# Years of a flock without one bird shut out: with 95 % the chance of such a bird is under 3 in so many years.
# Hanley & Lippman-Hand 1983, JAMA 249, 1743: the rule of three.
RULE_OF_THREE = 3.0
Found = Mapping[str, Any]


def comparison_answer(found: Found) -> Answer:
    """The comparison in three lines; `found` is the whole comparison as values."""
    yours = own_row(found)
    if not found["birds"]:
        moves, late = (number(yours[name]["mean"]) for name in ("door_moves", "late_nights"))
        return Answer(
            f"Your door moves {moves} times a year and is open past {found['late_hour']} on {late} nights.",
            f"It hangs on {found['weather_years']} years of model weather; no birds are given, so none are counted.",
            "Write the number of your hens into [flock] birds, and run it again.",
        )
    birds, minutes = birds_words(yours, found["weather_years"]), _span_words(yours, "open_after_dark_min")
    answer = f"Your door shuts out {birds} birds a year; open {minutes} min after the last."
    return Answer(answer, _hangs_on(found, yours), _next(found))


def own_row(found: Found) -> Found:
    """The configuration's own setting."""
    return next(row for row in found["settings"] if row["yours"])


def _hangs_on(found: Found, yours: Found) -> str:
    cases = yours["by_follow_light"]
    if len(cases) == 1:
        share = 100 * cases[0]["follow_light"]
        return f"It hangs on the birds: {share:.0f} % of their habit is taken to follow the evening's light."
    first, last = cases[0], cases[-1]
    ends = [
        f"{_figure(case['birds_out']['mean'], found['weather_years'])} at {100 * case['follow_light']:.0f} %"
        for case in (first, last)
    ]
    return f"It hangs on how far the birds follow the light: {', '.join(ends)}."


def _next(found: Found) -> str:
    better = found["at_least_as_good"]
    if not better:
        tried = len(found["settings"]) - 1
        return f"None of the {tried} other settings tried is as good in birds and minutes."
    one = min(better, key=lambda b: (not b["told"], sum(gap["difference"] for gap in b["open_after_dark_min"])))
    name = f"{IN_WORDS[one['strategy']]}, {one['setting']},"
    if one["told"]:
        return f"Try {name} fewer birds out, fewer minutes."
    return f"Perhaps {name} is as good: no difference told."


def _figure(mean: float, n_years: int) -> str:
    """A count a year; none at all has its bound."""
    return f"under {_ceiling(RULE_OF_THREE / n_years)}" if mean == 0 else about(mean)


def about(value: float) -> str:
    """A figure as one says it: whole from 10 on, else two figures."""
    return f"{value:.0f}" if value >= 9.95 else f"{value:.1f}" if value >= 0.995 else f"{value:.2g}"


def _ceiling(value: float) -> str:
    """`value` to two figures, rounded up: a bound is never smaller than it is."""
    power = 10.0 ** (math.floor(math.log10(value)) - 1)
    return f"{math.ceil(round(value / power, 6)) * power:.2g}"


def _ends(row: Found, figure: str) -> tuple[float, float]:
    means = [case[figure]["mean"] for case in row["by_follow_light"]]
    return min(means), max(means)


def birds_words(row: Found, n_years: int) -> str:
    """Birds shut out a year over the shares of followers: '34.9 to 170', or 'under 0.015' where none was."""
    low, high = _ends(row, "birds_out")
    if high == 0:
        return _figure(high, n_years)
    return about(high) if about(low) == about(high) else f"{about(low)} to {about(high)}"


def _span_words(row: Found, figure: str) -> str:
    low, high = (about(end) for end in _ends(row, figure))
    return high if low == high else f"{low} to {high}"


def near_table(found: Found) -> str:
    """Yours, those that do as well, and the nearest of each strategy by minutes: at most MOST_ROWS rows."""
    rows = [("", "setting", "birds shut out a year", "open after last bird, min")]
    for row in near_rows(found):
        name = f"{IN_WORDS[row['strategy']]}, {row['setting']}"
        mark = "*" if row["yours"] else ""
        birds = birds_words(row, found["weather_years"])
        rows.append((mark, name, birds, _span_words(row, "open_after_dark_min")))
    return columns(rows, frozenset({2, 3}), WIDTH)


def near_rows(found: Found) -> list[Found]:
    """The rows of `near_table`, by strategy and minutes."""
    yours = own_row(found)
    better = {(b["strategy"], b["setting"]) for b in found["at_least_as_good"]}
    chosen: list[Found] = [yours]
    chosen += [row for row in found["settings"] if (row["strategy"], row["setting"]) in better][:2]
    for strategy in IN_WORDS:
        rest = [row for row in found["settings"] if row["strategy"] == strategy and row not in chosen]
        chosen += sorted(rest, key=lambda row: _apart(row, yours))[:NEAREST]
    order = list(IN_WORDS)
    return sorted(chosen, key=lambda row: (order.index(row["strategy"]), _middle(row)))[:MOST_ROWS]


def _middle(row: Found) -> float:
    return sum(_ends(row, "open_after_dark_min")) / 2


def _apart(row: Found, other: Found) -> float:
    return abs(math.log((_middle(row) + 0.1) / (_middle(other) + 0.1)))
