"""The comparison as a job: what it holds, its texts, its picture."""

import csv
import io
import json
import re
import xml.etree.ElementTree as ET
from itertools import combinations

import numpy as np
import pytest

from sunsched.base import cautions
from sunsched.base.errors import UsageError
from sunsched.config.configuration import Configuration
from sunsched.job import fault_comparison
from sunsched.job.climate_file import MonthlyClimate
from sunsched.job.comparison import Comparison, comparison_of, late_minute_of
from sunsched.report.pictures import comparison
from sunsched.report.pictures.lettering import text_box
from sunsched.report.pictures.picture_file import checked_ending
from sunsched.report.pictures.svg import TEXT
from sunsched.report.text.comparison import comparison_csv, comparison_text
from sunsched.report.text.comparison_answer import comparison_answer
from sunsched.report.text.comparison_tables import plain
from sunsched.report.text.fault_nights import fault_csv, fault_text
from sunsched.study.settings import IN_WORDS
from sunsched.study.tally import CANNOT_TELL
from tests.report.drawn import SVG, level_axis, marks_in, upright_axis
from tests.study import answer_proof
from tests.support import study_sites as sites


@pytest.fixture(scope="module")
def work() -> Comparison:
    return comparison_of(sites.configuration(), 2026, 20, seed=2)


@pytest.fixture(scope="module")
def faults() -> fault_comparison.FaultComparison:
    return fault_comparison.fault_comparison_of(sites.configuration(), 2026, 2, 2, (0.5,), 1410)


def test_json_holds_every_setting_with_error_and_band(work: Comparison) -> None:
    found = plain(work)
    assert json.loads(json.dumps(found)) == found
    assert [s["strategy"] for s in found["settings"] if s["yours"]] == ["both"]
    assert {s["strategy"] for s in found["settings"]} == {"light", "clock", "both"}
    for setting in found["settings"]:
        assert [b["follow_light"] for b in setting["by_follow_light"]] == [0.0, 0.5, 1.0]
        for figures in setting["by_follow_light"]:
            minutes = figures["open_after_dark_min"]
            assert minutes["error"] > 0 and minutes["low"] <= minutes["mean"] <= minutes["high"]
    assert found["limits"][0] == cautions.HENS_ONLY and set(cautions.STUDY_LIMITS) < set(found["limits"])


def test_equal_minutes_are_compared_for_each_share_and_no_winner_is_named(work: Comparison) -> None:
    tables = plain(work)["at_equal_minutes"]
    assert [t["follow_light"] for t in tables] == [0.0, 0.5, 1.0]
    for table in tables:
        for pair in table["differences"]:
            clear = pair["birds_out"] is not None
            assert (pair["words"] == CANNOT_TELL) is not clear
            if clear:
                assert abs(pair["birds_out"]) > 2 * pair["error"]
                one, other = (table["birds_out"][pair[name]]["mean"] for name in ("of", "less"))
                # All three are printed to seven digits.
                assert pair["birds_out"] == pytest.approx(one - other, abs=2e-6 * max(one, other))
    assert "winner" not in plain(work)


def test_dull_months_and_reopenings_are_there(work: Comparison) -> None:
    found = plain(work)
    shifts = found["dull_evening_shift"]
    assert [s["month"] for s in shifts] == list(range(1, 13))
    # Dull evenings close a cell early and more so in the dullest tenth; simulated before: 10.5 min at 52 N.
    assert all(-25 < s["dullest_tenth_min"] < s["mean_min"] < 0 for s in shifts)
    # A lamp each evening reopened an unlatched door on 214 nights a year in an earlier simulation, with the lamp up
    # to four hours after sunset: most of them, as most lamps are lit after the door is down.
    assert 150 < found["unlatched_light_reopens"]["by_a_lamp_each_evening"]["mean"] < 366


def test_cells_that_see_less_close_earlier(work: Comparison) -> None:
    rows = [r for r in plain(work)["spread"] if r["strategy"] == "light" and r["figure"] == "open_after_dark_min"]
    assert len(rows) == 3
    assert all(r["cell_sees_less"] < r["stated_cell"] < r["cell_sees_more"] for r in rows)


def test_the_first_line_says_what_the_table_says(work: Comparison) -> None:
    assert answer_proof.faults(plain(work)) == []
    assert comparison_text(work).splitlines()[0] == comparison_answer(plain(work)).answer


