"""What was built, for a sample: sections and keys with an example, a remark, and the question that asks for them.

Keys of [model] and [pins] are read from their models. A figure that stands in a file counts as measured, a key left out
as assumed: so a sample writes a key as text of TOML only where the keeper answered or asked for the section.
"""

from __future__ import annotations

import json
import re
from collections.abc import Mapping
from typing import NamedTuple

from sunsched.hardware.model import Model
from sunsched.hardware.pins import Pins

REMARK_COLUMN = 33


class Key(NamedTuple):
    """A key of a section.

    value   an example, as TOML writes it
    core   whether `--with` writes it: what a keeper reads off a label or measures
    ask   the question of `--ask`, '' where it is not asked
    """

    name: str
    value: str
    remark: str = ""
    core: bool = True
    ask: str = ""


class Section(NamedTuple):
    """A section of the file and the words under which `--with` and `--ask` know it."""

    name: str
    part: str
    remark: str
    keys: tuple[Key, ...]
    several: bool = False


def _more(name: str, value: str, remark: str = "") -> Key:
    return Key(name, value, remark, core=False)


SECTIONS = (
    Section(
        "light_cell",
        "cell",
        "your light cell, for counts and comparisons",
        (
            Key("kind", '"photoresistor"', 'or "lux" for a digital sensor'),
            Key("r10_ohm", "50000", "resistance at 10 lux", ask="What resistance has the cell at 10 lux, in ohm?"),
            Key("gamma", "0.7", "how its resistance falls with light", ask="What gamma does its data sheet give?"),
            Key(
                "fixed_ohm",
                "100000",
                "the resistor it stands in series with",
                ask="What resistor stands in series with it, in ohm?",
            ),
            Key("dark_lux", "5.0", "from here down it is dark"),
            Key("light_lux", "15.0", "from here up it is light"),
            Key(
                "sky_view",
                "0.4",
                "share of the sky that the cell sees",
                ask="What share of the sky does it see, 0 to 1?",
            ),
            _more("adc_steps", "1024"),
            _more("spread", "1.9", "the part's tolerance, as a factor in lux"),
            _more("confirm_s", "100", "how long it must be dark, or light"),
        ),
    ),
    Section(
        "light_cell.reading",
        "readings",
        "what it read in its place under a clear sky; sunsched cell calibrates by it",
        (
            Key("at", '"2027-03-01 18:20"', "civil time"),
            Key("counts", "520", "or lux of a digital sensor"),
        ),
        several=True,
    ),
    Section(
        "clock",
        "clock",
        "the chip's clock",
        (
            Key(
                "source",
                '"rtc"',
                'or "crystal", "none"',
                ask="What keeps the time: rtc (a clock chip), crystal or none?",
            ),
            Key(
                "chip",
                '"ds3231"',
                'or "ds1307", "pcf8523", "pcf8563"',
                ask="Which clock chip: ds3231, ds1307, pcf8523 or pcf8563?",
            ),
            Key("drift_ppm", "20", "1 ppm is 0.6 s a week", ask="How far may it drift, in ppm (its data sheet)?"),
        ),
    ),
    Section(
        "door",
        "door",
        "for drive, battery and firmware: the figures of yours, not these",
        (
            Key("travel_mm", "350", "", ask="How far does the plate travel, in mm?"),
            Key("plate_kg", "2.0", "", ask="What does the plate weigh, in kg?"),
            Key(
                "guide_friction_n",
                "4.0",
                "hang the plate on a spring balance: up less down, halved",
                ask="How much do the guides rub, in newton (spring balance: up less down, halved)?",
            ),
            Key("switches", '"normally_open"', 'or "normally_closed": a broken wire reads as made'),
            _more("push_from_below_n", "20", "on the shut plate"),
            _more("reopen_once", "false", "a second chance for a late bird, after a closing by light"),
            _more("reopen_after_min", "10"),
            _more("reopen_for_s", "180"),
        ),
    ),
    Section(
        "spool",
        "door",
        "",
        (
            Key("core_diameter_mm", "30", "", ask="What diameter has the spool's core, in mm?"),
            Key("cord_mm", "2", "", ask="How thick is the cord, in mm?"),
            Key(
                "turns_left_when_down",
                "8.5",
                "what stays on the spool when the plate is down",
                ask="How many turns stay on the spool when the plate is down?",
            ),
            _more("cord_breaking_n", "800"),
        ),
    ),
    Section(
        "motor",
        "motor",
        "",
        (
            Key(
                "driver",
                '"two_inputs"',
                'or "direction", "relays" (no PWM)',
                ask="What drives the motor: two_inputs, direction or relays?",
            ),
            Key("volts", "12", "", ask="What voltage is the motor for?"),
            Key("rpm", "60", "of the spool", ask="How many turns a minute does the spool make, raising?"),
            Key("run_a", "0.6", "", ask="What current does it take while raising, in ampere?"),
            Key(
                "winding_ohm",
                "4.0",
                "between its wires, at rest",
                ask="What resistance has it between its wires, in ohm?",
            ),
            Key("lowering_duty", "0.4"),
            Key(
                "cutoff_up_s",
                "12",
                "the longest a raising may take",
                ask="After how many seconds is a raising to be cut off?",
            ),
            Key("cutoff_down_s", "17", "", ask="After how many seconds is a lowering to be cut off?"),
            _more("dead_time_s", "2"),
            _more("shunt_ohm", "0.1", "a resistor in the driver's ground: its current shows the lower end"),
            _more("lowering_a", "0.3", "else run_a x lowering_duty"),
            _more("least_volts", "11.0", "of the supply: a tired battery"),
            _more("most_volts", "14.4", "of the supply: on charge"),
            _more("cold_speed_share", "0.8", "stiff grease on the coldest morning"),
            _more("gear_efficiency", "0.6"),
            _more("fuse_a", "3"),
            _more("cable_a", "6", "what the thinnest wire may carry"),
        ),
    ),
    Section(
        "battery",
        "battery",
        "",
        (
            Key("volts", "12", "", ask="What voltage has the battery?"),
            Key("capacity_ah", "7", "", ask="What capacity has it, in Ah?"),
            Key(
                "sleep_ma",
                "1.2",
                "all that the board draws at rest",
                ask="What does the board draw at rest, in mA, measured at the battery?",
            ),
            Key("awake_ma", "25", "", ask="What does it draw awake, motor off, in mA?"),
            Key("panel_w", "10", "", ask="How many watts is the panel rated for (none: 0)?"),
            Key(
                "panel_tilt_deg", "60", "flat 0, upright 90", ask="How steep does the panel stand, in degrees (flat 0)?"
            ),
            Key(
                "panel_azimuth_deg",
                "180",
                "north 0, east 90, south 180",
                ask="Which way does it face, in degrees (north 0, east 90)?",
            ),
            _more("usable_share", "0.5", "of the capacity"),
            _more("awake_min_per_day", "30"),
            _more("sensor_ma", "0.05"),
            _more("driver_ma", "1.0", "what the motor driver draws at rest"),
            _more("controller_ma", "5.0", "what the charge controller draws"),
            _more("self_discharge_share_month", "0.03"),
            _more("coldest_c", "-5.0", "the battery's temperature in the cold weeks"),
            _more("panel_yield", "0.7", "of the panel's rated watts, into the battery"),
            _more("ground_reflectance", "0.2", "more on snow"),
        ),
    ),
    Section("flock", "flock", "", (Key("birds", "6", "", ask="How many birds are there?"),)),
    Section(
        "model",
        "model",
        "what comparisons assume; sunsched compare FILE --assumptions explains each",
        tuple(Key(key, json.dumps(field.default)) for key, field in Model.model_fields.items()),
    ),
    Section(
        "pins",
        "pins",
        "what is wired to which pin of the board, for firmware",
        tuple(
            Key(key, json.dumps(field.default))
            if field.default is not None
            else _more(key, '"PC3"', "with motor.shunt_ohm; whatever has this pin needs another")
            for key, field in Pins.model_fields.items()
        ),
    ),
)
# A list of entries stands commented only: there is no reading but the keeper's own.
PARTS = tuple(dict.fromkeys(section.part for section in SECTIONS if not section.several))
Written = Mapping[str, Mapping[str, str]]  # section -> its keys that stand in the file, as TOML writes their values


