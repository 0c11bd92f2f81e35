"""An upper switch that read made for one sample in a raise was taken for the top.

The plate stood at 201 mm, the cord counted as taken in, and nothing tried again: an early one locked the birds in for
522 min. The same glitch between two samples cut the motor for the rest of the run.
"""

from __future__ import annotations

from tests.controller.broken_nights import nights_with


def test_the_raise_goes_on() -> None:
    for verdict in nights_with("upper switch made for one sample in each raise", (80, 250)):
        assert verdict.locked_min.max() == 0 and verdict.out.sum() == 0
