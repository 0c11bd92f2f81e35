"""The compiled core and the Python twin say the same, second for second, state and all."""

from __future__ import annotations

import ctypes
import dataclasses
import re

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from sunsched.controller import words
from sunsched.controller.decision import step
from sunsched.controller.door_settings import DoorSettings, c_fields
from sunsched.controller.door_state import NO_MINUTE, DayRow, Inputs, KeptOver
from tests.controller.core_library import CORE, core_library, structure_fields
from tests.controller.moments import N_LESSONS, N_MOMENTS, lesson
from tests.controller.moments_lived import differences, packed_moments
from tests.controller.stress import FIRST_DAY, LEVELS, N_STRETCHES, SHORT, stretch
from tests.controller.twin_and_core import OUT, STATE, Table, assert_alike
from tests.controller.twin_replay import recorded, twin_outputs
from tests.controller.vectors import VECTORS, place, settings_of, world_of

TYPES = {"h": ctypes.c_int16, "H": ctypes.c_uint16, "B": ctypes.c_uint8}


@st.composite
def rows(draw: st.DrawFn) -> list[DayRow]:
    """Days near a solar noon of their own, some of them kept in."""
    found = []
    for _ in range(draw(st.integers(1, 4))):
        midnight = draw(st.integers(1100, 1750))
        kept_in = draw(st.integers(0, 5)) == 0
        opening = NO_MINUTE if kept_in else midnight - 720 - draw(st.integers(5, 700))
        closing = NO_MINUTE if kept_in else midnight - 720 + draw(st.integers(5, 700))
        found.append(DayRow(opening, closing, midnight, draw(st.sampled_from((15, 15, 0, 3, 7, 11, 13, 14)))))
    return found


@st.composite
def seconds(draw: st.DrawFn) -> list[Inputs]:
    """Stretches of steady inputs with sudden changes: what happens to a chip, and worse."""
    day, minute, offset = FIRST_DAY + draw(st.integers(0, 3)), draw(st.integers(0, 1439)), draw(st.integers(0, 59))
    found: list[Inputs] = []
    for _ in range(draw(st.integers(1, 12))):
        jump = draw(st.sampled_from((0, 0, 0, 2, -2, 5, -30, 60, 400, -1440)))
        total = (day * 1440 + minute) + jump
        day, minute = divmod(total, 1440)
        counts = draw(st.sampled_from(LEVELS))
        slope = draw(st.sampled_from((0, 0, -3, 3)))
        steady = Inputs(
            clock_valid=draw(st.sampled_from((1, 1, 1, 0))),
            clock_set=draw(st.sampled_from((0, 0, 1))),
            top=draw(st.integers(0, 1)),
            bottom=draw(st.integers(0, 1)),
            hand=draw(st.sampled_from((0, 0, 0, 1, 2))),
            keep_shut=draw(st.sampled_from((0, 0, 1))),
            battery=draw(st.sampled_from((0, 0, 1, 2))),
        )
        running = draw(st.booleans())
        for second in range(draw(st.integers(1, 150))):
            offset += 1 if running else 0
            now = day * 1440 + minute + offset // 60
            light = max(0, min(1023, counts + slope * second))
            found.append(
                dataclasses.replace(
                    steady,
                    clock_day=now // 1440,
                    clock_min=now % 1440,
                    light_counts=light,
                    clock_set=steady.clock_set if second == 0 else 0,
                )
            )
    return found


@st.composite
def constants(draw: st.DrawFn) -> DoorSettings:
    """Short or true constants, with the keeper's choices."""
    windows = draw(st.sampled_from(((-10, 15), (0, 0), (-720, 720), (-200, 30))))
    mornings = draw(st.sampled_from(((-10, 15), (0, 0), (-720, 720), (0, 60))))
    return dataclasses.replace(
        draw(st.sampled_from((SHORT, SHORT, DoorSettings()))),
        evening_from_min=windows[0],
        evening_until_min=windows[1],
        morning_from_min=mornings[0],
        morning_until_min=mornings[1],
        clock_fitted=draw(st.integers(0, 1)),
        sun_at_rail=draw(st.integers(0, 1)),
        down_by_current=draw(st.integers(0, 1)),
    )


KEPT = st.none() | st.builds(
    KeptOver,
    st.integers(-400, 400),
    st.just(FIRST_DAY + 1),
    st.integers(0, 0xFFFF),
    st.integers(0, 23),
    st.integers(0, 15),
    starts_lost=st.sampled_from((0, 0, 1, 2, 3, 8, 255)),
    moved=st.sampled_from((0, 1, 255)),
    cord_s=st.sampled_from((0, 9, 255)),
    usual_down_s=st.sampled_from((0, 4, 9, 16, 255)),
)


