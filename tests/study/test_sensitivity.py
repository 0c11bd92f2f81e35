"""What a comparison hangs on: an independent check's figures, and the properties of moving one input at a time."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from sunsched.hardware.assumed import assumptions
from sunsched.hardware.figures import Assumption, Span, exactly
from sunsched.hardware.model import MODEL, Model
from sunsched.job.comparison import assumptions_of, stages_of
from sunsched.study.block import SameNights, draw_block, judged_evenings, weather_rng
from sunsched.study.sensitivity import SEED_STEP, Verdict, _gaps, kept_settings, sensitivity
from sunsched.study.stage import Stage
from sunsched.study.tally import Difference
from tests.support import study_sites as sites

SUN, HALF, LIGHT = 0, 1, 2  # birds that follow the Sun, half and half, the light


@cache
def stages(model: Model) -> tuple[Stage, Callable[[Mapping[str, float]], Stage]]:
    c = sites.configuration().model_copy(update={"model": model})
    found = sites.scene(c, model)
    made = sites.settings(found, (1.5, 3.0, 5.0, 8.0, 14.0), (-12, -6, 0, 6, 12, 20, 30))
    owned = [replace(s, role="own" if s.label in ("5 lux", "+0 min") else "swept") for s in made]
    on = sites.stage(c, owned, found, model=model)
    if model is MODEL:
        on = replace(on, drift_ppm=c.clock.drift_ppm)
    return on, stages_of(c, on)


def clock_less_both(values: Mapping[str, float], follow: int, model: Model = sites.ONE_SKY) -> float:
    _, stage_with = stages(model)
    return _gaps(stage_with(values), "both", 1, 32)[follow, "clock", "both"].mean


# An independent check of the model in which cell and birds share one sky: with a random ratio of cell to sky of 0.2
# (log10) an evening, "clock - both" at w = 0.5 goes from "cannot tell" to -18.8 birds; with 0.3 even w = 1 turns.
def test_a_cell_under_another_sky_turns_the_comparison() -> None:
    one_sky, other_sky = (clock_less_both({"model.cell_sky_log10": sd}, HALF) for sd in (0.0, 0.2))
    assert -30 < other_sky - one_sky < -8
    assert (
        clock_less_both({"model.cell_sky_log10": 0.0}, LIGHT)
        > 0
        > clock_less_both({"model.cell_sky_log10": 0.3}, LIGHT)
    )


# The same check: a cell spread of 0.28 instead of 0.14 takes most of what w = 1 shows, and so does 0.6 for what clouds
# take from twilight; birds that go in at 100 lux instead of 600 multiply what is lost.
@pytest.mark.parametrize(
    ("key", "end"), [("light_cell.spread", 3.61), ("model.deep_twilight_share", 0.6), ("model.bird_level_lux", 600.0)]
)
def test_other_unnamed_assumptions_take_from_it_too(key: str, end: float) -> None:
    assert clock_less_both({key: end}, LIGHT) < 0.8 * clock_less_both({}, LIGHT)


def test_an_end_that_is_the_stated_value_changes_nothing() -> None:
    for one in assumptions_of(sites.configuration()):
        _, stage_with = stages(MODEL)
        value = one.span.value
        stated, again = (_gaps(stage_with(keys), "both", 3, 2) for keys in ({}, {one.key: value}))
        assert {k: g.mean for k, g in stated.items()} == {k: g.mean for k, g in again.items()}, one.key


def test_other_values_meet_the_same_weather() -> None:
    # An input of the flock leaves every closing as it was; one of the cell leaves every bird.
    _, stage_with = stages(MODEL)

    def block(values: Mapping[str, float]):  # type: ignore[no-untyped-def]
        rng = weather_rng(5, 0)
        return judged_evenings(stage_with(values), *draw_block(stage_with(values), 2, rng), rng)

    stated = block({})
    for key, low in (("model.bird_level_lux", 100.0), ("model.straggler_share", 0.03), ("model.bird_jitter_min", 8.0)):
        assert np.array_equal(block({key: low}).close_min, stated.close_min, equal_nan=True), key
    for key, low in (("model.cell_sky_log10", 0.3), ("light_cell.spread", 1.0), ("clock.drift_ppm", 50.0)):
        moved = block({key: low})
        assert np.array_equal(moved.birds_in_min, stated.birds_in_min), key
        assert not np.array_equal(moved.close_min, stated.close_min, equal_nan=True), key


@pytest.mark.parametrize(
    ("key", "end", "kept"),
    [
        ("model.deep_twilight_share", 0.6, (False, False)),
        ("model.minute_spread_log10", 0.15, (False, False)),
        ("model.evening_spread_log10", 0.16, (False, False)),
        ("model.storm_share", 1.0, (False, False)),
        ("model.snow_share", 2.0, (False, False)),
        ("model.cell_sky_log10", 0.3, (False, True)),
        ("light_cell.spread", 1.0, (False, True)),
        ("clock.drift_ppm", 50.0, (False, True)),
        ("model.bird_jitter_min", 8.0, (True, False)),
        ("model.cell_sky_log10", 0.15, (True, True)),
    ],
)
def test_what_is_taken_from_the_first_run_changes_nothing(key: str, end: float, kept: tuple[bool, bool]) -> None:
    _, stage_with = stages(MODEL)
    same = SameNights()
    _gaps(stage_with({}), "both", 3, 2, same)
    moved, alone = _gaps(stage_with({key: end}), "both", 3, 2, same), _gaps(stage_with({key: end}), "both", 3, 2)
    assert {name: gap.mean for name, gap in moved.items()} == {name: gap.mean for name, gap in alone.items()}
    stage, rng = stage_with({key: end}), weather_rng(3 + SEED_STEP, 0)
    again = judged_evenings(stage, *draw_block(stage, 2, rng), rng, same)
    assert same.block is not None
    assert (again.close_min is same.block.close_min, again.birds_in_min is same.block.birds_in_min) == kept


def test_a_key_that_the_keeper_wrote_is_not_moved() -> None:
    written = Model(cell_sky_log10=0.1)
    spans = {one.key: one.span for one in assumptions(written, "compare")}
    assert spans["model.cell_sky_log10"] == exactly(0.1)
    assert not spans["model.bird_level_lux"].fixed


def test_every_range_holds_its_value_and_says_what_it_rests_on() -> None:
    listed = assumptions_of(sites.configuration())
    assert len({one.key for one in listed}) == len(listed) >= 15
    for one in listed:
        assert one.span.low <= one.span.value <= one.span.high and len(one.why) > 20, one.key


def test_a_verdict_names_the_value_at_which_it_turns() -> None:
    _, stage_with = stages(sites.ONE_SKY)
    sky = Assumption("model.cell_sky_log10", Span(0.0, 0.0, 0.3), "assumed, for this test")
    main = {(LIGHT, "clock", "both"): Difference(clock_less_both({}, LIGHT), 0.1)}
    found = sensitivity(stage_with, (sky,), "both", main, 1, 32)  # type: ignore[arg-type]
    (verdict,) = found.verdicts
    assert verdict.significant and not verdict.firm
    moved = (*verdict.turned_by, *verdict.hidden_by)
    assert [m.keys for m in moved] == [("model.cell_sky_log10",)]
    (turned,) = moved
    # By a straight line between the ends: somewhere between them, where the difference passes 0.
    assert turned.turns_at is not None and 0.0 < turned.turns_at < 0.3
    share = turned.turns_at / 0.3
    assert verdict.birds_out * (1 - share) + turned.birds_out * share == pytest.approx(0.0, abs=1e-9)


def test_nothing_that_moves_it_makes_a_verdict_firm() -> None:
    still = Verdict(1.0, "clock", "both", 12.0, 1.0, True, (), (), None)
    assert still.firm and "fewer out" in still.words
    assert not replace(still, significant=False).firm and replace(still, significant=False).words == "cannot tell"


def test_kept_settings_hold_every_strategys_own() -> None:
    on, _ = stages(MODEL)
    kept = kept_settings(on.settings)
    assert {s.strategy for s in kept if s.role == "own"} == {"light", "clock", "both"}
    assert all(s.on_curve for s in kept)
    far = replace(on.settings[0], dark_lux=100.0, role="swept")
    assert far not in kept_settings((far, *on.settings))