def core_of(part: str) -> dict[str, dict[str, str]]:
    """The sections of a part with their core keys at their examples."""
    found = (section for section in SECTIONS if section.part == part)
    return {section.name: {key.name: key.value for key in section.keys if key.core} for section in found}


def parts_in(text: str) -> list[str]:
    """Names of parts or sections with commas between, or `all`. Raises ValueError naming what is neither."""
    names = [name for name in re.split(r"[,\s]+", text.strip()) if name]
    if "all" in names:
        return list(PARTS)
    sections = {section.name: section.part for section in SECTIONS if not section.several}
    for name in names:
        if name not in PARTS and name not in sections:
            raise ValueError(f"'{name}' is not one of {', '.join(PARTS)}, all")
    return list(dict.fromkeys(sections.get(name, name) for name in names))


def section_text(name: str, written: Mapping[str, str]) -> str:
    """A section of these keys alone."""
    return "\n".join([f"[{name}]", *(f"{key} = {value}" for key, value in written.items()), ""])


def text(written: Written) -> str:
    """Every section, those in `written` as parts of the file and all else commented."""
    return "\n".join(_section_text(section, written.get(section.name)) for section in SECTIONS)


def padded(line: str, remark: str = "") -> str:
    """A line with its remark in the column of remarks."""
    if not remark:
        return line
    return f"{line:<{REMARK_COLUMN}}# {remark}" if len(line) < REMARK_COLUMN else f"{line}  # {remark}"


def _section_text(section: Section, written: Mapping[str, str] | None) -> str:
    mark = "# " if written is None else ""
    head = f"[[{section.name}]]" if section.several else f"[{section.name}]"
    lines = [padded(f"{mark}{head}", section.remark)]
    here = written or {}
    for key in section.keys:
        mark = "" if key.name in here else "# "
        lines.append(padded(f"{mark}{key.name} = {here.get(key.name, key.value)}", key.remark))
    return "\n".join(lines) + "\n"