@settings(max_examples=120, deadline=None, suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large])
@given(constants(), rows(), seconds(), KEPT, st.sampled_from((65_536, 65_536, FIRST_DAY + 1, FIRST_DAY + 3)))
def test_any_inputs(
    chosen: DoorSettings, days: list[DayRow], inputs: list[Inputs], kept: KeptOver | None, ends: int
) -> None:
    assert_alike(chosen, Table(days, FIRST_DAY, ends=ends), inputs, kept)


@pytest.mark.parametrize("first", range(8))
def test_stress(first: int) -> None:
    """A sample of the stretches that must kill every changed core."""
    for number in range(first, N_STRETCHES, 80):
        assert_alike(*stretch(number))


@pytest.mark.parametrize("first", range(0, N_MOMENTS, N_MOMENTS // 8))
def test_moments(first: int) -> None:
    """A sample of the moments that must kill every changed core: all that is said, kept and stored."""
    library, numbers = core_library(), range(first, first + N_MOMENTS // 8, 4)
    for number, packed in zip(numbers, packed_moments(numbers), strict=True):
        assert not differences(library, number, packed), number


def test_lessons_teach() -> None:
    """Else the lessons would be nights that nothing follows from."""
    learned = 0
    for number in range(0, N_LESSONS, 4):
        one = lesson(number)
        state = one.state()
        step(state, one.settings, one.table, one.inputs[0])
        learned += state.shift_min != one.fields["shift_min"] or state.proven != one.fields["proven"]
    assert learned > N_LESSONS // 40


@pytest.mark.parametrize("name", ["hands and keep-shut", "clock lost in a cut", "clock an hour fast", "frozen all day"])
def test_recorded_days(name: str) -> None:
    """A sample of what `python -m tests.controller.twin_proof` does with every vector."""
    vector = next(vector for vector in VECTORS if vector.name == name)
    world, own_ppm = world_of(vector)
    was = recorded(place(vector.site), settings_of(vector), world[: 1440 * 2 + 1], own_ppm)
    assert len(was.inputs) >= 2 * 86_400 - 3_600
    assert np.array_equal(twin_outputs(place(vector.site), settings_of(vector), was), was.outputs)


def test_the_structures_are_the_same() -> None:
    assert [name for name, _ in structure_fields("door_t")] == list(STATE)
    assert [name for name, _ in structure_fields("door_outputs_t")] == list(OUT)
    assert [(name, TYPES[code]) for name, code in c_fields()] == structure_fields("door_settings_t")
    kept = [field.name for field in dataclasses.fields(KeptOver)]
    assert [name for name, _ in structure_fields("door_kept_t")] == kept


def _header_values(prefix: str) -> dict[str, int]:
    """The enumerators of the header that begin with `prefix`, by name."""
    text = re.sub(r"/\*.*?\*/", "", (CORE / "door_decision.h").read_text(), flags=re.DOTALL)
    defined = re.findall(rf"#define {prefix}(\w+) (0x[0-9A-F]+)u", text)
    found: dict[str, int] = {name: int(value, 16) for name, value in defined}
    for body in re.findall(r"enum \{([^}]*)\}", text):
        value = -1
        for word in body.split(","):
            name, _, given = (part.strip() for part in word.partition("="))
            value = int(given, 0) if given else value + 1
            if name.startswith(prefix):
                found[name.removeprefix(prefix)] = value
    return found


@pytest.mark.parametrize(
    ("prefix", "kind"),
    [
        ("DOOR_WHY_", words.Why),
        ("DOOR_ALARM_", words.Alarm),
        ("DOOR_IS_", words.Door),
        ("DOOR_BATTERY_", words.Battery),
        ("DOOR_BY_", words.TimeBy),
        ("DOOR_WANT_", words.Want),
        ("DOOR_KEPT_", words.Kept),
        ("DOOR_RESET_", words.Reset),
    ],
)
def test_the_words_are_the_same(prefix: str, kind: type[words.Why]) -> None:
    values = _header_values(prefix)
    values.pop("COUNT", None)
    assert values == {member.name: int(member) for member in kind if member.name != "NONE"}


def test_the_settings_block_reads_back() -> None:
    library = core_library()
    assert library is core_library()
    packed = DoorSettings().packed()
    assert len(packed) == sum({"h": 2, "H": 2, "B": 1}[code] for _, code in c_fields())
    assert DoorSettings().c_initialiser().count("\n") == len(c_fields()) + 1