def test_the_text_has_every_part_and_the_limits(work: Comparison) -> None:
    text = comparison_text(work, every=True)
    for words in ("w = 0)", "w = 0.5)", "w = 1)", "AT YOUR OWN MINUTES", "AT LEAST AS GOOD", "MORNINGS", "BY MONTH"):
        assert words in text
    assert max(len(line) for line in text.splitlines()) <= 80
    flat = " ".join(text.split())
    assert all(line in flat for line in (cautions.HENS_ONLY, *cautions.STUDY_LIMITS))
    assert (
        sum(line.startswith("*") for line in text.splitlines()) == 9
    )  # near, note, 3 evenings, flock, 2 mornings, door


def test_csv_reads_back(work: Comparison) -> None:
    lines = [line for line in comparison_csv(work).splitlines() if not line.startswith("# ")]
    rows = list(csv.DictReader(io.StringIO("\n".join(lines))))
    n_settings = len(plain(work)["settings"])
    assert len(rows) == n_settings * (3 * 5 + 5)
    one = next(r for r in rows if r["yours"] == "yes" and r["figure"] == "birds_out" and r["follow_light"] == "0.5")
    stated = work.estimate(1, work.chosen.own_row, "birds_out")
    assert float(one["mean"]) == pytest.approx(stated.mean, rel=1e-5)


def test_the_same_seed_gives_the_same_bytes(work: Comparison) -> None:
    again = comparison_of(sites.configuration(), 2026, 20, seed=2)
    assert comparison_text(again, every=True) == comparison_text(work, every=True)
    assert comparison.chart_of(again, ".svg") == comparison.chart_of(work, ".svg")


@pytest.mark.usefixtures("two_assumptions")
def test_another_seed_gives_other_weather(work: Comparison) -> None:
    other = comparison_of(sites.configuration(), 2026, 20, seed=3)
    assert plain(other)["settings"] != plain(work)["settings"]


def test_the_picture_holds_the_values_of_the_json(work: Comparison) -> None:
    root, found = ET.fromstring(comparison.chart_of(work, ".svg").decode()), plain(work)
    texts = [(float(t.attrib["y"]), t.text or "") for t in root.iter(f"{SVG}text")]
    edges = [y for y, words in texts if words == "birds out a year"]
    assert len(edges) == 3
    for strategy in ("light", "clock", "both"):
        curve = {one.label for one in work.settings if one.strategy == strategy and one.on_curve}
        rows = [r for r in found["settings"] if r["strategy"] == strategy and r["setting"] in curve]
        drawn = marks_in(root, f"points-{strategy}")
        assert [len(points) for points in drawn] == [len(rows)] * 3
        for number, points in enumerate(drawn):
            up = upright_axis(root, edges[number], [*edges, 1e6][number + 1], logarithmic=True)
            along = level_axis(root, edges[number] + comparison.PLOT_HEIGHT, logarithmic=True)
            cases = [row["by_follow_light"][number] for row in rows]
            wanted = sorted(
                (case["open_after_dark_min"]["mean"], max(case["birds_out"]["mean"], comparison.LEAST_BIRDS))
                for case in cases
            )
            # A coordinate's hundredth is a twentieth of a per cent on these axes.
            got = [(along.value(x), up.value(y)) for x, y in points]
            assert np.array(got) == pytest.approx(np.array(wanted), rel=0.01)


def test_only_yours_and_the_ends_are_named_and_nothing_touches(work: Comparison) -> None:
    root = ET.fromstring(comparison.chart_of(work, ".svg").decode())
    names = [t for t in root.iter(f"{SVG}text") if t.get("class", "").startswith("name")]
    assert [t.text for t in names].count("yours") == 3
    assert len(names) <= 3 * 7
    boxes = [
        text_box(float(t.attrib["x"]), float(t.attrib["y"]), t.text or "", TEXT, t.attrib["text-anchor"]) for t in names
    ]
    assert not any(one.touches(other) for one, other in combinations(boxes, 2))
    for strategy in ("light", "clock", "both"):
        # The ends of each curve in each panel, beside the ring of the own one.
        rows = [s for s in work.settings if s.strategy == strategy and s.on_curve]
        short = {row.label.split(",")[0].split(" within")[0] for row in rows}
        assert sum((t.text or "") in short and f"f-by_{strategy}" in t.attrib["class"] for t in names) == 2 * 3


