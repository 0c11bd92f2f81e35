"""Every driver, kind of switch and clock chip runs through days of each season on the emulated chip.

The normal run takes one season of each; all of it is `python -m tests.chip.test_parts_lived`.
"""

from __future__ import annotations

import datetime as dt
import sys

import pytest

from tests.chip import sites, skies
from tests.chip.runs import ChipRun

SITE = "larch_end"
SEASONS: dict[str, tuple[dt.date, list[skies.Kind]]] = {
    "spring": (dt.date(2027, 3, 27), ["clear", "storm"]),
    "summer": (dt.date(2027, 6, 20), ["clear", "dull"]),
    "autumn": (dt.date(2027, 9, 23), ["clear", "passing_lamps"]),
    "winter": (dt.date(2027, 12, 20), ["clear", "snow"]),
}
PARTS = ("direction", "relays", "closed", "closed+relays", "ds1307", "pcf8523", "pcf8563")
ALL_PARTS = (*PARTS, "current")  # the end by current is lived by the whole proof, and tried in test_drivers.py
CASES = [(part, list(SEASONS)[n % len(SEASONS)]) for n, part in enumerate(PARTS)]


def wrong(part: str, season: str) -> list[str]:
    """What was not as plan and light ask for, or differed between chip and computer."""
    date, kinds = SEASONS[season]
    name = f"{SITE}+{part}"
    chip_run = ChipRun(name, 2027, sites.built(name, 2027).plan.row(date), kinds)
    chip_run.life.state.door.rigid = int("current" in part)
    chip_run.run()
    found = [*chip_run.faults(), *chip_run.differences()]
    chip_run.life.end()
    return found


@pytest.mark.parametrize(("part", "season"), CASES)
def test_its_days_are_lived_as_planned(part: str, season: str) -> None:
    assert wrong(part, season) == []


def main() -> int:
    """Live all seasons with all parts; exit status 1 if anything was wrong."""
    found = 0
    for part in ALL_PARTS:
        for season in SEASONS:
            faults = wrong(part, season)
            found += len(faults)
            print(part, season, *(faults or ["as planned"]), sep=" | ", flush=True)
    return int(found > 0)


if __name__ == "__main__":
    sys.exit(main())
