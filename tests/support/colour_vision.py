"""Colours as people with three kinds of colour blindness see them, and how far apart two of them are."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
# Machado, Oliveira & Fernandes 2009, "A physiologically-based model for simulation of color vision deficiency", IEEE
# Trans. Vis. Comput. Graph. 15(6): their table for severity 1.0, on linear RGB, as in colorspacious 1.1.
KINDS: dict[str, Floats] = {
    "usual": np.eye(3),
    "protan": np.array(
        [[0.152286, 1.052583, -0.204868], [0.114503, 0.786281, 0.099216], [-0.003882, -0.048116, 1.051998]]
    ),
    "deutan": np.array(
        [[0.367322, 0.860646, -0.227968], [0.280085, 0.672501, 0.047413], [-0.011820, 0.042940, 0.968881]]
    ),
    "tritan": np.array(
        [[1.255528, -0.076749, -0.178779], [-0.078411, 0.930809, 0.147602], [0.004733, 0.691367, 0.303900]]
    ),
}
# IEC 61966-2-1 (sRGB): linear RGB to XYZ, white D65.
_TO_XYZ = np.array(
    [[0.4124564, 0.3575761, 0.1804375], [0.2126729, 0.7151522, 0.0721750], [0.0193339, 0.1191920, 0.9503041]]
)


def seen(colour: str, kind: str) -> tuple[float, float, float]:
    """CIELAB (D65) of #rrggbb as someone of a kind sees it."""
    parts = np.array([int(colour[k : k + 2], 16) / 255 for k in (1, 3, 5)])
    linear = np.where(parts <= 0.04045, parts / 12.92, ((parts + 0.055) / 1.055) ** 2.4)
    share = _TO_XYZ @ np.clip(KINDS[kind] @ linear, 0.0, 1.0) / _TO_XYZ.sum(axis=1)
    x, y, z = np.where(share > 216 / 24389, np.cbrt(share), (24389 / 27 * share + 16) / 116).tolist()
    return 116 * y - 16, 500 * (x - y), 200 * (y - z)


def delta_e_2000(one: tuple[float, float, float], other: tuple[float, float, float]) -> float:
    """CIEDE2000 (CIE 142-2001) with all weights 1, as Sharma, Wu & Dalal 2005 write it."""
    (light1, a1, b1), (light2, a2, b2) = one, other
    mean_c = (math.hypot(a1, b1) + math.hypot(a2, b2)) / 2
    stretch = 1.5 - 0.5 * math.sqrt(mean_c**7 / (mean_c**7 + 25**7))
    c1, c2 = math.hypot(stretch * a1, b1), math.hypot(stretch * a2, b2)
    h1, h2 = (math.degrees(math.atan2(b, stretch * a)) % 360 if a or b else 0.0 for a, b in ((a1, b1), (a2, b2)))
    turn = ((h2 - h1 + 180) % 360 - 180) if c1 * c2 else 0.0
    light, chroma = (light1 + light2) / 2, (c1 + c2) / 2
    hue = ((h1 + turn / 2) % 360) if c1 * c2 else h1 + h2
    wave = (
        1
        - 0.17 * math.cos(math.radians(hue - 30))
        + 0.24 * math.cos(math.radians(2 * hue))
        + 0.32 * math.cos(math.radians(3 * hue + 6))
        - 0.20 * math.cos(math.radians(4 * hue - 63))
    )
    by_light = (light2 - light1) / (1 + 0.015 * (light - 50) ** 2 / math.sqrt(20 + (light - 50) ** 2))
    by_chroma = (c2 - c1) / (1 + 0.045 * chroma)
    by_hue = 2 * math.sqrt(c1 * c2) * math.sin(math.radians(turn / 2)) / (1 + 0.015 * chroma * wave)
    bend = 60 * math.exp(-(((hue - 275) / 25) ** 2))
    cross = -math.sin(math.radians(bend)) * 2 * math.sqrt(chroma**7 / (chroma**7 + 25**7))
    return math.sqrt(by_light**2 + by_chroma**2 + by_hue**2 + cross * by_chroma * by_hue)
