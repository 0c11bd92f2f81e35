"""A climate read from CSV: what it gives, and how its mistakes are named."""

from pathlib import Path

import numpy as np
import pytest

from sunsched.base.errors import LogError, MissingFileError
from sunsched.job.climate_file import climate_in, read_climate

CLEARNESS = [0.30, 0.37, 0.41, 0.40, 0.46, 0.43, 0.44, 0.43, 0.39, 0.35, 0.31, 0.26]
GOOD = "month,clearness\n" + "".join(f"{month},{k}\n" for month, k in enumerate(CLEARNESS, start=1))


def test_clearness_is_taken_as_it_stands() -> None:
    climate = climate_in(f"# measured in the valley\n{GOOD}", "valley.csv", 52.0)
    assert list(climate.clearness) == CLEARNESS
    assert climate.temperature_c is None
    assert climate.source == "valley.csv"


def test_months_in_any_order_with_temperatures() -> None:
    lines = [f"{month},{-5 + month},0.4" for month in range(12, 0, -1)]
    climate = climate_in("month, temperature_c ,clearness\n" + "\n".join(lines), "a.csv", 52.0)
    assert climate.temperature_c == tuple(float(-5 + month) for month in range(1, 13))


# NREL TMY3, Greensboro 36.1 N: authorities/monthly_ghi_kwh_m2_day.csv; its clearness runs from 0.47 to 0.56, measured
# against the station's own extraterrestrial column
def test_sun_on_level_ground_becomes_clearness() -> None:
    path = Path(__file__).parent.parent / "authorities" / "monthly_ghi_kwh_m2_day.csv"
    rows = [line.split(",") for line in path.read_text().splitlines()[1:]]
    text = "month,kwh_m2_day\n" + "".join(f"{row[3]},{row[4]}\n" for row in rows)
    clearness = np.array(climate_in(text, "greensboro.csv", 36.1).clearness)
    assert clearness.min() > 0.45 and clearness.max() < 0.60


def test_months_without_sun_may_be_zero() -> None:
    # astronomy: at 75 N no Sun from November to January
    kwh = [0.0, 0.2, 1.0, 3.0, 5.0, 5.5, 5.0, 3.2, 1.3, 0.3, 0.0, 0.0]
    text = "month,kwh_m2_day\n" + "".join(f"{month},{k}\n" for month, k in enumerate(kwh, start=1))
    clearness = climate_in(text, "north.csv", 75.0).clearness
    assert clearness[0] == clearness[10] == clearness[11] == 0.3
    assert clearness[4] == pytest.approx(0.5, abs=0.06)


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("", "c.csv is empty; wanted a heading, month,clearness or month,kwh_m2_day, and temperature_c if known, "
             "and twelve rows"),
        ("month,sun\n", "c.csv: row 1 is 'month,sun'; wanted the heading month,clearness or month,kwh_m2_day, and "
                        "temperature_c if known"),
        ("month,clearness,kwh_m2_day\n", "c.csv: row 1 is clearness and kwh_m2_day; wanted one of the two"),
        (GOOD.replace("3,0.41", "3,0,41"), "c.csv: row 4 is 3 cells; wanted 2, as the heading has"),
        (GOOD.replace("3,0.41", "March,0.41"), "c.csv: row 4, month is 'March'; wanted 1 to 12"),
        (GOOD.replace("3,0.41", "2,0.41"), "c.csv: row 4, month is 2 once more; wanted each month once"),
        (GOOD.replace("3,0.41\n", ""), "c.csv: month is without 3; wanted all twelve months"),
        (GOOD.replace("0.41", "41"), "c.csv: row 4, clearness is '41'; wanted a number from 0.1 to 0.8"),
        (GOOD.replace("0.41", "nan"), "c.csv: row 4, clearness is 'nan'; wanted a number from 0.1 to 0.8"),
        (
            "month,kwh_m2_day\n" + "".join(f"{month},{9 if month == 1 else 1}\n" for month in range(1, 13)),
            "c.csv: month 1, kwh_m2_day is 9; wanted 0.22 to 1.77 kWh/m2/day at 52 degrees (2.21 above the air)",
        ),
    ],
)  # fmt: skip
def test_each_mistake_is_named_with_its_row(text: str, message: str) -> None:
    with pytest.raises(LogError) as refused:
        climate_in(text, "c.csv", 52.0)
    assert str(refused.value) == message


def test_files_that_cannot_be_read(tmp_path: Path) -> None:
    with pytest.raises(
        MissingFileError, match=r"none\.csv: there is no such file; wanted a CSV file of twelve months$"
    ):
        read_climate(tmp_path / "none.csv", 52.0)
    with pytest.raises(MissingFileError, match=r"is a folder; wanted a CSV file of twelve months$"):
        read_climate(tmp_path, 52.0)
    (tmp_path / "latin.csv").write_bytes(b"month,clearness\n\xff")
    with pytest.raises(LogError, match=r"latin\.csv: byte 16 is not UTF-8; wanted a CSV file, UTF-8 text$"):
        read_climate(tmp_path / "latin.csv", 52.0)
    (tmp_path / "long.csv").write_bytes(b"#" * 200_000)
    with pytest.raises(
        LogError, match=r"long\.csv has 200000 bytes; wanted a CSV file of twelve months, at most 100000 bytes$"
    ):
        read_climate(tmp_path / "long.csv", 52.0)
    (tmp_path / "good.csv").write_text(GOOD)
    assert list(read_climate(tmp_path / "good.csv", 52.0).clearness) == CLEARNESS
