"""Files of sites for the batch tests, of our own invention."""

from __future__ import annotations

import random
from pathlib import Path

ZONES = (
    ("Europe/Zurich", 47.0, 8.0),
    ("Europe/London", 52.0, -1.0),
    ("Australia/Melbourne", -37.0, 145.0),
    ("America/Chicago", 41.0, -88.0),
    ("Africa/Nairobi", -1.2, 36.8),
)
RULES = """
[site]
name = "Rules"
latitude_deg = 47.0
longitude_deg = 8.0
zone = "Europe/Zurich"

[[site.skyline]]
azimuth_deg = 110
altitude_deg = 7

[morning]
later_min = 10

[evening]
depression_deg = 4.5
not_after = "22:30"

[[season]]
name = "cubs"
from = "04-15"
to = "07-10"
[season.evening]
later_min = -5
"""
# What is done to a row, the column named in its result, and the beginning of what is said.
FAULTS = (
    ("latitude", "97.5", "is 97.5; wanted a number from -89.9 to 89.9"),
    ("zone", "Europe/Zurick", "is 'Europe/Zurick'; wanted an IANA zone"),
    ("evening.later_min", "soon", "is 'soon'; wanted a whole number"),
    ("longitude", "", "is missing; wanted a number"),
    ("", "unclosed", "not CSV: "),
    ("", "short", "3 cells; wanted 5: "),
)


def written(folder: Path, n: int, bad: int, seed: int = 7) -> tuple[Path, Path, dict[int, tuple[str, str]]]:
    """A sites file of n rows, the rules, and for each bad row its number with the column and words to expect."""
    chance = random.Random(seed)
    wrong = set(chance.sample(range(n), bad))
    lines = ["name,latitude,longitude,zone,evening.later_min"]
    mistakes: dict[int, tuple[str, str]] = {}
    for k in range(n):
        zone, latitude, longitude = chance.choice(ZONES)
        cells = [
            f"Hut {k}",
            f"{latitude + chance.uniform(-3, 3):.4f}",
            f"{longitude + chance.uniform(-3, 3):.4f}",
            zone,
        ]
        cells.append(chance.choice(["", "", "10", "-5"]))
        if k in wrong:
            column, value, words = chance.choice(FAULTS)
            mistakes[k + 2] = (column, words)
            if column:
                cells[lines[0].split(",").index(column)] = value
            elif value == "short":
                cells = cells[:3]
            else:
                cells[0] = '"Hut'
        lines.append(",".join(cells))
    (folder / "rules.toml").write_text(RULES)
    sites = folder / "sites.csv"
    sites.write_text("\n".join(lines) + "\n")
    return sites, folder / "rules.toml", mistakes
