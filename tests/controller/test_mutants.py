"""A sample of the changed cores: the inputs separate nearly all from the core. `mutants.py` tries all of them."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

from tests.controller import mutant_judge as judge
from tests.controller.core_library import core_library
from tests.controller.mutants import Mutant, Trial, mutants

EVERY = 40


@cache
def trial() -> Trial:
    """A part of the inputs, no recorded day among them."""
    return Trial(judge.recorded(n_moments=8_800, n_stretches=10, vectors=()))


def test_a_sample_of_mutants() -> None:
    chosen = mutants()[7::EVERY]
    assert len(chosen) >= 28
    assert len(trial().surviving(chosen)) <= len(chosen) // 20


def test_the_unchanged_core_is_not_told_from_itself() -> None:
    """Else a judge that always says no would kill them all; a change that changes no code is known as such."""
    first = mutants()[0]
    assert trial().killer(replace(first, now=first.was)) == judge.SAME_CODE
    assert judge.killer(core_library(), trial().inputs) == ""


def test_a_core_that_never_ends_and_one_that_is_no_c_are_killed() -> None:
    number = next(
        one.line for one in mutants() if one.file == "door_time.c" and "d->second >= DOOR_MINUTE_S" in one.was
    )
    assert trial().killer(Mutant("door_time.c", number, "", "    for (;;) { d->second = 0;")) == "time"
    assert trial().killer(Mutant("door_time.c", number, "", "    if (")) == judge.NO_C


def test_day_numbers_of_a_century() -> None:
    assert judge.day_numbers(core_library()) == list(range(judge.DAYS_OF_CENTURY))
