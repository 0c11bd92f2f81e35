"""With the clock lost, a lamp that flickers was never flat and never a dusk: open all night, four nights in ten."""

from __future__ import annotations

from tests.controller.broken_nights import nights_with

WORDS = "lamp of about 40 lux flickers day and night AND clock lost in a 30 min power cut"


def test_the_estimate_of_the_hour_shuts_the_door() -> None:
    for verdict in nights_with(WORDS, (80, 250)):
        assert verdict.left_open.sum() == 0
        assert verdict.open_dark_min.max() <= 120
