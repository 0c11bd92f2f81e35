"""A year is worked out once for all its files, however many forms are made of it."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from sunsched.config.toml_file import read
from sunsched.emit.forms import FORMS
from sunsched.job import pipeline
from sunsched.job.tables import Ask, tables

CONFIG = Path(__file__).parents[2] / "configs" / "fig_yard.toml"


@pytest.mark.parametrize("years", [(2027,), (2027, 2028)])
def test_each_year_is_planned_once(years: tuple[int, ...], monkeypatch: pytest.MonkeyPatch) -> None:
    planned: list[int] = []
    right = pipeline.plan_of

    def counted(configuration: Any, year: int, name: str = "") -> Any:
        planned.append(year)
        return right(configuration, year, name)

    monkeypatch.setattr(pipeline, "plan_of", counted)
    made = tables(read(CONFIG), Ask(years, tuple(FORMS), worst_error_min=1))
    assert planned == list(years)
    assert len(made.plans) == len(years) and len(made.files) >= 5
