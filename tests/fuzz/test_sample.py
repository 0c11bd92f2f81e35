"""A sample of the fuzzers; `python -m tests.fuzz.all --minutes 10` is the whole."""

from __future__ import annotations

import pytest

from tests.fuzz.all import fuzzed
from tests.fuzz.targets import TARGETS, Target

CASES = {"configuration": 150, "tables": 200, "logs": 200, "sites files": 60, "kept records": 60}


@pytest.mark.filterwarnings("ignore")
@pytest.mark.parametrize("target", TARGETS, ids=lambda target: target.name)
def test_no_damaged_input_falls(target: Target) -> None:
    tally = fuzzed(target, seed=7, cases=CASES[target.name])
    assert [f"{name}: {error[-600:]}" for name, _, error in tally.fallen] == []
    # Both ends are met: what is damaged is refused, and what is not is taken.
    assert tally.outcomes["refused"] > 0 and tally.outcomes["accepted"] > 0
