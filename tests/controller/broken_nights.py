"""Nights with one fault of the table, for whoever asks about it."""

from __future__ import annotations

from functools import cache

from tests.controller.fault_table import FIRST_SEED, site_settings, trials
from tests.trials.fault_list import all_faults
from tests.trials.fault_nights import Verdict

FAULTS = {fault.words: fault for fault in all_faults()}


@cache
def nights_with(
    words: str, days: tuple[int, ...] = (80,), site: str = "52 N", cell: str = "trial"
) -> tuple[Verdict, ...]:
    """The verdicts of a fault from each of the days on."""
    return tuple(trials(site, FIRST_SEED, list(days), [FAULTS[words]], site_settings(site, cell), cell)[words])
