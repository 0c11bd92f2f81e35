"""One more opening after a closing by light: worked out by hand for a few evenings of invented birds."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from sunsched.controller.door_settings import door_settings
from sunsched.hardware.parts import ClockSource, Door, LightCell
from sunsched.plan.rules import MomentRule, Rules
from sunsched.study.settings import Setting
from sunsched.study.stage import SecondChance
from sunsched.study.tally import let_in

PLANNED = 1200.0


def block_of(closed: list[float], birds_in: list[list[float]], chance: SecondChance, birds: int = 2) -> Any:
    """Evenings of one year with their closings, and when each bird comes (n_birds, n_evenings)."""
    planned = np.full(len(closed), PLANNED)
    own = Setting("both", "own", 5.0, 15.0, planned, planned - 700, (-10, 15), (-10, 15), role="own")
    stage = SimpleNamespace(
        scene=SimpleNamespace(n_days=len(closed)),
        follow_light=(0.5,),
        settings=(own,),
        second_chance=chance,
        birds=birds,
    )
    return SimpleNamespace(
        planned_min=lambda row, evening: planned,
        stage=stage,
        years=SimpleNamespace(n_years=1),
        flock=SimpleNamespace(birds=len(birds_in)),
        close_min=np.array([closed]),
        birds_in_min=np.array([birds_in]),
    )


# By hand. Up from close + 10 to close + 13. Evening 1: a bird at close + 4 waits and goes in, 3 min open after it.
# Evening 2: one at close + 12 goes in, 1 min open after it. Evening 3: one at close + 14 is too late, 3 min open.
# Evening 4: closed at the window's end, by no light: not raised. Evening 5: closed 8 min after the planned minute,
# up would be 18 after it, past the window's end at 15: not raised. Evening 6: the door stays down: no night at all.
def test_who_comes_in_and_what_it_costs() -> None:
    closed = [1195.0, 1195.0, 1195.0, 1215.0, 1208.0, np.nan]
    late = [1199.0, 1207.0, 1209.0, 1217.0, 1210.0, np.inf]
    early = [1180.0] * 6
    found = let_in(block_of(closed, [early, late], SecondChance(10, 180)))
    assert found.shape == (1, 1, 3)
    assert found[0, 0].tolist() == pytest.approx([2.0, (3 + 1 + 3) / 5, 3.0])


def test_birds_are_scaled_to_the_flock() -> None:
    found = let_in(block_of([1195.0], [[1180.0], [1199.0]], SecondChance(10, 180), birds=9))
    assert found[0, 0, 0] == pytest.approx(4.5)


def test_longer_up_lets_in_no_fewer_and_costs_more() -> None:
    rng = np.random.default_rng(3)
    closed = rng.uniform(1190, 1204, 40).tolist()
    birds = rng.uniform(1170, 1225, (5, 40)).tolist()
    shorter, longer = (let_in(block_of(closed, birds, SecondChance(10, s)))[0, 0] for s in (120, 600))
    assert longer[0] > shorter[0] and longer[1] > shorter[1] and longer[2] == shorter[2]


def test_without_clock_and_light_there_is_none() -> None:
    block = block_of([1195.0], [[1199.0]], SecondChance())
    block.stage.settings = ()
    assert not let_in(block).any()


def test_the_program_is_told_only_if_it_was_chosen() -> None:
    rules = Rules(evening=MomentRule(depression_deg=4.5, cell_from_min=-10, cell_until_min=15))
    settings = [
        door_settings(rules, LightCell(), ClockSource(), None, door)
        for door in (None, Door(reopen_for_s=240), Door(reopen_once=True, reopen_after_min=7, reopen_for_s=240))
    ]
    assert [(s.reopen_after_min, s.reopen_s) for s in settings] == [(10, 0), (10, 0), (7, 240)]
