"""The plan as JSON: the minutes, their reasons, and the facts that the chip gets beside them."""

from __future__ import annotations

import datetime as dt
import json
from collections.abc import Iterator
from functools import lru_cache
from typing import Any

import numpy as np
from numpy.typing import NDArray

from sunsched.base import inputs
from sunsched.base.civil_time import date_of, day_number
from sunsched.base.errors import DamagedError
from sunsched.base.text_digest import EMPTY, with_digest
from sunsched.emit.read_table import ReadTable, refuse_beyond_16_bits, refuse_other_dates, text_of
from sunsched.emit.stamp import Stamp, chip_data_sha256
from sunsched.plan.reasons import WORDS
from sunsched.plan.year import FACTS, NO_MINUTE, YearPlan

FORMAT, REVISION = "sunsched-table", 1


def text(plan: YearPlan, stamp: Stamp) -> str:
    """The plan as JSON, one line a day so that two years can be compared line by line."""
    head = {
        "format": FORMAT,
        "revision": REVISION,
        "sunsched": stamp.version,
        "tzdata": stamp.tzdata,
        "plan_sha256": stamp.plan_sha256,
        "site": plan.site.model_dump(mode="json"),
        "clock": {"keeps": plan.chip.keeps, "utc_offset_min": plan.chip_offset_min},
        "warnings": [warned.text for warned in plan.warnings],
        "settings": stamp.settings,
    }
    # Written out by hand: json.dumps takes ten times as long, and this is a third of the time of a batch.
    # A test in tests/emit compares the lines with what json.dumps makes of `days`.
    parts = [_CLOSES] * (7 * plan.n_days)
    parts[0::7] = _dates(plan.first_day, plan.n_days)
    parts[1::7], parts[3::7] = _numbers(plan.open_min, _OR_NULL), _numbers(plan.close_min, _OR_NULL)
    pairs = plan.open_reason * np.int64(len(WORDS)) + plan.close_reason
    parts[4::7] = map(_WHY.__getitem__, pairs.tolist())
    parts[5::7] = _numbers(plan.midnight_min, _MINUTES)
    parts[6::7] = map(_FACT_TEXTS.__getitem__, plan.fact_bits.tolist())
    body = "".join(parts).removeprefix(",\n")
    return with_digest(f'{_line(head)[:-1]},\n"days":[\n{body}\n],\n"text_digest":"{EMPTY}"}}\n')


@lru_cache(maxsize=8)  # the sites of a batch share their dates
def _dates(first_day: int, n_days: int) -> tuple[str, ...]:
    """The beginning of each day's line."""
    return tuple(f',\n{{"date":"{date_of(first_day + row)}","open_min":' for row in range(n_days))


_CLOSES = ',"close_min":'
_WHY = [
    f',"open_reason":"{why_open}","close_reason":"{why_close}","solar_midnight_min":'
    for why_open in WORDS
    for why_close in WORDS
]


class _Digits(dict[int, str]):
    """Minutes as text, each made once: the days of all sites have the same few thousand."""

    def __missing__(self, minute: int) -> str:
        self[minute] = str(minute)
        return self[minute]


_MINUTES, _OR_NULL = _Digits(), _Digits({NO_MINUTE: "null"})


def _numbers(minutes: NDArray[np.int16], texts: _Digits) -> Iterator[str]:
    # Not a comprehension: a lookup in a kind of dict is slow there, and this is a sixth of a site's time in a batch.
    return map(texts.__getitem__, minutes.tolist())


_FACT_TEXTS = [
    "".join(f',"{fact.name}":{"true" if bits & fact.bit else "false"}' for fact in FACTS) + "}"
    for bits in range(1 << len(FACTS))
]


def _line(value: Any) -> str:
    return json.dumps(value, ensure_ascii=False, separators=(",", ":"))


def days(plan: YearPlan) -> list[dict[str, Any]]:
    """Each day as plain data; minutes are null on a day shut."""
    columns = zip(
        plan.days.tolist(),
        plan.open_min.tolist(),
        plan.close_min.tolist(),
        plan.open_reason.tolist(),
        plan.close_reason.tolist(),
        plan.midnight_min.tolist(),
        zip(*(column.tolist() for column in plan.fact_columns), strict=True),
        strict=True,
    )
    return [
        {
            "date": date_of(day).isoformat(),
            "open_min": None if opens == NO_MINUTE else opens,
            "close_min": None if closes == NO_MINUTE else closes,
            "open_reason": WORDS[why_open],
            "close_reason": WORDS[why_close],
            "solar_midnight_min": midnight,
            **{fact.name: holds for fact, holds in zip(FACTS, flags, strict=True)},
        }
        for day, opens, closes, why_open, why_close, midnight, flags in columns
    ]


def read(raw: bytes) -> ReadTable:
    """The days of a JSON table. Raises DamagedError if it is no such table or its digest is wrong."""
    try:
        return _taken_apart(inputs.json_of(text_of(raw)))
    except (ValueError, KeyError, TypeError, AttributeError, IndexError, OverflowError) as error:
        raise DamagedError(f"not a whole JSON table: {type(error).__name__}: {error}") from None


def _taken_apart(table: dict[str, Any]) -> ReadTable:
    if (table["format"], table["revision"]) != (FORMAT, REVISION):
        raise DamagedError(f"format '{table['format']}' revision {table['revision']}; wanted {FORMAT} 1")
    days = table["days"]
    year = dt.date.fromisoformat(days[0]["date"]).year
    refuse_other_dates(year, [day["date"] for day in days])
    if any(day[key] not in WORDS for day in days for key in ("open_reason", "close_reason")):
        raise DamagedError("a reason that is none")
    names = ("open_min", "close_min", "solar_midnight_min")
    columns = [np.array([NO_MINUTE if d[name] is None else int(d[name]) for d in days]) for name in names]
    for column in columns:
        refuse_beyond_16_bits(column)
    flags = [np.array([d[fact.name] is True for d in days]) for fact in FACTS]
    keeps, offset = str(table["clock"]["keeps"]), int(table["clock"]["utc_offset_min"])
    digest = chip_data_sha256(day_number(dt.date(year, 1, 1)), keeps, offset, columns, flags)
    if digest != table["plan_sha256"]:
        raise DamagedError(f"the days' sha256 is {digest}, the table says {table['plan_sha256']}")
    return ReadTable({year: np.array(columns[:2], np.int32)}, None, keeps, offset, plan_sha256=digest)
