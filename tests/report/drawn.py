"""Reads pictures back from their ink: the coordinates of drawn paths and marks, and of the axes' own labels."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET
from typing import Any

import numpy as np

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


def marks_in(root: ET.Element, group: str) -> list[list[tuple[float, float]]]:
    """The middles of the marks in every group of a class, group by group [units]."""
    groups = [g for g in root.iter(f"{SVG}g") if group in g.attrib.get("class", "").split()]
    return [[_middle(mark) for mark in members] for members in groups]


def _middle(mark: ET.Element) -> tuple[float, float]:
    at = {name: float(value) for name, value in mark.attrib.items() if name in ("cx", "cy", "x", "y", "width")}
    if "cx" in at:
        return at["cx"], at["cy"]
    if "x" in at:
        return at["x"] + at["width"] / 2, at["y"] + at["width"] / 2
    (x, top), (_, foot), *_ = ((float(a), float(b)) for a, b in re.findall(r"(-?[\d.]+) (-?[\d.]+)", mark.attrib["d"]))
    return x, foot - (foot - top) / 2.2


class Axis:
    """One axis, read from its own labels: those whose text is a number and that stand on one line."""

    def __init__(self, labels: list[tuple[float, float]], logarithmic: bool = False) -> None:
        """`labels` are units and values; two of them that are far apart are used, all must lie on the line."""
        self.turn = (lambda value: float(np.log10(value))) if logarithmic else float
        self.back = (lambda value: float(10**value)) if logarithmic else float
        ordered = sorted(labels, key=lambda label: label[1])
        (self.low_unit, low), (self.high_unit, high) = ordered[0], ordered[-1]
        self.low, self.high = self.turn(low), self.turn(high)
        for unit, value in ordered:
            assert abs(self.turn(value) - self.turn(self.value(unit))) < 0.01 * abs(self.high - self.low)

    def value(self, unit: float) -> float:
        """The value at a unit."""
        share = (unit - self.low_unit) / (self.high_unit - self.low_unit)
        return self.back(self.low + share * (self.high - self.low))


def upright_axis(root: ET.Element, above: float, below: float, logarithmic: bool = False) -> Axis:
    """The upright axis between two heights [units]: the numbers written at its left."""
    labels = [
        (float(t.attrib["y"]) - 4.5, float(t.text or ""))
        for t in root.iter(f"{SVG}text")
        if t.attrib.get("text-anchor") == "end" and re.fullmatch(r"[+-]?[\d.]+", t.text or "")
    ]
    return Axis([label for label in labels if above <= label[0] <= below], logarithmic)


def level_axis(root: ET.Element, near: float, logarithmic: bool = False) -> Axis:
    """The axis along the first line of numbers below a height [units]."""
    labels: dict[float, list[tuple[float, float]]] = {}
    for t in root.iter(f"{SVG}text"):
        if (
            t.attrib.get("text-anchor") == "middle"
            and re.fullmatch(r"[\d.]+", t.text or "")
            and float(t.attrib["y"]) > near
        ):
            labels.setdefault(float(t.attrib["y"]), []).append((float(t.attrib["x"]), float(t.text or "")))
    return Axis(labels[min(labels)], logarithmic)


def points_of(path: str) -> list[tuple[float, float]]:
    """Every point of a path of straight lines."""
    return [(float(x), float(y)) for x, y in re.findall(r"(-?[\d.]+) (-?[\d.]+)", path)]
