"""A sample of the proof that the vectorised evenings move when the door's program does, under wrong clocks too."""

from sunsched.study.trial import Why
from tests.study.trial_proof import MOST_FAST_MIN, Outcome, outcomes


def test_a_sample_of_evenings_under_wrong_clocks_moves_in_the_same_minute() -> None:
    # The whole proof, 10,000 evenings: python -m tests.study.trial_proof
    done = outcomes(100, seed=6)
    assert len(done) >= 100
    assert min(o.fast_min for o in done) < -2 and max(o.fast_min for o in done) > 2
    assert all(abs(o.fast_min) <= MOST_FAST_MIN for o in done)
    assert [o for o in done if o.ours[0] != o.program[0]] == []


def test_kinds_are_told_apart() -> None:
    assert Outcome(0, (5, Why.LIGHT), (5, Why.LIGHT)).kind == "same minute, same reason"
    assert Outcome(0, (5, Why.LIGHT), (6, Why.LIMIT)).kind == "program +1 min, LIGHT here and LIMIT in the program"
