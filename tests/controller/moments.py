"""Single moments of the door: every counter near a limit of the rules, and nights that teach something.

A stretch of seconds (stress.py) seldom meets a limit in the very second in which nothing else decides. Here the state
is drawn directly, with each field at a limit or one or two beside it, and runs for three seconds. The twin agrees with
the core in each moment (test_core_matches_twin.py); a changed core must not.
"""

from __future__ import annotations

import dataclasses
import random
from collections.abc import Iterator
from functools import cache
from typing import NamedTuple

from sunsched.controller.door_settings import DoorSettings
from sunsched.controller.door_state import DAY_MIN, FULL, NO_MINUTE, NO_T, DayRow, DoorState, Inputs, boot
from tests.controller.stress import FIRST_DAY, SHORT, WINDOWS
from tests.controller.twin_and_core import Table

N_LESSONS, N_MOMENTS = 8_000, 44_000
LESSON_SETTINGS = (DoorSettings(), DoorSettings(shift_proven_min=5))
SLOW_DRIVE = dict(down_budget_s=250, down_nominal_s=200, up_least_s=60, up_cutoff_s=90)
SLOWER_DRIVE = SLOW_DRIVE | dict(down_budget_s=300, down_soon_s=190)
DRIVES: tuple[dict[str, int], ...] = ({}, {}, SLOW_DRIVE, SLOWER_DRIVE)
LESSON_TABLE = Table((DayRow(420, 1080, 1440, 15),), FIRST_DAY)
OFFS_MIN = (0, 1, 4, 5, 6, 7, 9, 10, 11, 14, 15, 16, 19, 20, 21, 25, 39, 40, 41, 60, 200)
N_SETTINGS, N_TABLES = 48, 24
ALL_FACTS, ALARM_BITS = 15, 16
# With a clock unproven and a cell believed, so that only what is left decides.
CALM = dict(
    time=0, known=1, proven=0, age_dark=0, age_bright=0, rail_min=0, flat_min=0, fall=1, facts=ALL_FACTS, boot_s=29_990,
    cycle_known=1,
)  # fmt: skip
BOOTED = boot(DoorSettings())


class Moment(NamedTuple):
    """Constants, table, the fields that differ from a chip just reset, and the seconds that follow."""

    settings: DoorSettings
    table: Table
    fields: dict[str, int]
    inputs: list[Inputs]

    def state(self) -> DoorState:
        """The state before the first second."""
        return dataclasses.replace(BOOTED, **self.fields)


def moment(number: int) -> Moment:
    """The lessons, then the states near limits."""
    return lesson(number) if number < N_LESSONS else near_limits(number)


