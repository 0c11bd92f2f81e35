"""Every constant of the door's rules, once: the Python twin, the C core and the chip's EEPROM all take this block.

Fields stand in the order of `door_settings_t` in c/door_decision.h. Defaults are for a photoresistor of 50 kohm at
10 lux, gamma 0.7, on a 10 kohm fixed resistor, and the drive's defaults; `door_settings` works out a site's own.
"""

from __future__ import annotations

import dataclasses
import math
import struct
from dataclasses import dataclass
from typing import Annotated, get_type_hints

from sunsched.hardware.drive import DriveConstants
from sunsched.hardware.light_cell import divider_counts, top_count
from sunsched.hardware.parts import ClockSource, Door, LightCell
from sunsched.plan.rules import Rules
from sunsched.plan.window_light import DULL_SHARE, LIKE_DARK, WindowLight

I16 = Annotated[int, "h"]
U16 = Annotated[int, "H"]
U8 = Annotated[int, "B"]

NEVER_COUNTS = 32767  # a level no reading can pass
# Levels as shares of the keeper's own dark_lux, so that a calibrated dark level carries the others with it. With
# dark at 5 lux: 0.5 lux, which a clear sky reaches 16 min after a closing at -4.5 degrees at 52 N; 30 lux, which a
# dull evening still has an hour before its dusk; 60 lux, from where a natural dusk takes 10 min or more to fall to
# dark; 600 lux, more than lamps give. All simulated.
NIGHT_SHARE, HOLD_SHARE, DUSK_SHARE, LAMP_SHARE = 0.1, 6.0, 12.0, 120.0
HOLD_ROOM = 2.0  # a clear sky differs by less from its model: common practice
FULL_SUN_LUX = 120_000.0  # brightest daylight on a cell in the open: common practice
RAIL_ROOM_COUNTS = 3
CRYSTAL_TRUST_DAYS, RAW_TRUST_DAYS = 20, 4  # one hour of drift at most
UP_CUTOFF_FACTOR = 1.5  # common practice
# Of a way's nominal time: a fresh battery turns the motor a fifth faster, and whole seconds are counted.
SOON_SHARE = 0.75


@dataclass(frozen=True, slots=True)
class DoorSettings:
    """The constants of RULES.md; `_counts` are of the site's own cell, `_units` are ten minutes."""

    dark_counts: I16 = 112
    bright_counts: I16 = 170
    night_counts: I16 = 24
    deep_counts: I16 = 24  # D5: darker than a dull sky is at the end of the morning's window
    hold_counts: I16 = 308
    dusk_counts: I16 = 422
    lamp_counts: I16 = 797
    rail_counts: I16 = 1020
    evening_from_min: I16 = -10
    evening_until_min: I16 = 15
    morning_from_min: I16 = -10
    morning_until_min: I16 = 15
    flat_counts: I16 = 4  # dusk falls 4 counts a minute or more at these levels
    flat_high_counts: I16 = 2
    flat_min: U16 = 20
    flat_high_min: U16 = 120
    confirm_s: U16 = 100  # passing shadows and flashes
    fall_s: U16 = 240  # natural dusk takes 10 min from 60 to 5 lux in the tropics, 16 at 52 N
    fast_s: U16 = 45
    stale_s: U16 = 10_800
    sure_s: U16 = 1800
    dusk_s: U16 = 300
    age_units: U16 = 156  # 26 h: a day and a margin
    early_s: U16 = 600  # storms do not reach a tenth of dark light
    early_lead_min: I16 = 0  # E2: the site's plan closes this long after a clear sky's dark
    hold_dim_min: U16 = 180  # a clock 2 h wrong and a dull evening
    hold_day_min: U16 = 600  # a clock 12 h wrong
    morning_hold_min: U16 = 360
    night_least_min: U16 = 180
    night_most_min: U16 = 1200
    shift_one_min: I16 = 40
    shift_two_min: I16 = 15
    shift_proven_min: I16 = 20
    shift_spread_min: I16 = 15
    step_min: I16 = 3
    question_min: I16 = 20
    question_s: U16 = 600
    own_trust_min: U16 = CRYSTAL_TRUST_DAYS * 1440
    settle_s: U16 = 30_000  # before that a cell just powered has had no chance to see both
    alone_dark_s: U16 = 300
    alone_abrupt_s: U16 = 3600
    alone_bright_s: U16 = 1200
    alone_open_min: U16 = 120
    alone_shut_min: U16 = 240
    longest_shut_min: U16 = 1080
    hand_min: U16 = 30
    spent_min: U16 = 1440
    reopen_after_min: U16 = 10
    reopen_s: U16 = 0  # no second chance unless asked for
    start_rest_s: U16 = 10
    dead_s: U16 = 2
    retry_s: U16 = 60
    late_retry_s: U16 = 900
    down_budget_s: U16 = 16
    down_nominal_s: U16 = 10
    up_least_s: U16 = 6
    up_cutoff_s: U16 = 10
    leave_s: U16 = 3
    down_soon_s: U16 = 7
    up_soon_s: U16 = 3
    tries: U8 = 3
    late_tries: U8 = 8
    seat_s: U8 = 3  # longer than contacts bounce; the run is at rest meanwhile
    moved_s: U8 = 10  # no chain of glitches is as long
    lower_percent: U8 = 40
    up_duty: U8 = 255
    down_duty: U8 = 102
    clock_fitted: U8 = 1
    sun_at_rail: U8 = 0
    down_by_current: U8 = 0

    def packed(self) -> bytes:
        """The block as the AVR holds it: little-endian, no padding."""
        return struct.pack("<" + "".join(code for _, code in c_fields()), *dataclasses.astuple(self))

    def c_initialiser(self) -> str:
        """The block as the body of a C initialiser, one named line a field."""
        lines = (f"    .{name} = {getattr(self, name)}," for name, _ in c_fields())
        return "{\n" + "\n".join(lines) + "\n}"


