"""A sample of the proof that printed intervals hold the truth as often as they claim."""

import pytest

from tests.study.coverage_proof import (
    Coverage,
    of_replay,
    of_the_battery,
    of_the_share_left_out,
    of_the_update,
    of_w,
    table,
)


@pytest.mark.parametrize(
    ("part", "keepers", "least"),
    [
        # n tries at 95 % (or 90 %) claimed: three standard errors below, and 90 % at least where hundreds are tried.
        (of_the_share_left_out, 100, 0.86),
        (of_w, 25, 0.90),
        (of_the_update, 25, 0.90),
        (of_the_battery, 20, 0.80),
    ],
)
def test_intervals_hold_the_truth_as_often_as_they_claim(part, keepers, least) -> None:  # type: ignore[no-untyped-def]
    for found in part(keepers):
        assert found.tried >= keepers and found.share >= least, found


def test_cell_and_clock_of_a_few_logs_lie_in_their_ranges() -> None:
    for found in of_replay(6):
        assert found.tried >= 5 and found.held >= found.tried - 1, found


def test_the_table_names_every_interval() -> None:
    text = table([Coverage("one", "95 %", 10, 9), Coverage("two", "90 %", 4, 4)], 10)
    assert "| one | 95 % | 9 of 10 | 90.0% |" in text and "| two | 90 % | 4 of 4 | 100.0% |" in text
