"""One list of warnings: the same count and order in the table's summary, on the page and on the sheet."""

from __future__ import annotations

import datetime as dt
import re
from pathlib import Path
from typing import Any

import pytest

from sunsched.base.warned import Harm, Warned, by_harm
from sunsched.config.configuration import Configuration
from sunsched.config.toml_file import read, validated
from sunsched.hardware.drive_sums import drive_sums
from sunsched.hardware.parts import Door, Motor, Spool
from sunsched.job import pipeline, warnings
from sunsched.job.cell import cell_of
from sunsched.job.drive_and_battery import battery_of
from sunsched.job.tables import Ask, tables
from sunsched.report.page import report_file
from sunsched.report.sheets import handover, sheet_file
from sunsched.report.sheets.words import ENGLISH

SHIPPED = sorted((Path(__file__).parents[2] / "configs").glob("*.toml"))
SITE = {"name": "Hazel bank", "latitude_deg": 51.2, "longitude_deg": 6.1, "zone": "Europe/Berlin"}
# Three turns and a long lowering: the cord runs out and the spool raises the door.
BAD_DRIVE: dict[str, Any] = {
    "site": SITE,
    "door": {"travel_mm": 400, "plate_kg": 3.0, "guide_friction_n": 30.0},
    "spool": {"core_diameter_mm": 30, "cord_mm": 2, "turns_left_when_down": 3},
    "motor": {"volts": 12, "rpm": 40, "run_a": 0.5, "winding_ohm": 5.0, "cutoff_up_s": 6, "cutoff_down_s": 40},
}


def configurations() -> list[Any]:
    """The shipped sites and the bad drive."""
    shipped = [pytest.param(path, id=path.stem) for path in SHIPPED]
    return [*shipped, pytest.param(BAD_DRIVE, id="bad_drive")]


def configuration(given: Path | dict[str, Any]) -> Configuration:
    return read(str(given)) if isinstance(given, Path) else validated(given, "hazel")


@pytest.mark.parametrize("given", configurations())
def test_table_page_and_sheet_have_the_same_warnings(given: Path | dict[str, Any]) -> None:
    c = configuration(given)
    summary = tables(c, Ask((2027,), ("csv",)), "x.toml").summary["warnings"]
    page = report_file.report_of(pipeline.built(c, 2027, "x.toml"), "x.toml").decode()
    sheet = sheet_file.sheet_of(c, dt.date(2027, 1, 1), dt.date(2027, 12, 31), "x.toml")
    assert [warned.text for warned in sheet.warnings] == summary
    assert page.count('class="warning"') == len(summary)
    lead = re.search(r'class="lead">(.*?)</p>', page)
    assert lead is not None
    told = re.search(r"(\d+) warning", lead[1])
    assert (int(told[1]) if told else 0) == len(summary)
    text = handover.text(sheet)
    head = re.search(re.escape(ENGLISH.warnings_heading).replace(r"\{n\}", r"(\d+)"), text, re.IGNORECASE)
    assert (int(head[1]) if head else 0) == len(summary)
    # The drive's part of the list is what its own command warns of.
    if c.motor is not None and c.door is not None and c.spool is not None:
        bad = [one for one in drive_sums(c.door, c.spool, c.motor).verdicts if one.state != "holds"]
        assert sum(one.happens in each for one in bad for each in summary) == len(bad)


def test_a_page_above_a_bad_drive_never_says_that_there_are_no_warnings() -> None:
    page = report_file.report_of(pipeline.built(configuration(BAD_DRIVE), 2027)).decode()
    assert "RAISES the door" in page
    assert "No warnings" not in page and "None for this year" not in page
    # The spool comes first: it harms most, and it fails whatever the ranges are.
    first = re.search(r'class="warning"><p><b>Warning: </b>(.*?)</p>', page)
    assert first is not None and first[1].startswith("turns on the spool fails")


def test_each_stands_once_and_the_most_harmful_first() -> None:
    found = warnings.all_warnings(configuration(BAD_DRIVE), pipeline.plan_of(configuration(BAD_DRIVE), 2027))
    assert len({warned.name for warned in found}) == len(found) > 2
    assert [warned.harm for warned in found] == sorted(warned.harm for warned in found)
    assert all(warned.to_do.endswith(".") and not warned.text.endswith(".") for warned in found)
    light, life = Warned("a", Harm.LIGHT, "a", "A."), Warned("b", Harm.LIFE, "b", "B.", certain=False)
    sure = Warned("c", Harm.LIFE, "c", "C.")
    assert by_harm([light, life, sure, light]) == (sure, life, light)


def test_every_verdict_has_its_harm() -> None:
    machine = (
        Door(push_from_below_n=40.0),
        Spool(cord_breaking_n=200.0),
        Motor(cable_a=2.0),
    )
    names = {one.name for one in drive_sums(*machine).verdicts}
    larch = next(path for path in SHIPPED if path.stem == "larch_end")
    names |= {one.name for one in battery_of(read(str(larch)), 2027, "", weather_years=20).sums.verdicts}
    assert names == set(warnings.HARMS)


def test_a_limit_that_the_keeper_wrote_is_no_warning() -> None:
    limited = {"site": SITE, "morning": {"not_before": "08:45"}, "evening": {"not_before": "15:30"}}
    plan = pipeline.plan_of(validated(limited, "x"), 2027)
    assert pipeline.summary_of(plan)["reasons"]["open"]["not_before"] > 300
    assert plan.warnings == ()


def test_the_cell_counts_where_it_is_described_or_may_move_the_door() -> None:
    clock_alone: dict[str, Any] = {"site": SITE}
    assert not warnings.cell_counts(validated(clock_alone, "x"))
    for more in (
        {"evening": {"cell_from_min": -5, "cell_until_min": 5}},
        {"light_cell": {"fixed_ohm": 100_000.0}},
        {"season": [{"name": "cubs", "from": "04-15", "to": "07-10", "evening": {"cell_until_min": 9}}]},
    ):
        c = validated({**clock_alone, **more}, "x")
        assert warnings.cell_counts(c)
        found = warnings.all_warnings(c, pipeline.plan_of(c, 2027))
        assert [warned.name for warned in found] == [warned.name for warned in cell_of(c, 2027).warnings] != []
