"""The choice of a table: exact, smallest, and honest about what does not fit."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from sunsched.base.errors import CapacityError, RangeError
from sunsched.config.toml_file import read
from sunsched.job.compact import chip_settings, compact, files_of, summary_of
from sunsched.job.pipeline import plan_of
from sunsched.plan.rules import Rules
from sunsched.plan.year import NO_MINUTE
from sunsched.table.choose import choose
from sunsched.table.facts import block_facts
from sunsched.table.image import of_bytes
from sunsched.table.layout import CODECS
from tests.support.made_plans import made_plan

CONFIGS = sorted((Path(__file__).parents[2] / "configs").glob("*.toml"))
# Bytes of the whole image by configuration, year 2028; all but the polar one fit a 256-byte EEPROM. Birch hollow's
# curve has 15 breaks in the evening alone: twilight, fallback light and limits follow each other, a season has other
# moments, and near the polar night sunset moves by half an hour a day.
ROOM = {"birch_hollow": 340}


@pytest.mark.parametrize("path", CONFIGS, ids=lambda path: path.stem)
def test_every_shipped_configuration_is_exact_and_fits(path: Path) -> None:
    configuration = read(path)
    work = compact(configuration, [2028], name=str(path))
    plan = work.plans[0]
    got = of_bytes(work.table.raw).minutes(2028)
    assert (got == np.array([plan.open_min, plan.close_min])).all()
    assert (work.table.worst_error_min, work.table.days_inexact) == (0, 0)
    assert len(work.table.raw) <= ROOM.get(path.stem, 256)
    assert summary_of(work)["image_bytes"] == len(files_of(work, "eeprom")[f"{path.stem}_2028.bin"])


def test_the_smallest_layout_is_taken() -> None:
    plan = made_plan()
    chosen = choose([plan], Rules())
    others = [choose([plan], Rules(), layout=layout) for layout in CODECS.values() if layout != CODECS["years"]]
    assert len(chosen.raw) == min(len(table.raw) for table in others)
    assert chosen.image.layout == CODECS["curves"]


def test_a_jagged_year_falls_back_to_blocks() -> None:
    # Invented: a fresh draw every day, which no curve follows.
    random = np.random.default_rng(5)
    opens, closes = (random.integers(*between, 366, dtype=np.int16) for between in ((300, 500), (900, 1200)))
    plan = made_plan(open_min=opens, close_min=closes)
    table = choose([plan], Rules())
    assert table.image.layout == CODECS["blocks"]
    assert (of_bytes(table.raw).minutes(2028) == np.array([plan.open_min, plan.close_min])).all()


def test_rules_ride_where_that_is_smaller() -> None:
    path = next(path for path in CONFIGS if path.stem == "larch_end")
    work = compact(read(path), [2028])
    assert {"weekdays", "limits"} <= set(work.table.decoder_rules)
    # Weekday shifts baked into the minutes: no curve follows them, and packed differences take several times more.
    baked = choose(work.plans, Rules(), chip_settings(read(path)))
    assert len(baked.raw) > 2 * len(work.table.raw)


def test_civil_time_rides_as_a_rule() -> None:
    path = next(path for path in CONFIGS if path.stem == "larch_end")
    configuration = read(path)
    civil = configuration.model_copy(update={"chip": configuration.chip.model_copy(update={"keeps": "civil"})})
    work = compact(civil, [2027])
    assert "summer time" in work.table.decoder_rules
    plan = plan_of(civil, 2027)
    assert (work.table.image.minutes(2027) == np.array([plan.open_min, plan.close_min])).all()


def test_too_little_room_says_by_how_much_and_what_would_fit() -> None:
    plan = made_plan()
    needs = len(choose([plan], Rules()).raw)
    less = len(choose([plan], Rules(), worst_error_min=1).raw)
    assert less < needs
    with pytest.raises(CapacityError) as caught:
        choose([plan], Rules(), room_bytes=needs - 1)
    assert f"takes {needs} bytes" in str(caught.value)
    assert f"1 more than the room of {needs - 1}" in str(caught.value)
    assert f"with --worst-error 1 layout curves would fit, {less} bytes" in str(caught.value)


def test_a_layout_that_cannot_is_refused() -> None:
    plan = made_plan(open_min=np.where(np.arange(366) % 2 == 0, 400, 430))
    with pytest.raises(CapacityError, match="layout curves cannot hold these minutes exactly"):
        choose([plan], Rules(), layout=CODECS["curves"])


def test_an_order_of_one_year_holds_in_that_year_only() -> None:
    plans = [made_plan(2027, shut=(10, 20)), made_plan(2028, shut=(70, 80)), made_plan(2029)]
    image = choose(plans, Rules(), worst_error_min=1).image
    assert image.to_bytes()[1] == 2
    for plan, year, shut in zip(plans, (2027, 2028, 2029), ((10, 20), (70, 80), (0, 0)), strict=True):
        down = np.zeros(plan.n_days, np.bool_)
        down[slice(*shut)] = True
        assert ((image.minutes(year) == NO_MINUTE) == down).all()
    # the facts of the days shut are those of the years in which the door moves then
    facts = block_facts(image.facts, plans[2].first_day, 365)
    assert (facts == plans[2].fact_bits).all()


def test_too_many_years_with_other_days_shut_are_refused_in_words() -> None:
    jagged = np.where(np.arange(366) % 4 == 0, NO_MINUTE, 400)
    plans = [
        made_plan(2027, open_min=np.roll(jagged, 1)[:365], close_min=np.roll(jagged, 1)[:365]),
        made_plan(2028, open_min=jagged, close_min=jagged),
    ]
    with pytest.raises(CapacityError, match="other dates in too many years for the rules of one table"):
        choose(plans, Rules(), worst_error_min=1)


def test_years_must_be_whole_and_follow_each_other() -> None:
    with pytest.raises(RangeError, match="whole calendar years"):
        choose([made_plan(2027), made_plan(2029)], Rules())
