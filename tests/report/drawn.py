"""Reads a year's map back from its ink: the coordinates of the drawn paths and of the axis's own labels."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET
from typing import Any

from sunsched.config.configuration import Configuration
from sunsched.job import pipeline
from sunsched.plan.year import YearPlan

SVG = "{http://www.w3.org/2000/svg}"


def planned(data: dict[str, Any], year: int = 2027) -> tuple[YearPlan, Configuration]:
    """The plan of a configuration given as plain data."""
    configuration = Configuration.model_validate(data)
    return pipeline.plan_of(configuration, year), configuration


def hour_axis(root: ET.Element) -> list[tuple[float, float]]:
    """Unit and civil minute of every label along the map's upper edge; the first is of the evening's date."""
    labels: dict[float, list[tuple[float, int]]] = {}
    for text in root.iter(f"{SVG}text"):
        if text.text and re.fullmatch(r"\d{1,2}", text.text):
            labels.setdefault(float(text.attrib["y"]), []).append((float(text.attrib["x"]), int(text.text)))
    row = min(labels)
    found: list[tuple[float, float]] = []
    for unit, hour in sorted(labels[row]):
        minute = hour * 60.0
        while found and minute <= found[-1][1]:
            minute += 1440
        found.append((unit, minute))
    return found


def minutes_drawn(root: ET.Element, side: str) -> dict[float, float]:
    """The door's minutes of one side as {upper end of a day's row [units]: civil minute of the night}.

    They are read from the line's steps; a day with a dot of its own has the dot's minute.
    """
    found = {}
    x, y, height = 0.0, 0.0, 0.0
    for command, numbers in re.findall(r"([MHV])([-\d. ]+)", path_of(root, side)):
        values = [float(n) for n in numbers.split()]
        if command == "M":
            x, y = values
        elif command == "H":
            x = values[0]
        else:
            found[y], height = minute_at(root, x), values[0] - y
            y = values[0]
    for x, y in dots_drawn(root, side):
        row = min(found, key=lambda top: abs(top + height / 2 - y))
        assert abs(row + height / 2 - y) < 0.02
        found[row] = minute_at(root, x)
    return found


def dots_drawn(root: ET.Element, side: str) -> list[tuple[float, float]]:
    """Where the days that lie apart have their dots [units]."""
    return [(float(x), float(y)) for x, y in re.findall(r"M([-\d.]+) ([-\d.]+)h0", path_of(root, f"{side}-apart"))]


def path_of(root: ET.Element, name: str) -> str:
    """The path that a name of the picture stands for; empty where there is none."""
    return next(
        (p.attrib["d"] for p in root.iter(f"{SVG}path") if p.attrib.get("id") == f"{root.attrib['id']}-{name}"), ""
    )


def minute_at(root: ET.Element, x: float) -> float:
    """The civil minute at a place across the map, from its axis's own labels."""
    (first_x, first_minute), *_, (last_x, last_minute) = hour_axis(root)
    return first_minute + (x - first_x) / (last_x - first_x) * (last_minute - first_minute)


def row_edges(root: ET.Element, n_days: int) -> tuple[float, float]:
    """Top of the first night's row and the height of a row, from the rectangle behind the map."""
    sky = next(r for r in root.iter(f"{SVG}rect") if "f-day" in r.attrib.get("class", ""))
    return float(sky.attrib["y"]), float(sky.attrib["height"]) / (n_days + 1)
