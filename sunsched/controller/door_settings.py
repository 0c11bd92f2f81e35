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

    dark_counts: I16 = 112  # dark is below this [counts]
    bright_counts: I16 = 170  # bright is above this [counts]
    night_counts: I16 = 24  # E2: as dark as night below this [counts]
    deep_counts: I16 = 24  # D5: darker than a dull sky at the end of the morning's window [counts]
    hold_counts: I16 = 308  # E6: above this the light holds the door up [counts]
    dusk_counts: I16 = 422  # a natural dusk begins below this [counts]
    lamp_counts: I16 = 797  # no lamp gives more than this [counts]
    rail_counts: I16 = 1020  # from this on the reading is at the ADC's end [counts]
    evening_from_min: I16 = -10  # the evening's window begins [min after the closing]; both 0: clock alone
    evening_until_min: I16 = 15  # the evening's window ends [min after the closing]
    morning_from_min: I16 = -10  # the morning's window begins [min after the opening]; both 0: clock alone
    morning_until_min: I16 = 15  # the morning's window ends [min after the opening]
    # Reason: dusk falls 4 counts a minute or more at these levels.
    flat_counts: I16 = 4  # C3: a flat light below lamp_counts stays within this [counts]
    flat_high_counts: I16 = 2  # C3: a flat light above lamp_counts stays within this [counts]
    flat_min: U16 = 20  # C3: it is flat after this time below lamp_counts [min]
    flat_high_min: U16 = 120  # C3: it is flat after this time at any level [min]
    # Reason: shadows and flashes pass sooner.
    confirm_s: U16 = 100  # E3, D2: time of dark or bright that moves the door; and of rest after a reset [s]
    # Reason: a natural dusk takes 10 min from 60 to 5 lux in the tropics, 16 min at 52 N.
    fall_s: U16 = 240  # C1: least time of a natural fall from dusk_counts to dark_counts [s]
    fast_s: U16 = 45  # C1: least time of a natural change between bright and dark [s]
    stale_s: U16 = 10_800  # C2: dark for longer is stale [s]
    sure_s: U16 = 1800  # C5: time of dark or bright that proves the cell [s]
    dusk_s: U16 = 300  # M: time of dark that begins a night [s]
    # Reason: 26 h are a day and a margin.
    age_units: U16 = 156  # C5: the cell's proof lasts this long [10 min]
    # Reason: storms do not reach a tenth of dark light.
    early_s: U16 = 600  # E2: time as dark as night that closes early [s]
    early_lead_min: I16 = 0  # E2, C6: the plan closes this long after a clear sky's dark [min]
    # Reason: a clock 2 h wrong and a dull evening.
    hold_dim_min: U16 = 180  # E6: longest hold in dim light [min]
    # Reason: a clock 12 h wrong.
    hold_day_min: U16 = 600  # E6: longest hold in daylight [min]
    morning_hold_min: U16 = 360  # D5: longest hold [min]
    night_least_min: U16 = 180  # M: shortest night that counts [min]
    night_most_min: U16 = 1200  # M: longest night that counts [min]
    shift_one_min: I16 = 40  # M1: deviation of one night that moves the windows [min]
    shift_two_min: I16 = 15  # M2: mean deviation of two nights that moves the windows [min]
    shift_proven_min: I16 = 20  # M2: the same for a proven time [min]
    shift_spread_min: I16 = 15  # M1, M2: nights agree within this [min]
    step_min: I16 = 3  # T1: the own count follows a clock within this [min]
    question_min: I16 = 20  # T3: a setting further off than this is questioned [min]
    question_s: U16 = 600  # T3: time in which a second setting is taken [s]
    own_trust_min: U16 = CRYSTAL_TRUST_DAYS * 1440  # T5: longest time on the own count without clock or Sun [min]
    # Reason: before that a cell just powered has had no chance to show both.
    settle_s: U16 = 30_000  # C5: the cell is not judged before this time after a reset [s]
    alone_dark_s: U16 = 300  # A1, A4: time of natural dark that lowers [s]
    alone_abrupt_s: U16 = 3600  # A1: time of abrupt dark that lowers [s]
    alone_bright_s: U16 = 1200  # A2, A4: time of bright that raises [s]
    alone_open_min: U16 = 120  # A1, A5: least time up [min]
    alone_shut_min: U16 = 240  # A2: least time down [min]
    longest_shut_min: U16 = 1080  # A5: longest time down [min]
    hand_min: U16 = 30  # O2: how long a hand's up lasts in the night [min]
    spent_min: U16 = 1440  # O4: longest time that a spent battery keeps the door down [min]
    reopen_after_min: U16 = 10  # O5: time from a closing by light to the second chance [min]
    reopen_s: U16 = 0  # O5: how long the second chance lasts [s]; 0: there is none
    start_rest_s: U16 = 10  # rest after a reset [s]
    dead_s: U16 = 2  # rest between two runs [s]
    retry_s: U16 = 60  # G2, G4: rest before a new try [s]
    late_retry_s: U16 = 900  # G4: first of the longer rests, after `tries` tries [s]
    down_budget_s: U16 = 16  # G1: longest lowering since the top was last held, over all tries [s]
    down_nominal_s: U16 = 10  # lowering takes this for the whole way [s]
    up_least_s: U16 = 6  # G3: raising is given this time at least [s]
    up_cutoff_s: U16 = 10  # G3: raising is given this time at most [s]
    leave_s: U16 = 3  # G4: time in which the plate leaves its switch [s]
    down_soon_s: U16 = 7  # G7: no plate is down sooner: 3/4 of the way's time [s]
    up_soon_s: U16 = 3  # G7: no plate is up sooner: 3/4 of the way's time [s]
    tries: U8 = 3  # G2, G4: tries before the plate is left lowered, or the rests grow
    late_tries: U8 = 8  # G4: tries at each longer rest; 0: no more tries
    # Reason: contacts bounce for less; the motor is at rest meanwhile.
    seat_s: U8 = 3  # G9: an end switch counts when it has held this long [s]
    # Reason: no chain of glitches is as long.
    moved_s: U8 = 10  # G5, G10, O3: a moved plate, made far switch or keep-shut counts after this time [s]
    # Reason: three glitches running of one a second in a hundred meet once in months.
    hand_hold_s: U8 = 3  # O2: a hand switch counts when it has been held this long [s]
    lower_percent: U8 = 40  # lowering speed as a share of raising speed, 1 to 100 [%]
    up_duty: U8 = 255  # duty of the motor's PWM while raising, of 255
    down_duty: U8 = 102  # duty of the motor's PWM while lowering, of 255
    clock_fitted: U8 = 1  # 0: no clock chip; own count and Sun serve
    sun_at_rail: U8 = 0  # 1: full Sun itself reads at the rail, so a short shows at night only
    down_by_current: U8 = 0  # 1: the motor's current shows the lower end, not a switch

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