def lesson(number: int) -> Moment:
    """A state in the last second of a night that teaches something, and that second's inputs."""
    rng = random.Random(number)

    def some() -> int:
        return rng.choice(OFFS_MIN) * rng.choice((-1, 1))

    length_min, last = rng.randrange(170, 1210), some()
    off = last + rng.choice((0, 3, -7, 14, 15, 16, -15, -16)) if rng.random() < 0.7 else some()
    day, minute = divmod(720 + 30 + 720 + length_min // 2 + off, DAY_MIN)
    ahead = some() if rng.random() < 0.4 else 0
    time = rng.randrange(3)
    state = dict(
        own_day=FIRST_DAY + day, own_min=minute, known=int(time != 2), estimated=1, time=time, boot_s=29_000,
        stepped=int(time == 1 and ahead != 0), proven=rng.randrange(2), shift_min=rng.choice((0, 0, some() // 2)),
        last_off_min=last, taught=int(rng.random() < 0.8), creeping=rng.choice((0, 1, 2, 3, 4, 4, 5, 5)),
        odd_today=rng.randrange(2), in_night=1, night_min=length_min + 30, night_natural=1,
        rise_natural=int(rng.random() < 0.95), bright_s=1799, since_dark_s=1900, plan=0, second=20,
    )  # fmt: skip
    clock_day, clock_min = divmod((FIRST_DAY + day) * DAY_MIN + minute + ahead, DAY_MIN)
    one = Inputs(clock_day, clock_min, 700, clock_valid=int(time == 0 or ahead != 0), bottom=1)
    return Moment(rng.choice(LESSON_SETTINGS), LESSON_TABLE, state, [one])


class Picker(random.Random):
    """Seeded choices with a liking for limits."""

    def near(self, *limits: int) -> int:
        """One of the limits or a number beside it: a counter is often counted up before it is compared."""
        return max(0, self.choice(limits) + self.choice((-2, -1, -1, 0, 0, 1)))

    def bit(self, share: float) -> int:
        """1 in this share of the moments."""
        return int(self.random() < share)


@cache
def some_settings(number: int) -> DoorSettings:
    """Constants of the defaults or short ones, with a keeper's choices."""
    pick = Picker(number)
    evening, morning = pick.choice(WINDOWS), pick.choice(WINDOWS)
    if pick.bit(0.6):
        evening = morning = WINDOWS[0]
    return dataclasses.replace(
        SHORT if pick.bit(0.25) else DoorSettings(),
        evening_from_min=evening[0],
        evening_until_min=evening[1],
        morning_from_min=morning[0],
        morning_until_min=morning[1],
        early_lead_min=pick.choice((0, 0, 3, 45)),
        deep_counts=pick.choice((24, 24, 10, 0, 130)),
        own_trust_min=pick.choice((4, 4 * DAY_MIN, 20 * DAY_MIN)),
        clock_fitted=pick.bit(0.8),
        sun_at_rail=pick.bit(0.5),
        down_by_current=pick.bit(0.3),
        seat_s=pick.choice((3, 3, 1, 2)),
        moved_s=pick.choice((10, 3, 4)),
        hand_hold_s=pick.choice((3, 3, 1, 2)),
        reopen_s=pick.choice((0, 1, 2, 180)),
        lower_percent=pick.choice((40, 40, 33, 100)),
        tries=pick.choice((3, 3, 1, 2)),
        late_tries=pick.choice((8, 8, 8, 0)),
        retry_s=pick.choice((60, 5)),
        **pick.choice(DRIVES),
    )


@cache
def _table(number: int) -> Table:
    """Days with closings from two hours after noon on and openings up to two hours before it."""
    pick = Picker(number)
    rows = []
    for _ in range(pick.choice((1, 2, 3))):
        midnight = 1440 + pick.choice((0, 0, 1, -1, 40, -200, 250))
        before, after = (pick.choice((pick.randrange(105, 130), pick.randrange(200, 600), 360)) for _ in range(2))
        kept_in = pick.bit(0.1)
        opening, closing = midnight - 720 - before, midnight - 720 + after
        facts = pick.choice((ALL_FACTS, ALL_FACTS, ALL_FACTS, pick.randrange(16)))
        rows.append(DayRow(NO_MINUTE if kept_in else opening, NO_MINUTE if kept_in else closing, midnight, facts))
    return Table(rows, FIRST_DAY)


def _cycle(pick: Picker, s: DoorSettings, table: Table, shift_min: int) -> dict[str, int]:
    """A time of the own count near a limit of its cycle, and that cycle's minutes."""
    day = FIRST_DAY + pick.choice((0, 0, 1, 2, 40))
    row, following = table(day), table(day + 1)
    assert isinstance(row, DayRow) and isinstance(following, DayRow)
    noon = row.midnight_min - 720
    close = NO_T if row.close_min == NO_MINUTE else row.close_min - noon
    opening = NO_T if following.open_min == NO_MINUTE else following.open_min + DAY_MIN - noon
    length = DAY_MIN + following.midnight_min - row.midnight_min
    limits = [0, 0, 120, 720, length, length, DAY_MIN]
    if close != NO_T:
        limits += 2 * [close, close + s.evening_from_min, close + s.evening_until_min, close - s.early_lead_min]
        limits += [close - 60, *2 * [close - 90 - s.early_lead_min]]
    if opening != NO_T:
        limits += 2 * [opening, opening + s.morning_from_min, opening + s.morning_until_min] + [opening - 60]
    if NO_T not in (close, opening):
        limits += 2 * [(close + opening) // 2]
    t_min = pick.choice(limits) + pick.choice((-2, -1, -1, 0, 0, 1))
    own_day, own_min = divmod(day * DAY_MIN + noon + t_min + shift_min, DAY_MIN)
    return dict(
        own_day=own_day, own_min=own_min, cycle_day=day + pick.choice((0, 0, 0, 0, 0, -1, 1)), t_min=max(0, t_min),
        close_t_min=close, open_t_min=opening, length_min=length, noon_min=noon, cycle_known=pick.bit(0.93),
        facts=pick.choice((ALL_FACTS, ALL_FACTS, ALL_FACTS, pick.randrange(16))), latch=pick.choice((0, 0, 1, 1, 2)),
    )  # fmt: skip


def _time(pick: Picker, s: DoorSettings) -> dict[str, int]:
    time = pick.choice((0, 0, 0, 1, 1, 2))
    return dict(
        time=time, known=int(time != 2), estimated=pick.bit(0.6), stepped=int(time == 1) & pick.bit(0.6),
        proven=pick.bit(0.3), second=pick.choice((20, 57, 58, 59)), unconfirmed_min=pick.near(0, s.own_trust_min, FULL),
        question_s=pick.choice((0, 0, 0, 1, 2, s.question_s)), boot_s=pick.near(FULL, FULL, s.settle_s, s.confirm_s, 2),
        clock_ahead_min=pick.choice((0, 30, -60, 29_999, 30_000, -29_999, -30_000)),
    )  # fmt: skip


def _light(pick: Picker, s: DoorSettings, counts: int) -> dict[str, int]:
    ref = counts + pick.choice((-1, 1)) * pick.near(s.flat_counts, s.flat_high_counts, 0)
    ages = [min(255, pick.near(0, 0, 0, 0, s.age_units, 255)) for _ in range(2)]
    dark = (s.confirm_s, s.dusk_s, 4 * s.dusk_s, s.stale_s, s.sure_s, s.alone_dark_s, s.alone_abrupt_s)
    return dict(
        dark_s=pick.near(0, 1, 1, FULL, *dark), night_s=pick.near(0, s.early_s, s.early_s, FULL),
        bright_s=pick.near(0, 1, s.confirm_s, s.sure_s, s.alone_bright_s, FULL), fall_s=pick.near(0, s.fall_s, FULL),
        since_bright_s=pick.near(0, s.fast_s, FULL), since_dark_s=pick.near(0, s.fast_s, FULL),
        age_s=pick.choice((0, 100, 597, 598, 599)), age_dark=ages[0], age_bright=ages[1], flat_ref_counts=ref,
        flat_min=pick.near(0, s.flat_min, s.flat_min, 2 * s.flat_min, s.flat_high_min, FULL),
        rail_min=pick.near(0, 0, 0, 3, 30, FULL), fall=pick.choice((0, 1, 1, 1, 2)), rise_natural=pick.bit(0.8),
        flat=pick.bit(0.3), cell_bad=pick.bit(0.2),
    )  # fmt: skip


def _learning(pick: Picker, s: DoorSettings) -> dict[str, int]:
    sure_min = s.sure_s // 60
    lengths = (s.dusk_s // 60, sure_min + s.night_least_min, sure_min + s.night_most_min, FULL, 600)
    return dict(
        in_night=pick.bit(0.6), night_min=pick.near(*lengths), night_natural=pick.bit(0.8), taught=pick.bit(0.6),
        last_off_min=pick.choice((0, 10, -15, 40, -41)), creeping=pick.randrange(6), odd_today=pick.bit(0.3),
        odd_days=pick.choice((0, 0, 1, 2, 7, 8, 9)),
    )  # fmt: skip


def _wish(pick: Picker, s: DoorSettings) -> dict[str, int]:
    since = (0, 60, s.alone_open_min, s.alone_shut_min, s.longest_shut_min, s.reopen_after_min, FULL)
    plan = pick.choice((0, 0, 1, 1, 2))
    dim, day = pick.near(0, 0, 5, 10, s.hold_dim_min), pick.choice((0, 0, 0, 1, 5, pick.near(s.hold_day_min)))
    return dict(
        since_min=pick.near(*since), hold_dim_min=dim, hold_day_min=day, plan=plan, wish=plan if pick.bit(0.8) else 2,
        reason=pick.choice((2, 2, 4, 5, 5, 5, pick.randrange(21))), reopened=pick.bit(0.3),
        morning_hold_min=pick.near(0, 10, s.morning_hold_min),
        hand_min=pick.near(0, s.hand_min, FULL), spent_min=pick.near(0, s.spent_min, FULL),
        reopen_left_s=pick.choice((0, 0, 0, 1, 2, 100)), hand=pick.choice((0, 0, 0, 0, 1, 2)),
        last_hand=pick.choice((0, 0, 0, 1, 2)), hand_held_s=min(255, pick.near(1, s.hand_hold_s, 255)),
        keep_shut=pick.bit(0.2), keep_other_s=pick.near(0, 0, s.moved_s),
    )  # fmt: skip


def _motor(pick: Picker, s: DoorSettings, plan: int) -> dict[str, int]:
    paid_s = pick.near(0, 5, s.down_soon_s, s.down_soon_s, 256, s.down_nominal_s + 2, s.down_budget_s, s.down_budget_s)
    paid_s = min(paid_s, s.down_budget_s + 1)
    need_s = paid_s * s.lower_percent // 100
    late = (s.tries, s.tries + s.late_tries, s.tries + 2 * s.late_tries)
    run = (
        1,
        s.up_soon_s,
        s.leave_s,
        s.up_least_s,
        s.up_cutoff_s,
        need_s + 2,
        need_s + need_s // 2 + 1,
        paid_s + 1,
        paid_s + 1,
    )
    return dict(
        wait_s=pick.near(0, 0, 1, s.dead_s, s.retry_s), run_s=pick.near(*run), paid_s=paid_s,
        top_open_s=pick.choice((0, 0, 1, 2, 3)), bottom_open_s=pick.choice((0, 0, 1, 2, 3)), phase=pick.randrange(3),
        place=pick.randrange(3), asked=plan if pick.bit(0.8) else pick.randrange(3), lift=pick.bit(0.3),
        clear=pick.bit(0.2), attempts=min(255, pick.near(0, 0, 254, *late)),
        top_first=pick.bit(0.5), bottom_first=pick.bit(0.5), ran=pick.bit(0.7), blocked=pick.bit(0.15),
        wiring_proven=pick.bit(0.6), alarms=pick.getrandbits(ALARM_BITS) & pick.getrandbits(ALARM_BITS),
        top_was=pick.bit(0.4), bottom_was=pick.bit(0.4), top_held_s=min(255, pick.near(1, 2, 3, 5, 10, 12, 255)),
        bottom_held_s=min(255, pick.near(1, 2, 3, 5, 10, 12, 255)), seat=pick.choice((0, 0, 1, 1, 2, 2)),
        suspect=pick.choice((0, 0, 0, 0, 1, 2)), left=pick.choice((0, 0, 0, 0, 1, 2)),
        mends=min(255, pick.near(0, 0, 3, 8, 19, 254)), starts_lost=min(255, pick.near(0, 0, 1, 3, 254)),
        cord_s=pick.choice((0, 0, 1, 9, 255)), usual_down_s=min(255, pick.near(0, paid_s + 2, 255)),
        moved=pick.choice((0, 254, 255)), glitches=pick.choice((0, 254, 255)),
        buttons=pick.bit(0.5),
    )  # fmt: skip


def _inputs(pick: Picker, s: DoorSettings, fields: dict[str, int], counts: int) -> Iterator[Inputs]:
    ahead = pick.choice((0, 0, 0, 0, 1, s.step_min, s.question_min, FULL)) + pick.choice((-1, 0, 0, 1))
    now = fields["own_day"] * DAY_MIN + fields["own_min"] + pick.choice((-1, 1)) * ahead
    if pick.bit(0.04):  # days away, where the difference in minutes is full
        now = (fields["own_day"] + pick.choice((-22, -21, 21, 22, 23))) * DAY_MIN + pick.choice((0, 1, DAY_MIN - 1))
    steady = Inputs(
        clock_day=now // DAY_MIN,
        clock_min=now % DAY_MIN if pick.bit(0.98) else DAY_MIN + pick.choice((-1, 0, 1)),
        clock_valid=pick.bit(0.8),
        hand=pick.choice((0, 0, 0, 0, 1, 2)),
        keep_shut=pick.bit(0.15),
        battery=pick.choice((0, 0, 0, 1, 2)),
        clock_cell_low=pick.bit(0.2),
    )
    fields["last_clock_min"] = steady.clock_min if pick.bit(0.6) else (steady.clock_min - 1) % DAY_MIN
    fields["checked_day"], fields["checked_ok"] = steady.clock_day - 1 + pick.bit(0.8), pick.bit(0.8)
    for second in range(3):
        yield dataclasses.replace(
            steady,
            light_counts=max(0, counts + pick.choice((0, 0, 0, 0, 1, -1))),
            clock_set=pick.bit(0.15) if second == 0 else 0,
            top=pick.bit(0.3),
            bottom=pick.bit(0.3),
        )


def near_limits(number: int) -> Moment:
    """A state with every field at or beside one of the rules' limits, and three seconds of inputs."""
    pick = Picker(number)
    s, table = some_settings(pick.randrange(N_SETTINGS)), _table(pick.randrange(N_TABLES))
    levels = (s.dark_counts, s.bright_counts, s.night_counts, s.deep_counts, s.hold_counts, s.dusk_counts)
    counts = pick.near(*levels, s.dark_counts, s.night_counts, s.deep_counts, s.lamp_counts, s.rail_counts, 5)
    shift_min = pick.choice((0, 0, 0, 1, -10, 15, -41))
    fields = dict(shift_min=shift_min) | _cycle(pick, s, table, shift_min) | _time(pick, s) | _light(pick, s, counts)
    fields |= _learning(pick, s) | _wish(pick, s)
    fields |= _motor(pick, s, fields["plan"])
    if pick.bit(0.4):
        fields |= CALM
    inputs = list(_inputs(pick, s, fields, counts))
    return Moment(s, table, fields, inputs)
