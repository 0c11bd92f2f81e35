"""The recorded sizes and cycles are still what the chip needs; a change of more than a twentieth is recorded anew."""

from __future__ import annotations

import json
from typing import Any

from tests.chip import measure
from tests.support import toolchain

SHARE = 0.05


def test_the_recorded_figures_are_true() -> None:
    toolchain.needed("avr-gcc", "avr-size", "simavr", "make")
    recorded = json.loads(measure.FILE.read_text())
    found = measure.measured()
    if found["avr_gcc"] == recorded["avr_gcc"]:
        assert differing("", recorded, found) == []
    else:  # another compiler gives other figures; they may not be wholly other ones
        assert differing("", recorded, found, 0.3) == []


def differing(place: str, recorded: Any, found: Any, share: float = SHARE) -> list[str]:
    """Where two trees of figures differ by more than `share`."""
    if isinstance(recorded, dict):
        keys = sorted(set(recorded) | set(found))
        return [line for key in keys for line in differing(f"{place}/{key}", recorded.get(key), found.get(key), share)]
    if isinstance(recorded, str) or recorded is None or found is None:
        return [] if recorded == found or place == "/avr_gcc" else [f"{place}: recorded {recorded}, found {found}"]
    near = abs(found - recorded) <= share * max(abs(recorded), 1e-9)
    return [] if near else [f"{place}: recorded {recorded}, found {found}"]


def test_a_differing_figure_is_named() -> None:
    assert differing("", {"a": {"b": 100}}, {"a": {"b": 104}}) == []
    assert differing("", {"a": {"b": 100}}, {"a": {"b": 106}}) == ["/a/b: recorded 100, found 106"]
    assert differing("", {"a": 1}, {}) == ["/a: recorded 1, found None"]
