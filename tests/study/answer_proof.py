"""The comparison's sentence against its own table, for drawn configurations: the whole proof and its sample.

`python -m tests.study.answer_proof` judges 50 configurations on two weather years each (3 to 6 min of a core).
"""

from __future__ import annotations

import random
import re
import sys
from collections.abc import Mapping
from typing import Any

from sunsched.config.configuration import Configuration
from sunsched.config.toml_file import validated
from sunsched.job.comparison import comparison_of
from sunsched.report.text.comparison_answer import MOST_ROWS, about, comparison_answer, near_table, own_row
from sunsched.report.text.comparison_tables import plain
from sunsched.study.settings import IN_WORDS

WEATHER_YEARS = 2
ZONES = {"Europe/Berlin": (51.0, 9.0), "Pacific/Auckland": (-41.0, 174.0), "America/Denver": (39.7, -105.0)}


def configuration(number: int) -> Configuration:
    """The configuration of a number: place, angle, window, levels and flock drawn."""
    draw = random.Random(number)
    zone = draw.choice(sorted(ZONES))
    latitude, longitude = ZONES[zone]
    window = draw.choice([(0, 0), (-10, 15), (-20, 30), (-120, 120)])
    return validated(
        {
            "site": {
                "name": f"Drawn {number}",
                "latitude_deg": latitude + draw.uniform(-6, 6),
                "longitude_deg": longitude + draw.uniform(-2, 2),
                "zone": zone,
            },
            "evening": {
                "depression_deg": round(draw.uniform(1.0, 9.0), 1),
                "cell_from_min": window[0],
                "cell_until_min": window[1],
            },
            "light_cell": {"dark_lux": draw.choice([1.0, 5.0, 12.0]), "light_lux": 40.0},
            "flock": {"birds": draw.choice([0, 1, 6, 40])},
        },
        "drawn",
    )


def faults(found: Mapping[str, Any]) -> list[str]:
    """Where the answer says another thing than the table of the same comparison; empty where they agree."""
    answer, own = comparison_answer(found), own_row(found)
    wrong = []
    if not found["birds"]:
        return [] if "no birds are given" in answer.hangs_on else ["a flock of none is not named"]
    cases = own["by_follow_light"]
    said = re.match(r"Your door shuts out (.+) birds a year; open (.+) min after the last\.$", answer.answer)
    if said is None:
        return [f"not a sentence of its form: {answer.answer}"]
    for words, figure in zip(said.groups(), ("birds_out", "open_after_dark_min"), strict=True):
        means = [case[figure]["mean"] for case in cases]
        if words.startswith("under "):
            bound = float(words.split()[1])
            if max(means) != 0 or not bound * found["weather_years"] >= 3.0:
                wrong.append(f"{words} of {figure}, years {found['weather_years']}, means {means}")
            continue
        ends = words.split(" to ")
        if (ends[0], ends[-1]) != (about(min(means)), about(max(means))):
            wrong.append(f"{words} of {figure}, means {means}")
    return [*wrong, *_wrong_next(found, answer.next_step), *_wrong_rows(found)]


def _wrong_next(found: Mapping[str, Any], text: str) -> list[str]:
    """The third line against every setting's own figures."""
    own = own_row(found)["by_follow_light"]
    better = []
    for row in found["settings"]:
        gaps = [
            case[figure]["mean"] - mine[figure]["mean"]
            for case, mine in zip(row["by_follow_light"], own, strict=True)
            for figure in ("birds_out", "open_after_dark_min")
        ]
        if not row["yours"] and all(gap <= 1e-9 for gap in gaps) and any(gap < -1e-9 for gap in gaps):
            better.append(f"{IN_WORDS[row['strategy']]}, {row['setting']}")
    if text.startswith("None of the "):
        return [f"none is named, yet {better} are as good"] if better else []
    name = re.match(r"(?:Try|Perhaps) (.+?)(?:,| is as good)", text)
    return [] if name and any(one in text for one in better) else [f"'{text}', yet {better} are as good"]


def _wrong_rows(found: Mapping[str, Any]) -> list[str]:
    """The short table: at most twelve rows, yours among them, each figure that of its setting."""
    lines = near_table(found).splitlines()
    rows = [line for line in lines if re.search(r"\d$", line)]
    wrong = [] if len(rows) <= MOST_ROWS else [f"{len(rows)} rows"]
    if sum(line.startswith("*") for line in rows) != 1:
        wrong.append("yours is not marked once")
    return wrong + [f"wide: {line}" for line in lines if len(line) > 80]


def proof(numbers: range) -> dict[str, list[str]]:
    """The faults of each configuration that has some."""
    found = {}
    for number in numbers:
        c = configuration(number)
        wrong = faults(plain(comparison_of(c, 2027, WEATHER_YEARS, seed=number)))
        if wrong:
            found[c.site.name] = wrong
    return found


if __name__ == "__main__":
    wrong = proof(range(50))
    sys.stdout.write(f"50 configurations, {len(wrong)} with a fault\n{wrong or ''}\n")
    raise SystemExit(bool(wrong))
