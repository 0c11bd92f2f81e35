"""How small tables are on the project's own Sun: a sample of what `python tools/table_sizes.py` prints.

The bounds are the project's own goals, set from a trial with an approximate Sun; that they hold is what is tested.
"""

from __future__ import annotations

import importlib.util
import sys
from pathlib import Path
from types import ModuleType

import numpy as np
import pytest

from sunsched.table.image import of_bytes
from sunsched.table.layout import CODECS


def _tool() -> ModuleType:
    path = Path(__file__).parents[2] / "tools" / "table_sizes.py"
    spec = importlib.util.spec_from_file_location("table_sizes", path)
    assert spec is not None and spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules[spec.name] = module
    spec.loader.exec_module(module)
    return module


table_sizes = _tool()


@pytest.mark.parametrize("latitude_deg", [0, 52, 55])
def test_an_exact_year_takes_at_most_64_bytes_and_a_decoder_of_144(latitude_deg: int) -> None:
    table = table_sizes.one_year(latitude_deg, CODECS["curves"])
    assert table is not None and (table.worst_error_min, table.decoder_rules) == (0, ())
    assert table.data_bytes <= 64
    assert table.decoder_bytes <= 144
    # In one layout; asked for at 52 degrees.
    assert table.data_bytes + table.decoder_bytes <= 192
    plan = table_sizes.plan_at(latitude_deg, 2028)
    assert (of_bytes(table.raw).minutes(2028) == np.array([plan.open_min, plan.close_min])).all()


@pytest.mark.parametrize("latitude_deg", [45, 60])
def test_21_years_within_a_minute_take_at_most_64_bytes_and_a_decoder_of_140(latitude_deg: int) -> None:
    table = table_sizes.many_years(latitude_deg)
    assert table is not None and table.worst_error_min <= 1
    assert table.data_bytes <= 64
    assert table.decoder_bytes <= 140
    image = of_bytes(table.raw)
    assert (image.first_year, image.n_years) == (2027, 21)
    for year in (2027, 2028, 2047):
        plan = table_sizes.plan_at(latitude_deg, year)
        off = np.abs(image.minutes(year) - np.array([plan.open_min, plan.close_min]))
        assert off.max() <= 1


# sunsched/table/FORMAT.md, "Sizes": these figures. It is what the layout is kept for: no other fits an EEPROM.
@pytest.mark.parametrize(("share", "most_min", "blocks", "slopes"), [(0.05, 10, 307, 338), (1.0, 3, 431, 1523)])
def test_blocks_hold_irregular_years_in_the_fewest_bytes(share: float, most_min: int, blocks: int, slopes: int) -> None:
    tables = {name: table_sizes.irregular(share, most_min, CODECS[name]) for name in ("blocks", "slopes", "plain")}
    sizes = {name: len(table.raw) for name, table in tables.items()}
    assert sizes == {"blocks": blocks, "slopes": slopes, "plain": 1481}
    assert min(sizes, key=lambda name: sizes[name]) == "blocks"