def c_fields() -> tuple[tuple[str, str], ...]:
    """Name and struct code of each field, in the C order; "h", "H" and "B" are int16, uint16 and uint8."""
    hints = get_type_hints(DoorSettings, include_extras=True)
    return tuple((field.name, hints[field.name].__metadata__[0]) for field in dataclasses.fields(DoorSettings))


def _counts(cell: LightCell, lux: float) -> int:
    if cell.kind == "lux":
        return min(NEVER_COUNTS - 1, max(1, math.ceil(lux)))
    return int(divider_counts(lux, cell.r10_ohm, cell.gamma, cell.fixed_ohm, cell.adc_steps))


def _deep_counts(cell: LightCell, window_light: WindowLight) -> int:
    """Darker than any sky is at the plan's openings; 0, which no reading is below, where they lie in the night."""
    dull_lux = window_light.darkest_open_lux * DULL_SHARE
    night = max(1, _counts(cell, cell.dark_lux * NIGHT_SHARE))
    if dull_lux >= cell.dark_lux * NIGHT_SHARE:
        return night
    return min(night, math.floor(dull_lux) if cell.kind == "lux" else _counts(cell, dull_lux))


def _rail_counts(cell: LightCell) -> int:
    """Just below the top count; a level never passed for a sensor that gives lux."""
    rail = top_count(cell.adc_steps) - RAIL_ROOM_COUNTS
    return NEVER_COUNTS if cell.kind == "lux" or rail >= NEVER_COUNTS else rail


def short_shows_by_day(cell: LightCell) -> bool:
    """False where full Sun on the cell reads as a shorted one does: the divider's fixed resistor is too large."""
    return cell.kind == "lux" or _counts(cell, FULL_SUN_LUX) < _rail_counts(cell)


def door_settings(
    rules: Rules,
    cell: LightCell,
    clock: ClockSource,
    drive: DriveConstants | None = None,
    second_chance: Door | None = None,
    window_light: WindowLight = LIKE_DARK,
) -> DoorSettings:
    """The constants for one site; without `drive` the drive's defaults stand.

    second_chance   the door whose second chance it is, if it has chosen one
    window_light   the clear sky's light at the plan's own minutes; a plan that closes and opens at the cell's dark
      level needs none
    The windows of the year's own rules serve all seasons. A cell of more than 32767 counts must be read shifted
    down to fit.
    """
    settings = DoorSettings(
        dark_counts=_counts(cell, cell.dark_lux),
        bright_counts=max(_counts(cell, cell.light_lux), _counts(cell, cell.dark_lux) + 1),
        night_counts=max(1, _counts(cell, cell.dark_lux * NIGHT_SHARE)),
        deep_counts=_deep_counts(cell, window_light),
        hold_counts=_counts(cell, max(cell.dark_lux * HOLD_SHARE, HOLD_ROOM * window_light.brightest_close_lux)),
        dusk_counts=_counts(cell, cell.dark_lux * DUSK_SHARE),
        lamp_counts=_counts(cell, cell.dark_lux * LAMP_SHARE),
        rail_counts=_rail_counts(cell),
        evening_from_min=rules.evening.cell_from_min,
        evening_until_min=rules.evening.cell_until_min,
        morning_from_min=rules.morning.cell_from_min,
        morning_until_min=rules.morning.cell_until_min,
        confirm_s=cell.confirm_s,
        early_lead_min=window_light.dark_before_close_min,
        own_trust_min=(RAW_TRUST_DAYS if clock.source == "none" else CRYSTAL_TRUST_DAYS) * 1440,
        clock_fitted=0 if clock.source == "none" else 1,
        sun_at_rail=int(not short_shows_by_day(cell)),
        reopen_after_min=second_chance.reopen_after_min if second_chance else 10,
        reopen_s=second_chance.reopen_for_s if second_chance and second_chance.reopen_once else 0,
    )
    return settings if drive is None else _with_drive(settings, drive)


def _with_drive(settings: DoorSettings, drive: DriveConstants) -> DoorSettings:
    return dataclasses.replace(
        settings,
        dead_s=drive.dead_time_s,
        down_budget_s=drive.lowering_budget_s,
        down_nominal_s=drive.nominal_down_s,
        up_least_s=min(drive.cutoff_up_s, math.ceil(UP_CUTOFF_FACTOR * drive.nominal_up_s)),
        up_cutoff_s=drive.cutoff_up_s,
        down_soon_s=int(SOON_SHARE * drive.nominal_down_s),
        up_soon_s=int(SOON_SHARE * drive.nominal_up_s),
        lower_percent=min(100, max(1, round(100 * drive.up_per_down_s))),
        down_duty=drive.lowering_pwm,
    )
