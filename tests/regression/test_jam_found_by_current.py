"""A jam found by the motor's current was given up in three seconds; the motor then pulled at the upper stop for six.

The end by current reads made until the next run: it was judged anew in each second, which used up the tries; and the
lift from half of the way, quicker than from the sill, was taken for a lying upper switch. After three tries a plate
that gravity does not lower stayed on a bird's back all night.
"""

from __future__ import annotations

import dataclasses

import pytest

from sunsched.controller.words import Alarm
from tests.controller.broken_nights import FAULTS
from tests.controller.fault_table import FIRST_SEED, site_settings, trials
from tests.trials.fault_nights import Verdict

DAYS = [12, 348]


def _by_current(words: str) -> list[Verdict]:
    settings = dataclasses.replace(site_settings("52 N"), down_by_current=1)
    return trials("52 N", FIRST_SEED, DAYS, [FAULTS[words]], settings)[words]


def test_a_healthy_door_ends_by_current_without_an_alarm() -> None:
    for verdict in _by_current("healthy"):
        assert verdict.alarms == 0 and verdict.left_open.sum() == 0
        # a raise and a lowering a day, one lowering more: nothing is tried twice
        assert verdict.machine["starts"] == 27


@pytest.mark.parametrize("words", ["bird in the doorway every other evening", "plate jams half way, one evening"])
def test_a_jam_is_tried_until_the_way_is_free(words: str) -> None:
    for verdict in _by_current(words):
        assert verdict.alarms == Alarm.NOT_DOWN
        assert verdict.machine["stall_s"] == 0
        # the plate that jams all night cannot be lowered; it is tried ever more rarely
        assert list(verdict.left_open) == ([1, 0, 0, 0, 0, 0, 0] if "half way" in words else [0] * 7)
        assert verdict.machine["starts"] <= 27 + 2 * (3 + 8 + 8 + 10)
