"""Three years of a keeper, the days around each change: the whole is `python tests/chip/line/keeper.py`."""

from __future__ import annotations

from tests.chip.line import keeper


def test_every_move_is_that_of_the_plan_valid_on_its_day() -> None:
    lived = keeper.lived_spans(keeper.AROUND, chip=False)
    assert lived.wrong == []
    assert lived.shut == 6  # 13 to 16 February, 19 and 20 March of 2028; none in 2029
    assert lived.worst_min <= 1
    assert lived.exact_days > 10


def test_an_order_loaded_in_february_on_the_emulated_chip() -> None:
    lived = keeper.lived_spans([keeper.AROUND[2]], chip=True)
    assert lived.wrong == []
    assert lived.shut == 4
