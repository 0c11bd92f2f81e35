"""An upper switch stuck made opened for one sample while the door was lifted: 342 mm of cord were forgotten.

With the lower switch dead as well, the next lowering wound the cord off the spool and 575 mm on backwards.
"""

from __future__ import annotations

import pytest

from sunsched.controller.door_settings import DoorSettings
from sunsched.controller.door_state import RAISING, DoorState
from sunsched.controller.motor import step_motor
from sunsched.controller.words import Place, Want
from tests.controller.fault_table import FIRST_SEED, year_of
from tests.controller.foreign_faults import lived
from tests.trials.fault_invariants import broken


def test_the_cord_stays_on_the_spool() -> None:
    run = lived(year_of("52 N", FIRST_SEED), "52 N", 110_127, 50)
    assert broken(run.machine) == [] and run.open_unalarmed == 0


@pytest.mark.parametrize(("open_s", "place"), [(1, Place.UNKNOWN), (2, Place.UNKNOWN), (3, Place.UP)])
def test_a_switch_made_from_the_start_counts_after_three_open_seconds(open_s: int, place: Place) -> None:
    settings = DoorSettings()
    state = DoorState(paid_s=16, seat=0, place=int(Place.UNKNOWN), asked=int(Want.UP), ran=1, wiring_proven=1)
    for second in range(1 + open_s):
        step_motor(state, settings, int(Want.UP), int(second == 0), 0)
    assert state.phase == RAISING
    step_motor(state, settings, int(Want.UP), 1, 0)
    assert (state.place, state.phase == RAISING) == (place, place == Place.UNKNOWN)
