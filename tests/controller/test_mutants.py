"""A sample of the changed cores: nearly all are told from the core. `mutants.py` tries all of them."""

from __future__ import annotations

import mutants

EVERY = 90


def test_a_sample_of_mutants() -> None:
    mutants.learn_the_core(n_stretches=60, vectors=mutants.VECTORS[:6])
    chosen = mutants.mutants()[7::EVERY]
    assert len(chosen) >= 10
    assert len(mutants.surviving(chosen)) <= len(chosen) // 5
