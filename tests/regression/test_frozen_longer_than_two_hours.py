"""A door frozen to its sill until 150 min after opening was given up after two hours: birds locked in all day."""

from __future__ import annotations

from tests.controller.broken_nights import nights_with


def test_it_is_tried_all_day() -> None:
    for verdict in nights_with("frozen to the sill for 150 min after opening", (80, 250)):
        assert verdict.locked_min.max() <= 150 + 30


def test_ever_more_rarely() -> None:
    for verdict in nights_with("frozen to the sill all day"):
        # three a minute apart, eight at a quarter, eight at half an hour, then hourly; and each day's two moves
        assert verdict.machine["starts"] <= 3 + 8 + 8 + 10 + 2 * 14 + 3
