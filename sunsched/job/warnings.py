"""The one list of warnings: plan, drive, battery and cell together, each once, the most harmful first.

`table`, the report, the sheets and their JSON all show and count this list; `drive`, `battery` and `cell` show their
own part of it, made by the same functions. A verdict of the drive or the battery that does not hold is a warning.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import TYPE_CHECKING, NamedTuple

from sunsched.base.civil_time import date_of
from sunsched.base.warned import Harm, Warned, by_harm
from sunsched.config.configuration import Configuration
from sunsched.plan.year import YearPlan

if TYPE_CHECKING:
    from sunsched.hardware.drive_sums import DriveSums
    from sunsched.hardware.figures import Verdict
    from sunsched.job.drive_and_battery import BatteryYear

# What the verdict is about at its worst; `test_warnings.py` holds that every verdict has its line.
HARMS: Mapping[str, Harm] = {
    "turns on the spool": Harm.LIFE,  # the spool winds on backwards and raises the door
    "lowering cut-off": Harm.LIFE,  # a gap stays open all night
    "cord": Harm.LIFE,  # the plate drops
    "falls by itself": Harm.LIFE,  # the plate hangs half way
    "lifted from below": Harm.LIFE,
    "fuse guards the cable": Harm.LIFE,  # fire
    "raising cut-off": Harm.DOOR,
    "slack taken in": Harm.DOOR,
    "torque": Harm.DOOR,
    "flat battery": Harm.DOOR,
    "fuse holds": Harm.DOOR,
    "fuse opens at stall": Harm.PART,
    "depth limit": Harm.PART,
    "days without Sun": Harm.PART,
    "worst month": Harm.PART,
}


def verdict_warnings(verdicts: Iterable[Verdict]) -> tuple[Warned, ...]:
    """A warning for every verdict that fails or is in doubt."""
    return by_harm(
        Warned(one.name, HARMS[one.name], f"{one.name} {one.state}: {one.happens}", one.to_do, one.state == "fails")
        for one in verdicts
        if one.state != "holds"
    )


class Parts(NamedTuple):
    """What was built, worked out: None for what is not described. `found` are the cell's warnings."""

    drive: DriveSums | None
    battery: BatteryYear | None
    found: tuple[Warned, ...]

    @property
    def warnings(self) -> tuple[Warned, ...]:
        """The warnings about what was built."""
        drive = verdict_warnings(self.drive.verdicts) if self.drive else ()
        battery = verdict_warnings(self.battery.sums.verdicts) if self.battery else ()
        return by_harm([*drive, *battery, *self.found])


def parts_of(configuration: Configuration, year: int, name: str = "") -> Parts:
    """Drive and battery where they are described, the cell where it is described or may move the door.

    `year` is the battery's; `name` is the configuration's file, for errors.
    """
    c, drive, battery, found = configuration, None, None, tuple[Warned, ...]()
    # The sums are loaded for what is described: a table of a site alone needs none of them.
    if c.door is not None and c.spool is not None and c.motor is not None:
        from sunsched.job.drive_and_battery import drive_of

        drive = drive_of(c, name)
    if c.battery is not None:
        from sunsched.job.drive_and_battery import battery_of

        battery = battery_of(c, year, name)
    if cell_counts(c):
        from sunsched.job.cell_advice import cell_warnings

        found = cell_warnings(c.light_cell)
    return Parts(drive, battery, found)


def warnings_of(plans: Sequence[YearPlan], parts: Parts) -> tuple[Warned, ...]:
    """Every warning about the plans of one configuration and about what was built."""
    return by_harm([*(one for plan in plans for one in plan.warnings), *parts.warnings])


def all_warnings(configuration: Configuration, *plans: YearPlan) -> tuple[Warned, ...]:
    """The same, worked out for the first plan's year."""
    return warnings_of(plans, parts_of(configuration, date_of(plans[0].first_day).year))


def cell_counts(configuration: Configuration) -> bool:
    """Whether the light cell is one that was built: described, or with minutes in which it may move the door."""
    if "light_cell" in configuration.model_fields_set:
        return True
    rules = [rule for one in configuration.rules.variants() for rule in (one.morning, one.evening)]
    return any(rule.cell_from_min or rule.cell_until_min for rule in rules)
