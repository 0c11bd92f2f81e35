"""Every machine that a configuration can describe has a folder that builds, and notes, parts and picture of its own."""

from __future__ import annotations

from pathlib import Path
from typing import Any
from xml.etree import ElementTree

import pytest
from typer.testing import CliRunner

from sunsched.cli.app import app
from tests.chip import sites
from tests.support import objects, toolchain

LARCH = (sites.CONFIGS / "larch_end.toml").read_text()


def written(folder: Path, *changes: tuple[str, str]) -> Any:
    text = LARCH
    for old, new in changes:
        assert old in text, old
        text = text.replace(old, new)
    (folder / "hut.toml").write_text(text)
    return CliRunner().invoke(
        app, ["firmware", str(folder / "hut.toml"), "--out", str(folder / "door"), "--year", "2027", "--force"]
    )


def texts(folder: Path) -> tuple[str, str, str]:
    """The sketch's notes and the README with their folding undone, and all words of the picture."""
    door = folder / "door"
    notes, readme = (
        " ".join((door / name).read_text().replace("\n *", " ").split()) for name in ("door.ino", "README.md")
    )
    picture = ElementTree.fromstring((door / "wiring.svg").read_bytes())
    return notes, readme, " / ".join(text for text in picture.itertext() if "prefers-color" not in text)


MACHINES: dict[str, tuple[tuple[tuple[str, str], ...], tuple[str, ...], tuple[str, ...]]] = {
    # what is changed; words that notes, README and picture all have; words that none of them has
    "direction": (
        (("[motor]", '[motor]\ndriver = "direction"'),),
        ("direction", "PWM"),
        ("lower_motor", "D10"),
    ),
    "relays": (
        (("[motor]", '[motor]\ndriver = "relays"'), ("turns_left_when_down = 8.5", "turns_left_when_down = 20")),
        ("relay",),
        ("PWM", "D6 "),
    ),
    "closed": (
        (("[door]", '[door]\nswitches = "normally_closed"'),),
        ("normally closed", "opens when"),
        ("normally open:",),
    ),
    "ds1307": ((("[clock]", '[clock]\nchip = "ds1307"'),), ("DS1307",), ("DS3231",)),
    "pcf8523": ((("[clock]", '[clock]\nchip = "pcf8523"'),), ("PCF8523",), ("DS3231",)),
    "pcf8563": ((("[clock]", '[clock]\nchip = "pcf8563"'),), ("PCF8563",), ("DS3231",)),
}


@pytest.mark.parametrize("name", MACHINES)
def test_each_machine_is_told_everywhere_and_builds(name: str, tmp_path: Path) -> None:
    changes, present, untold = MACHINES[name]
    done = written(tmp_path, *changes)
    assert done.exit_code == 0, done.output
    for text in texts(tmp_path):
        assert all(word in text for word in present), (present, text)
        assert not any(word in text for word in untold), (untold, text)
    toolchain.needed("make", "avr-gcc", "avr-size", "avr-objcopy")
    assert "warning" not in objects.make(tmp_path / "door", "door.hex")
    assert (tmp_path / "door" / "door.hex").exists()


def test_an_end_by_current_has_a_shunt_and_no_lower_switch(tmp_path: Path) -> None:
    done = written(
        tmp_path,
        ("[motor]", "[motor]\nshunt_ohm = 0.5"),
        ("[flock]", '[pins]\nmotor_current = "PC1"\nbattery = "PC0"\nlight_cell = "PC2"\nhand_up = "PB3"\n[flock]'),
    )
    assert done.exit_code == 0, done.output
    notes, readme, picture = texts(tmp_path)
    for text in (notes, readme, picture):
        assert "shunt" in text and "bottom switch" not in text
    # stall at 14.4 V over 4 ohm: 3.6 A; 0.5 ohm x 3.6^2 = 6.48 W, twice that, by hand
    assert "| shunt | 0.5 ohm, 13.0 W;" in readme
    assert "| end switches | 1, normally open" in readme
