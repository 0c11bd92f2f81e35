"""The three strategies are told apart by eyes of every kind, on a light screen, on a dark one and in grey print."""

from __future__ import annotations

from itertools import combinations, pairwise

import pytest

from sunsched.report.pictures.strategies import LOOKS
from sunsched.report.pictures.svg import ROLES
from tests.report.test_svg import contrast
from tests.support.colour_vision import KINDS, delta_e_2000, seen


# Sharma, Wu & Dalal 2005, Color Res. Appl. 30(1), table 1: five of the published pairs, from memory.
@pytest.mark.parametrize(
    ("one", "other", "published"),
    [
        ((50.0, 2.6772, -79.7751), (50.0, 0.0, -82.7485), 2.0425),
        ((50.0, 0.0, 0.0), (50.0, -1.0, 2.0), 2.3669),
        ((50.0, 2.5, 0.0), (73.0, 25.0, -18.0), 27.1492),
        ((50.0, 2.5, 0.0), (58.0, 24.0, 15.0), 19.4535),
        ((60.2574, -34.0099, 36.2677), (60.4626, -34.1751, 39.4387), 1.2644),
    ],
)
def test_the_difference_of_colours_is_the_published_one(
    one: tuple[float, float, float], other: tuple[float, float, float], published: float
) -> None:
    assert delta_e_2000(one, other) == pytest.approx(published, abs=0.00006)


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("mode", [0, 1])
def test_strategies_differ_for_every_kind_of_eye(kind: str, mode: int) -> None:
    colours = [seen(ROLES[look.role][mode], kind) for look in LOOKS.values()]
    assert min(delta_e_2000(one, other) for one, other in combinations(colours, 2)) >= 20


def test_strategies_differ_in_lightness_shape_and_dash() -> None:
    for mode in (0, 1):
        lightness = sorted(seen(ROLES[look.role][mode], "usual")[0] for look in LOOKS.values())
        assert min(high - low for low, high in pairwise(lightness)) > 7
    assert len({look.shape for look in LOOKS.values()}) == len({look.dash for look in LOOKS.values()}) == 3


# W3C, WCAG 2.2, success criterion 1.4.3: text has a contrast of at least 4.5 with what it stands on.
def test_strategies_can_be_read_as_text() -> None:
    for look in LOOKS.values():
        assert all(
            contrast(ROLES[look.role][mode], ROLES[ground][mode]) >= 4.5
            for mode in (0, 1)
            for ground in ("paper", "halo")
        )
