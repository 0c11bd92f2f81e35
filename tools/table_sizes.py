"""How small a year of door minutes is: `python tools/table_sizes.py` prints Markdown tables.

Civil dawn and dusk, and sunrise and sunset, at Greenwich's meridian, no limits and no other rules, on the project's
own Sun: year 2028 to the very minute in each layout, and 2027 to 2047 within one minute. Data are the minutes alone;
the decoder is day index to minute on an ATmega328P; checksum, date, facts and settings are apart.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from sunsched.base.errors import CapacityError
from sunsched.plan.planning import year_plan
from sunsched.plan.rules import MomentRule, Rules, Warn
from sunsched.plan.site import Chip, Site
from sunsched.plan.year import YearPlan
from sunsched.table.choose import Table, choose
from sunsched.table.layout import CODECS, Codec

LATITUDES_DEG = (0, 35, 45, 52, 55, 60)
YEAR = 2028
MANY = range(2027, 2048)


# At 60 N civil dusk and dawn of midsummer are 95 min apart, which a configuration has to ask for.
_ANY_NIGHT = Warn(least_shut_min=0)
MOMENTS = {
    "civil": Rules(warn=_ANY_NIGHT),
    "sun": Rules(morning=MomentRule(twilight="sunrise"), evening=MomentRule(twilight="sunset"), warn=_ANY_NIGHT),
}
WORDS = {"civil": "civil dawn and dusk", "sun": "sunrise and sunset"}


def plan_at(latitude_deg: float, year: int, moment: str = "civil") -> YearPlan:
    """A year of a pair of moments [chip minutes, UTC] at longitude 0."""
    site = Site(name="meridian", latitude_deg=latitude_deg, longitude_deg=0, zone="UTC")
    return year_plan(site, Chip(keeps="utc"), MOMENTS[moment], year)


def one_year(latitude_deg: float, layout: Codec | None, moment: str = "civil") -> Table | None:
    """The minute-exact table of 2028 (layout None: the smallest); None if the layout cannot hold it."""
    return _table([plan_at(latitude_deg, YEAR, moment)], layout, 0)


def many_years(latitude_deg: float, moment: str = "civil") -> Table | None:
    """The table of 2027 to 2047 within one minute; None if there is none."""
    return _table([plan_at(latitude_deg, year, moment) for year in MANY], CODECS["years"], 1)


def _table(plans: list[YearPlan], layout: Codec | None, worst_error_min: int) -> Table | None:
    try:
        return choose(plans, Rules(), layout=layout, worst_error_min=worst_error_min)
    except CapacityError:
        return None


# Shares of days that are moved, and by how many minutes at most.
IRREGULAR = ((0.02, 10), (0.05, 10), (0.2, 10), (1.0, 3), (1.0, 60))


def irregular(share: float, most_min: int, layout: Codec) -> Table | None:
    """A table of an invented year: civil dawn and dusk at 52 N, a share of whose days is moved by a draw."""
    plan = plan_at(52, YEAR)
    random = np.random.default_rng((round(100 * share), most_min))
    moves = random.integers(-most_min, most_min + 1, (2, plan.n_days)) * (random.random((2, plan.n_days)) < share)
    opens, closes = (plan.open_min + moves[0], plan.close_min + moves[1])
    moved = replace(plan, open_min=opens.astype(np.int16), close_min=closes.astype(np.int16))
    return _table([moved], layout, 0)


def print_irregular() -> None:
    """Whole images of irregular years."""
    layouts = [CODECS[name] for name in ("blocks", "slopes", "plain")]
    print("| days moved | by up to | " + " | ".join(layout.name for layout in layouts) + " |")
    print("|---" * (len(layouts) + 2) + "|")
    for share, most_min in IRREGULAR:
        tables = (irregular(share, most_min, layout) for layout in layouts)
        sizes = (str(len(table.raw)) if table else "-" for table in tables)
        print(f"| {share:.0%} | {most_min} min | " + " | ".join(sizes) + " |", flush=True)


def cell(table: Table | None) -> str:
    """Data and decoder [bytes] of a table, and their sum."""
    if table is None:
        return "does not fit"
    return f"{table.data_bytes} + {table.decoder_bytes} = {table.data_bytes + table.decoder_bytes}"


def main() -> None:
    """Print the tables."""
    layouts = (CODECS["blocks"], CODECS["slopes"], CODECS["curves"])
    for moment, words in WORDS.items():
        print(f"{words}, {YEAR}, every minute exact, and {MANY[0]} to {MANY[-1]} at most 1 min off: data + decoder\n")
        print("| latitude | " + " | ".join(layout.name for layout in layouts) + " | years | days off, of 7670 |")
        print("|---" * (len(layouts) + 3) + "|")
        for latitude_deg in LATITUDES_DEG:
            cells = [cell(one_year(latitude_deg, layout, moment)) for layout in layouts]
            many = many_years(latitude_deg, moment)
            cells += [cell(many), "-" if many is None else str(many.days_inexact)]
            print(f"| {latitude_deg} N | " + " | ".join(cells) + " |", flush=True)
        print()
    print_irregular()


if __name__ == "__main__":
    main()
