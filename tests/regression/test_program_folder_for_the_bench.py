"""The program's folder was written with another machine's cut-offs, and for a drive whose sums fail.

Its notes wired a clock chip where there is none and a divider to a digital sensor, and cut cautions off; its sketch
lost the blanks of its folder's name; the line that makes it again could not be copied.
"""

from __future__ import annotations

import shlex
import subprocess
from pathlib import Path
from typing import Any

import pytest
from typer.testing import CliRunner

from sunsched.base import cautions
from sunsched.cli.app import app

ROOT = Path(__file__).parents[2]
LARCH = ROOT / "configs" / "larch_end.toml"
MOTOR_KEYS = ("motor.cutoff_up_s", "motor.cutoff_down_s", "motor.rpm", "spool.core_diameter_mm", "door.travel_mm")


def written(config: Path, out: Path, *options: str) -> Any:
    return CliRunner().invoke(app, ["firmware", str(config), "--out", str(out), "--year", "2027", *options])


def config_in(folder: Path, **changes: str) -> Path:
    """Larch end with whole lines replaced: key -> the line in place of that key's."""
    lines = LARCH.read_text().splitlines()
    for key, line in changes.items():
        assert any(old.startswith(f"{key} =") for old in lines), key
        lines = [line if old.startswith(f"{key} =") else old for old in lines]
    path = folder / "hut.toml"
    path.write_text("\n".join(lines) + "\n")
    return path


def flat(path: Path) -> str:
    """A text with its folding undone."""
    return " ".join(path.read_text().replace("\n *", " ").split())


def test_without_the_machine_its_keys_are_asked_for(tmp_path: Path) -> None:
    bare = ROOT / "configs" / "fig_yard.toml"
    refused = written(bare, tmp_path / "door")
    assert refused.exit_code == 78
    assert all(f"{key} is missing" in refused.stderr for key in MOTOR_KEYS)
    assert not (tmp_path / "door").exists()
    forced = written(bare, tmp_path / "door", "--force")
    assert forced.exit_code == 0
    assert "forced: motor.cutoff_up_s is not given" in forced.stderr
    readme = flat(tmp_path / "door" / "README.md")
    assert "Written with --force" in readme and "motor.cutoff_down_s is not given" in readme
    assert "--years 2027..2047 --force" in readme


def test_the_sample_shows_the_machine_that_is_asked_for(tmp_path: Path) -> None:
    config = tmp_path / "hut.toml"
    config.write_text(CliRunner().invoke(app, ["sample", "--with", "door,motor,battery"]).stdout)
    done = written(config, tmp_path / "door")
    assert done.exit_code == 0, done.stderr
    assert CliRunner().invoke(app, ["battery", str(config), "--year", "2027", "--weather-years", "20"]).exit_code == 0


def test_default_cutoffs_of_a_described_machine_are_asked_for(tmp_path: Path) -> None:
    refused = written(config_in(tmp_path, cutoff_up_s=""), tmp_path / "door")
    assert refused.exit_code == 78
    assert "motor.cutoff_up_s is missing" in refused.stderr and "cutoff_down_s" not in refused.stderr


def test_a_drive_that_fails_is_refused_and_said_when_forced(tmp_path: Path) -> None:
    config = config_in(tmp_path, turns_left_when_down="turns_left_when_down = 1")
    refused = written(config, tmp_path / "door")
    assert refused.exit_code == 1
    assert "turns on the spool FAILS" in refused.stderr and "--force" in refused.stderr
    assert not (tmp_path / "door").exists()
    forced = written(config, tmp_path / "door", "--force")
    assert forced.exit_code == 0 and "forced: turns on the spool fails" in forced.stderr
    assert "turns on the spool fails" in flat(tmp_path / "door" / "README.md")


def test_what_is_in_doubt_is_printed_and_stands_in_the_readme(tmp_path: Path) -> None:
    done = written(LARCH, tmp_path / "door")
    assert done.exit_code == 0
    assert "warning: torque in doubt: " in done.stderr
    assert "## In doubt" in (tmp_path / "door" / "README.md").read_text()