def test_the_differences_from_yours_are_those_of_the_json(work: Comparison) -> None:
    root, found = ET.fromstring(comparison.chart_of(work, ".svg").decode()), plain(work)["at_equal_minutes"]
    zeros = [float(line.attrib["x1"]) for line in root.iter(f"{SVG}line") if line.get("class", "").startswith("zero")]
    own, texts = work.chosen.own_strategy, [t.text or "" for t in root.iter(f"{SVG}text")]
    for strategy in {"light", "clock", "both"} - {own}:
        drawn = iter(marks_in(root, f"beside-{strategy}"))
        said = [words.split(": ")[1] for words in texts if words.startswith(f"{IN_WORDS[strategy]}: ")]
        for number, entry in enumerate(found):
            birds = [entry["birds_out"][one] for one in (strategy, own)]
            if birds[0] is None or birds[1] is None:
                assert said[number] == "not reached"
                continue
            mean = birds[0]["mean"] - birds[1]["mean"]
            ((x, _),) = next(drawn)
            assert (x > zeros[number]) == (mean > 0)
            if said[number] != "cannot tell":
                amount, way = said[number].split()
                assert float(amount) == pytest.approx(abs(mean), rel=0.01, abs=0.006)
                assert way == ("more" if mean > 0 else "fewer")


def test_the_title_is_what_yours_costs(work: Comparison) -> None:
    cases = next(row for row in plain(work)["settings"] if row["yours"])["by_follow_light"]
    found = comparison.comparison_finding(comparison.trade_offs(work))
    birds, minutes = re.findall(r"([\d.]+)(?: to ([\d.]+))?", found)
    for ends, figure in ((birds, "birds_out"), (minutes, "open_after_dark_min")):
        means = [case[figure]["mean"] for case in cases]
        assert [float(end) for end in ends if end] == pytest.approx([min(means), max(means)], rel=0.01)
    text = comparison.chart_of(work, ".svg").decode()
    assert "no forecast" in text and found.split(" and ")[0] in text


def test_a_picture_of_another_kind_is_refused() -> None:
    with pytest.raises(UsageError, match=r"--chart is 'trade\.gif'; wanted a file ending in \.svg or \.png"):
        checked_ending("trade.gif", "--chart")


def test_a_flock_of_none_has_a_door_but_no_birds() -> None:
    found = comparison_of(sites.configuration(birds=0), 2026, 2, seed=1)
    text = comparison_text(found, every=True)
    assert "no birds are given" in text and "THE DOOR" in text and "EVENINGS" not in text
    assert plain(found)["at_equal_minutes"] == []
    with pytest.raises(UsageError, match="no birds to draw"):
        comparison.chart_of(found, ".svg")


@pytest.mark.usefixtures("two_assumptions")
@pytest.mark.parametrize(
    ("window", "strategy"), [((0, 0), "clock"), ((-10, 15), "both"), ((-600, 600), "light"), ((-400, 15), "both")]
)
def test_the_minutes_in_which_the_cell_may_act_say_what_the_keeper_has(window: tuple[int, int], strategy: str) -> None:
    c = sites.configuration()
    keys = {"cell_from_min": window[0], "cell_until_min": window[1]}
    changed = Configuration.model_validate({**c.model_dump(), "evening": {**c.evening.model_dump(), **keys}})
    found = comparison_of(changed, 2026, 2, seed=1)
    assert found.chosen.own_strategy == strategy
    assert [s["strategy"] for s in plain(found)["settings"] if s["yours"]] == [strategy]


@pytest.mark.usefixtures("two_assumptions")
def test_a_given_climate_is_used_and_named() -> None:
    dull, bright = (MonthlyClimate((clearness,) * 12, None, "climate.csv") for clearness in (0.25, 0.65))
    found = [comparison_of(sites.configuration(), 2026, 16, seed=1, climate=c) for c in (dull, bright)]
    means = [[row["mean_min"] for row in plain(work)["dull_evening_shift"]] for work in found]
    assert all(dull < bright for dull, bright in zip(*means, strict=True))
    assert "climate.csv" in comparison_text(found[0], every=True)


@pytest.mark.parametrize("text", ["24:00", "7:30", "23.30", "", "23:3a"])
def test_a_wrong_late_hour_is_refused(text: str) -> None:
    with pytest.raises(UsageError, match="wanted a civil time such as 23:30"):
        late_minute_of(text)


