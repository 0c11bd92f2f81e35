"""The assumptions about weather, cell, clock and flock in `compare`, `battery` and `angle`: the keys of [model].

Each key has its range and its source once, beside its default: `assumed.py` reads them from the fields, and
the sensitivity of a result moves each to the ends of its range. A key that the keeper wrote is taken as known and is
not moved. "assumed" marks a value without any source.
"""

from typing import Annotated, NamedTuple

from annotated_types import Ge, Le

from sunsched.base.model import Float, Settings


class Moved(NamedTuple):
    """How far an input is moved either way, which commands it belongs to, and what it rests on."""

    low: float
    high: float
    commands: tuple[str, ...]
    why: str


COMPARE, BOTH = ("compare",), ("battery", "compare")


class Model(Settings):
    """Inputs that no one has measured at the keeper's site."""

    cell_sky_log10: Annotated[
        Float,
        Ge(0),
        Le(1),
        Moved(0.0, 0.3, COMPARE, "assumed: cell and birds see skies that differ by this from evening to evening (sd)"),
    ] = 0.15
    deep_twilight_share: Annotated[
        Float,
        Ge(0.3),
        Le(3),
        Moved(
            0.6,
            2.0,
            COMPARE,
            "what clouds take 5 degrees below the horizon over what they take by day, in log10: six evenings of one "
            "logger spread over 1.31 (5 to 95 %), known to a third",
        ),
    ] = 1.5
    evening_spread_log10: Annotated[
        Float, Ge(0), Le(0.5), Moved(0.05, 0.16, COMPARE, "evenings about what their day suggests (sd): two sites")
    ] = 0.09
    minute_spread_log10: Annotated[
        Float, Ge(0), Le(0.6), Moved(0.15, 0.28, COMPARE, "minutes about their evening's mean (sd): one June")
    ] = 0.21
    day_memory: Annotated[
        Float,
        Ge(0),
        Le(0.95),
        Moved(
            0.1,
            0.6,
            BOTH,
            "correlation of a day's clearness with the day before: 0.15, 0.31 and 0.43 in three stations' hourly "
            "years, 0.07 to 0.58 by season",
        ),
    ] = 0.3
    clearness_factor: Annotated[
        Float,
        Ge(0.5),
        Le(1.5),
        Moved(0.85, 1.15, COMPARE, "on the monthly clearness, which is a web table's, not verified: give --climate"),
    ] = 1.0
    storm_share: Annotated[
        Float,
        Ge(0),
        Le(3),
        Moved(0.0, 1.0, COMPARE, "storms on top of the fitted minutes, as a share of the table: those hold theirs"),
    ] = 0.0
    snow_share: Annotated[
        Float, Ge(0), Le(5), Moved(0.0, 2.0, COMPARE, "assumed: snowfalls on the cell, as a share of the table")
    ] = 1.0
    dirt_log10: Annotated[
        Float, Ge(0), Le(1), Moved(0.0, 0.3, COMPARE, "assumed: what 40 days of dirt take from the cell")
    ] = 0.15
    bird_level_lux: Annotated[
        Float, Ge(1), Le(5000), Moved(100.0, 600.0, COMPARE, "assumed: light at which a bird goes in")
    ] = 250.0
    bird_level_spread_log10: Annotated[
        Float, Ge(0), Le(1), Moved(0.1, 0.4, COMPARE, "assumed: how birds' levels differ (sd)")
    ] = 0.25
    bird_jitter_min: Annotated[
        Float, Ge(0), Le(60), Moved(2.0, 8.0, COMPARE, "assumed: a bird's minutes from night to night (sd)")
    ] = 4.0
    straggler_share: Annotated[
        Float, Ge(0), Le(0.5), Moved(0.0, 0.03, COMPARE, "assumed: share of bird-nights that straggle")
    ] = 0.01
    straggler_min: Annotated[
        Float, Ge(0), Le(120), Moved(6.0, 25.0, COMPARE, "assumed: mean minutes that a straggler is late")
    ] = 12.0
    clock_set_min: Annotated[
        Float, Ge(0), Le(60), Moved(0.0, 3.0, COMPARE, "assumed: by how much a keeper sets the clock wrong (sd)")
    ] = 1.0
    clock_set_every_days: Annotated[
        Float, Ge(1), Le(3650), Moved(30.0, 730.0, COMPARE, "common practice: the clock is set twice a year")
    ] = 182.0


MODEL = Model.unwritten()
