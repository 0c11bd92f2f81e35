"""A sample of the changed cores: nearly all are told from the core. `mutants.py` tries all of them."""

from __future__ import annotations

from dataclasses import replace

import mutants
from core_library import core_library

EVERY = 90


def test_a_sample_of_mutants() -> None:
    mutants.learn_the_core(n_stretches=60, vectors=mutants.VECTORS[:6])
    chosen = mutants.mutants()[7::EVERY]
    assert len(chosen) >= 10
    assert len(mutants.surviving(chosen)) <= len(chosen) // 5


def test_the_unchanged_core_is_not_told_from_itself() -> None:
    """Else a judge that always says no would kill them all."""
    mutants.learn_the_core(n_stretches=5, vectors=mutants.VECTORS[:1])
    first = mutants.mutants()[0]
    assert mutants.killed_by(replace(first, now=first.was)) == ""


def test_day_numbers_of_a_century() -> None:
    assert mutants.day_numbers(core_library()) == list(range(36_525))