@pytest.mark.parametrize(
    ("changes", "gone", "stays"),
    [
        ({"source": 'source = "none"'}, ("clock chip", "SDA", "bus"), "light cell: feeds"),
        ({"source": 'source = "crystal"'}, ("1 Hz", "SDA"), "lost at each power cut"),
        ({"kind": 'kind = "lux"'}, ("divider while", "fixed resistor"), "address pin low"),
    ],
)
def test_notes_and_picture_show_only_what_is_wired(
    changes: dict[str, str], gone: tuple[str, ...], stays: str, tmp_path: Path
) -> None:
    out = tmp_path / "door"
    assert written(config_in(tmp_path, **changes), out).exit_code == 0
    notes, readme, picture = flat(out / "door.ino"), flat(out / "README.md"), (out / "wiring.svg").read_text()
    wiring = notes.partition("Wiring")[2].partition("Setting the clock")[0]
    assert stays in wiring
    texts = wiring + readme.partition("## What to buy")[2].partition("Pins are set")[0] + picture
    for words in gone:
        assert words not in texts.replace("no clock chip", "").replace("There is no clock", ""), words


def test_every_caution_stands_whole(tmp_path: Path) -> None:
    assert written(LARCH, tmp_path / "door").exit_code == 0
    for name in ("door.ino", "README.md"):
        text = flat(tmp_path / "door" / name)
        assert "..." not in text.partition("Cautions")[2]
        assert all(caution in text for caution in cautions.PROGRAM), name


def test_a_folder_with_blanks_names_its_sketch_and_its_command(tmp_path: Path) -> None:
    config = config_in(tmp_path).rename(tmp_path / "my hut's door.toml")
    out = tmp_path / "larch end door"
    assert written(config, out).exit_code == 0
    assert (out / "larch end door.ino").is_file()
    for name in ("larch end door.ino", "door_values.h", "door_table.h", "README.md"):
        lines = [line.removeprefix(" *").strip() for line in (out / name).read_text().splitlines()]
        (command,) = [line for line in lines if line.startswith("sunsched firmware")]
        assert shlex.split(command) == [
            *("sunsched", "firmware", "my hut's door.toml", "--out", "larch end door", "--years", "2027..2047")
        ]


@pytest.mark.parametrize("name", ["hühner stall.toml", "丘's.toml", "back\\slash*.toml", "two\nlines.toml"])
def test_the_command_names_any_file(name: str, tmp_path: Path) -> None:
    config, out = config_in(tmp_path).rename(tmp_path / name), tmp_path / "höf"
    assert written(config, out).exit_code == 0
    for file in ("höf.ino", "door_values.h", "door_table.h", "README.md"):
        assert (out / file).read_bytes().isascii()
        lines = [line.removeprefix(" *").strip() for line in (out / file).read_text().splitlines()]
        (command,) = [line for line in lines if line.startswith("sunsched firmware")]
        shell = f"printf '%s|' {command}"
        said = subprocess.run(["bash", "-c", shell], capture_output=True, check=True).stdout.decode()
        assert said.split("|")[2:5] == [name, "--out", "höf"]


def test_ratings_come_from_this_machines_sums(tmp_path: Path) -> None:
    out = tmp_path / "door"
    # stall: 14.4 V / 2.0 ohm = 7.2 A by hand; 1.5 x 1.3 A = 1.95 A, next preferred value 2 A
    config = config_in(tmp_path, winding_ohm="winding_ohm = 2.0", run_a="run_a = 1.3")
    assert written(config, out, "--force").exit_code == 0
    readme = flat(out / "README.md")
    assert "stall current 7.20 A" in readme
    assert "| fuse | 2 A time-lag" in readme
    assert "fuse 2 A" in (out / "wiring.svg").read_text()


def test_a_hostile_name_breaks_neither_readme_nor_picture(tmp_path: Path) -> None:
    from xml.etree import ElementTree

    config = tmp_path / "hut.toml"
    hostile = "</text><script>x</script> `rm` | *b* \\u4e18 " + "n" * 5000
    config.write_text(LARCH.read_text().replace('"Larch end"', f'"{hostile}"'))
    out = tmp_path / "door"
    assert written(config, out).exit_code == 0
    readme, picture = (out / "README.md").read_bytes(), (out / "wiring.svg").read_bytes()
    assert readme.isascii() and b"<script>" not in readme
    assert ElementTree.fromstring(picture).tag.endswith("svg")
    assert b"GENERATED by sunsched" in picture[:4096]
    assert written(config, out).exit_code == 0  # and both are known as ours
