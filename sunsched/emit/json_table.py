"""The plan as JSON: the minutes, their reasons, and what the chip is told beside them."""

from __future__ import annotations

import json
from typing import Any

from sunsched.base.civil_time import date_of
from sunsched.emit.stamp import Stamp
from sunsched.plan.reasons import WORDS
from sunsched.plan.year import NO_MINUTE, YearPlan

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
        "warnings": list(plan.warnings),
        "settings": stamp.settings,
    }
    body = ",\n".join(_line(day) for day in days(plan))
    return f'{_line(head)[:-1]},\n"days":[\n{body}\n]}}\n'


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
        plan.dark_expected.tolist(),
        plan.light_expected.tolist(),
        plan.open_by_twilight.tolist(),
        plan.close_by_twilight.tolist(),
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
            "dark_expected": dark,
            "light_expected": light,
            "open_by_twilight": by_dawn,
            "close_by_twilight": by_dusk,
        }
        for day, opens, closes, why_open, why_close, midnight, dark, light, by_dawn, by_dusk in columns
    ]
