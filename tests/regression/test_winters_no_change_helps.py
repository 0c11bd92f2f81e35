"""In a polar night, where no panel helps, the battery's verdict promised changes that "would help": none did."""

from __future__ import annotations

from typing import Any

from sunsched.config.toml_file import validated
from sunsched.hardware.battery_sums import CHANGES_HELP, NO_CHANGE_HELPS
from sunsched.job.drive_and_battery import battery_of


def texts_and_counts(latitude_deg: float, **battery: Any) -> tuple[list[str], list[tuple[int, int]]]:
    """Texts of the two verdicts on winters, and the winters past the limit and flat: as it is, then each change."""
    site = {"latitude_deg": latitude_deg, "longitude_deg": 19.0, "zone": "Europe/Oslo"}
    sums = battery_of(validated({"site": site, "battery": battery}, "x"), 2027, "x", weather_years=40).sums
    return [one.text for one in sums.verdicts[:2]], [(one.n_over_limit, one.n_flat) for one in sums.changes]


def test_no_help_is_promised_where_no_change_lowers_the_count() -> None:
    # At 78 N the Sun is down for a hundred days and more: no panel and no small battery reaches across.
    texts, counts = texts_and_counts(78.0, panel_w=10.0)
    assert set(counts) == {(40, 40)}
    for text in texts:
        assert text.endswith(NO_CHANGE_HELPS) and CHANGES_HELP not in text


def test_help_is_promised_where_a_change_lowers_the_count() -> None:
    texts, counts = texts_and_counts(52.0, panel_w=6.0)
    for which, text in enumerate(texts):
        stated, fewest = counts[0][which], min(count[which] for count in counts[1:])
        assert fewest < stated
        assert text.endswith(CHANGES_HELP) and NO_CHANGE_HELPS not in text
