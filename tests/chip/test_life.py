"""The whole program living on an emulated ATmega328P: real weather's worst days, against plan, light and twin.

The whole year is one command: `python -m tests.chip.whole_year larch_end` (it prints its wall time).
"""

from __future__ import annotations

import datetime as dt

import pytest

from sunsched.job import compact
from tests.chip import judge, sites, skies
from tests.chip.runs import ChipRun, Twin, settings_of

# One life in each season; the first day is clear, so that the program proves its clock before the weather turns.
SEASONS: dict[str, tuple[dt.date, skies.Kind]] = {
    "spring": (dt.date(2027, 3, 27), "storm"),
    "summer": (dt.date(2027, 6, 20), "dull"),
    "autumn": (dt.date(2027, 9, 23), "passing_lamps"),
    "winter": (dt.date(2027, 12, 20), "snow"),
}
CASES = [(name, season) for n, name in enumerate(sites.SHIPPED) for season in list(SEASONS)[n % 2 :: 2]]


@pytest.mark.parametrize(("name", "season"), CASES)
def test_every_move_is_at_the_planned_or_light_decided_second(name: str, season: str) -> None:
    date, kind = SEASONS[season]
    row = sites.built(name, 2027).plan.row(date)
    chip_run = ChipRun(name, 2027, row, ["clear", kind])
    chip_run.run()
    assert chip_run.faults() == []
    assert chip_run.differences() == []
    chip_run.life.end()


@pytest.mark.parametrize("name", sites.SHIPPED)
def test_chip_computer_and_twin_live_the_same_day(name: str) -> None:
    row = sites.built(name, 2027).plan.row(dt.date(2027, 4, 11))
    chip_run = ChipRun(name, 2027, row, ["steady_lamp"])
    chip_run.run(recorded=True)
    assert chip_run.differences() == []
    twin = Twin(name, chip_run.plan)
    for record in chip_run.recorded:
        assert twin.differences(record) == []
    chip_run.life.end()


@pytest.mark.parametrize("layout", ["blocks", "auto"])
def test_a_year_renewed_in_eeprom_is_lived_without_touching_the_program(layout: str) -> None:
    name, year = "larch_end", 2028
    plan = sites.built(name, year).plan
    image = compact.compact(sites.built(name, year).configuration, [year], layout).table.raw
    assert len(image) <= 300
    row = plan.row(dt.date(2028, 3, 25))
    chip_run = ChipRun(name, year, row, ["clear"], image=image, compiled_year=2027)
    chip_run.run()
    assert f"# table {year}-01-01..{year}-12-31" in chip_run.life.chip_log
    assert chip_run.faults() == []
    assert chip_run.differences() == []
    chip_run.life.end()


def test_a_damaged_image_in_eeprom_is_not_believed() -> None:
    name = "larch_end"
    raw = bytearray(compact.compact(sites.built(name, 2028).configuration, [2028], "blocks").table.raw)
    raw[100] ^= 1
    chip_run = ChipRun(name, 2027, 100, ["clear"], image=bytes(raw))
    chip_run.run()
    assert "# table 2028" not in chip_run.life.chip_log
    assert chip_run.faults() == []
    assert chip_run.differences() == []
    chip_run.life.end()


def test_the_year_after_the_table_is_served_by_month_and_day() -> None:
    name = "larch_end"
    plan = sites.built(name, 2027).plan
    chip_run = ChipRun(name, 2027, plan.n_days - 1, ["clear"])
    chip_run.run()
    moves = [
        move for move in judge.moves_of(chip_run.life.events(), chip_run.first_s) if move.at_s > chip_run.first_s + 300
    ]
    assert [move.wanted for move in moves] == ["down", "up"]
    opening_min = moves[1].at_s / 60 - plan.n_days * 1440
    settings = settings_of(name)
    assert settings.morning_from_min <= opening_min - int(plan.open_min[0]) <= settings.morning_until_min
    assert chip_run.differences() == []
    chip_run.life.end()