@pytest.mark.usefixtures("two_assumptions")
def test_a_later_hour_finds_fewer_doors_open(work: Comparison) -> None:
    early = comparison_of(sites.configuration(), 2026, 20, seed=2, late_minute=18 * 60)
    row = work.chosen.row("clock")
    assert early.door(row, "late_nights").mean > 100 > work.door(row, "late_nights").mean


def test_faults_hurt_where_they_must(faults: fault_comparison.FaultComparison) -> None:
    rows = {(r["fault"], r["strategy"]): r for r in fault_comparison.fault_rows(faults)}

    def birds(fault: str, strategy: str) -> float:
        (key,) = [k for k in rows if k[0].startswith(fault) and k[1] == strategy]
        return float(rows[key]["by_follow_light"][0]["birds_out_a_night"]["mean"])

    def never(fault: str, strategy: str) -> float:
        (key,) = [k for k in rows if k[0].startswith(fault) and k[1] == strategy]
        return float(rows[key]["nights_never_shut"]["mean"])

    # Simulated before at 52 N, birds out of six: a cell stuck bright leaves light alone open all night and the window
    # shuts the blend; a dead cell shuts all six out of light alone and none out of a clock; an hour fast shuts out
    # all six behind a clock and behind an unchecked blend.
    assert never("cell stuck at bright", "light") == 1 and never("cell stuck at bright", "both") == 0
    assert birds("cell's wire broken", "light") == 6
    assert birds("cell's wire broken", "both") == pytest.approx(birds("cell's wire broken", "clock"))
    assert birds("clock 60 min fast", "clock") > 5.9 and birds("clock 60 min fast", "both") > 5.8
    assert birds("clock 60 min fast", "light") == birds("none", "light")
    assert birds("clock 60 min slow", "clock") < 0.01
    assert never("the same, door moved by edges", "both") == 1
    assert never("power cut", "both") == 0


def test_the_program_finds_a_clock_that_was_set_wrong(faults: fault_comparison.FaultComparison) -> None:
    rows = {row["clock_fast_min"]: row for row in fault_comparison.program_rows(faults)}
    assert sorted(rows) == [-60, -20, 20, 60]
    birds = {fast: row["by_follow_light"][0]["birds_out_a_night"]["mean"] for fast, row in rows.items()}
    minutes = {fast: row["by_follow_light"][0]["open_min"] for fast, row in rows.items()}
    # Simulated before at 52 N, six birds, first night, 32 starts: an hour fast 0.0 birds out / 12 min, an hour slow
    # 0.0 / 36, twenty slow 0.0 / 23, twenty fast 0.0 / 8. Unchecked, an hour fast shuts out 5.9 of 6.
    assert birds[60] < 0.6 and birds[20] < 1.0 and birds[-20] < 0.3 and birds[-60] < 0.1
    assert minutes[-60] == pytest.approx(36, abs=9) and minutes[60] == pytest.approx(12, abs=6)
    assert all(row["evenings"] == 16 for row in rows.values())


@pytest.mark.usefixtures("two_assumptions")
def test_a_door_that_stays_down_all_year_has_no_nights_to_compare() -> None:
    kept = {"kept_in": [{"from": "01-01", "to": "12-31", "why": "housing order"}]}
    c = Configuration.model_validate({**sites.configuration().model_dump(by_alias=True), **kept})
    found = comparison_of(c, 2026, 2, seed=1)
    assert all(s["door_moves"]["mean"] == 0 for s in plain(found)["settings"])
    hurt = fault_comparison.fault_comparison_of(c, 2026, 2, 1, (0.5,), 1410)
    assert fault_comparison.program_rows(hurt) == []
    assert all(r["nights_never_shut"]["mean"] == 0 for r in fault_comparison.fault_rows(hurt))
    assert "nan" not in fault_text(hurt, every=True) + comparison_text(found, every=True)


def test_fault_texts_carry_the_limits(faults: fault_comparison.FaultComparison) -> None:
    whole = fault_text(faults, every=True)
    assert max(len(line) for line in whole.splitlines()) <= 80
    text = " ".join(whole.split())
    assert all(line in text for line in (cautions.HENS_ONLY, *cautions.STUDY_LIMITS, fault_comparison.UNCHECKED))
    assert json.loads(json.dumps(fault_comparison.plain(faults)))["faults"][0]["strategy"] == "light"
    lines = [line for line in fault_csv(faults).splitlines() if not line.startswith("# ")]
    assert len(list(csv.DictReader(lines))) == 3 * len(faults.nights)
