"""JSON and CSV hold the plan, the whole plan, and where it came from."""

from __future__ import annotations

import csv
import io
import json
from pathlib import Path

from sunsched import __version__
from sunsched.base.civil_time import clock_text, tzdata_release
from sunsched.config.toml_file import read
from sunsched.emit import csv_table, json_table
from sunsched.job.pipeline import built
from sunsched.plan.year import NO_MINUTE


def test_json_says_what_the_plan_says(config_path: Path) -> None:
    work = built(read(config_path), 2027, str(config_path))
    result = json.loads(json_table.text(work.plan, work.stamp))
    assert (result["format"], result["revision"], result["tzdata"]) == ("sunsched-table", 1, tzdata_release())
    assert result["clock"] == {"keeps": work.plan.chip.keeps, "utc_offset_min": work.plan.chip_offset_min}
    assert [day["open_min"] for day in result["days"]] == [
        None if minute == NO_MINUTE else minute for minute in work.plan.open_min.tolist()
    ]
    assert [day["close_min"] is None for day in result["days"]] == (work.plan.close_min == NO_MINUTE).tolist()
    assert [day["close_by_twilight"] for day in result["days"]] == work.plan.close_by_twilight.tolist()
    assert result["settings"]["site"]["name"] == work.plan.site.name


def test_json_lines_are_what_the_json_module_writes(config_path: Path) -> None:
    work = built(read(config_path), 2028, str(config_path))
    lines = json_table.text(work.plan, work.stamp).split('"days":[\n')[1].split("\n],\n")[0].split(",\n")
    assert lines == [json.dumps(day, separators=(",", ":")) for day in json_table.days(work.plan)]


def test_csv_agrees_with_itself_and_the_plan(config_path: Path) -> None:
    work = built(read(config_path), 2027, str(config_path))
    rows = list(csv.DictReader(io.StringIO(csv_table.text(work.plan, work.stamp))))
    assert len(rows) == 365
    civil = work.plan.civil_min(work.plan.close_min)
    for k, row in enumerate(rows):
        # The last row's version is followed by the digest of the text.
        version, _, digest = row["sunsched"].partition(" ")
        assert (row["tzdata"], version, bool(digest)) == (tzdata_release(), __version__, k == len(rows) - 1)
        if row["open_min"] == "":
            assert row["open_civil"] == row["close_utc"] == row["open_for_min"] == ""
            assert row["close_reason"] in ("kept_in", "shut")
            continue
        assert int(row["close_min"]) - int(row["open_min"]) == int(row["open_for_min"])
        assert row["close_civil"] == clock_text(round(civil[k]))
        assert row["close_utc"].endswith("00Z")


def test_the_same_input_gives_the_same_bytes(config_path: Path) -> None:
    one, two = (built(read(config_path), 2028, name) for name in (str(config_path), f"/elsewhere/{config_path.name}"))
    assert json_table.text(one.plan, one.stamp) == json_table.text(two.plan, two.stamp)
    assert csv_table.text(one.plan, one.stamp) == csv_table.text(two.plan, two.stamp)
