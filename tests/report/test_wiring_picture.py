"""The wiring picture: every pin in use once, and no words outside the boxes they stand in."""

from __future__ import annotations

import itertools
import xml.etree.ElementTree as ET
from typing import Any

import pytest

from sunsched.config import toml_file
from sunsched.config.configuration import Configuration
from sunsched.hardware.boards import names_with_program
from sunsched.hardware.pins import Pins
from sunsched.job import pipeline
from sunsched.job.bench import Bench, bench_of
from sunsched.report.bench.wiring_picture import wiring_picture
from tests.conftest import ROOT
from tests.report.written import check_letters, written

SVG = "{http://www.w3.org/2000/svg}"


def bench(**changes: Any) -> Bench:
    data = toml_file.read(str(ROOT / "configs" / "larch_end.toml")).as_written()
    for section, keys in changes.items():
        data[section] = data.get(section, {}) | keys
    return bench_of(pipeline.built(Configuration.model_validate(data), 2027), force=True)


MACHINES = [
    {
        "motor": {"driver": driver},
        "door": {"switches": switches},
        "light_cell": {"kind": kind},
        "spool": {"turns_left_when_down": 20},
    }
    for driver, switches, kind in itertools.product(
        ("two_inputs", "direction", "relays"), ("normally_open", "normally_closed"), ("photoresistor", "lux")
    )
]


BOARD_MACHINES = [{"chip": {"board": name}, "spool": {"turns_left_when_down": 20}} for name in names_with_program()]


@pytest.mark.parametrize("changes", [*MACHINES, *BOARD_MACHINES])
def test_words_stay_in_their_boxes(changes: dict[str, Any]) -> None:
    root = ET.fromstring(wiring_picture(bench(**changes)).file_text())
    boxes = [
        tuple(float(r.attrib[k]) for k in ("x", "y", "width", "height"))
        for r in root.iter(f"{SVG}rect")
        if "x" in r.attrib
    ]
    check_letters(root)
    for words, _, room in written(root):
        middle = (room.left + room.right) / 2, (room.top + room.bottom) / 2
        for x, y, width, height in boxes:
            if x <= middle[0] <= x + width and y <= middle[1] <= y + height:
                assert x <= room.left and room.right <= x + width and room.bottom <= y + height, words


@pytest.mark.parametrize("changes", MACHINES)
def test_every_wire_is_drawn_with_its_pin(changes: dict[str, Any]) -> None:
    work = bench(**changes)
    root = ET.fromstring(wiring_picture(work).file_text())
    labels = [text.text for text in root.iter(f"{SVG}text")]
    shown = {f"{wire.printed} ({wire.pin})" for wire in work.wires}
    assert len(shown) == len(work.wires)
    assert all(labels.count(label) == 1 for label in shown)
    used = {wire.pin for wire in work.wires}
    free = set(Pins().model_dump(exclude_none=True).values()) - used
    assert not any(label and f"({pin})" in label for label in labels for pin in free)
