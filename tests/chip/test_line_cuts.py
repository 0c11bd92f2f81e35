"""Power cuts in loads, commits and ring writes, a sample: the whole is `python tests/chip/line/cuts.py`."""

from __future__ import annotations

from tests.chip.line import cuts


def test_a_cut_at_any_character_of_a_load_leaves_a_table_that_covers_the_day() -> None:
    tally = cuts.characters(step=29)
    assert tally.wrong == []
    assert tally.old > 80 and tally.new > 0


def test_a_cut_at_any_moment_of_a_commit_leaves_the_old_tables_or_the_new_one() -> None:
    tally = cuts.commits(60)
    assert tally.wrong == []
    assert tally.old > 0 and tally.new > 0


def test_a_cut_in_a_ring_write_loses_and_invents_no_event() -> None:
    n, most, wrong = cuts.ring(60, asked_every=15)
    assert wrong == []
    assert n == 60 and most > 5
