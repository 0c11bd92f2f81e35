"""The year in a terminal: the right width, the right times, plain marks when asked."""

from __future__ import annotations

import re

import numpy as np
import pytest

from sunsched.base.civil_time import clock_text, date_of
from sunsched.plan.year import NO_MINUTE
from sunsched.report.text.terminal_year import lines
from tests.report.drawn import planned
from tests.report.test_year_map import AFTER_MIDNIGHT, POLAR, SOUTH_KEPT


@pytest.mark.parametrize("data", [POLAR, AFTER_MIDNIGHT, SOUTH_KEPT])
@pytest.mark.parametrize("width", [43, 80, 132])
def test_lines_fit_and_say_the_plans_times(data: dict[str, object], width: int) -> None:
    plan, _ = planned(data)
    found = lines(plan, width)
    bars = found[1:25]
    assert max(len(line) for line in found) <= width
    civil = {side: plan.civil_min(column) for side, column in (("c", plan.close_min), ("o", plan.open_min))}
    rows = [row for row in range(plan.n_days) if date_of(plan.first_day + row).day in (1, 16)]
    assert "door down" in " ".join(found[25:])
    for line, row in zip(bars, rows, strict=True):
        close = "  -  " if np.isnan(civil["c"][row]) else clock_text(round(float(civil["c"][row])) % 1440)
        assert line[7:12] == close
        if row + 1 < plan.n_days:
            opens = "-" if plan.open_min[row + 1] == NO_MINUTE else clock_text(round(float(civil["o"][row + 1])))
            assert line.split()[-1] == opens


def test_the_bar_is_down_as_long_as_the_door() -> None:
    plan, _ = planned(AFTER_MIDNIGHT)
    down_min = (plan.utc_min(plan.open_min)[1:] - plan.utc_min(plan.close_min)[:-1])[0]
    bar = lines(plan, 109, plain=True)[1][13:-6]
    # One cell is 1440 / 90 = 16 minutes; either end is off by half a cell at most.
    assert bar.count("#") * 1440 / len(bar) == pytest.approx(down_min, abs=16)


def test_plain_lines_are_ascii_and_colour_adds_nothing_else() -> None:
    plan, _ = planned(POLAR)
    assert all(line.isascii() for line in lines(plan, 80, plain=True))
    coloured = [re.sub("\x1b\\[[0-9]+m", "", line) for line in lines(plan, 80, colour=True)]
    assert [line.rstrip() for line in coloured] == lines(plan, 80)
    assert any("\x1b[34m" in line for line in lines(plan, 80, colour=True))
