"""The program's folder: complete, the same bytes each time, built by Makefile and as a sketch, written with care."""

from __future__ import annotations

import datetime as dt
import json
import os
import re
import shutil
from pathlib import Path
from typing import Any

import pytest
from typer.testing import CliRunner

from sunsched.base.errors import CapacityError, ConfigError
from sunsched.cli.app import app
from sunsched.config import toml_file
from sunsched.emit import firmware, firmware_notes
from sunsched.hardware.boards import BOARDS
from sunsched.hardware.parts import Motor
from sunsched.hardware.pins import Pins
from sunsched.job import firmware_folder
from sunsched.job.chip import flash_tables
from tests.chip import emulated, sites
from tests.support import objects, toolchain

ARDUINO = Path("/usr/share/arduino/hardware/arduino/avr")
LARCH = sites.CONFIGS / "larch_end.toml"
WHOLE = os.environ.get("SUNSCHED_PROOF") == "whole"


def write(out: Path, *options: str, config: Path = LARCH) -> Any:
    """`firmware` for one year, which takes a tenth of the time of 21, unless other years are asked for."""
    years = () if {"--year", "--years"} & set(options) else ("--years", "2027..2027")
    return CliRunner().invoke(app, ["firmware", str(config), "--out", str(out), *years, *options])


@pytest.mark.parametrize("name", sites.SHIPPED)
def test_the_folder_builds_by_its_own_makefile_without_a_warning(name: str, tmp_path: Path) -> None:
    toolchain.needed("make", "avr-gcc", "avr-size", "avr-objcopy")
    # Birch hollow takes a table for each year: 21 of them are half of a minute's work, and build as four do.
    few = name == "birch_hollow" and not WHOLE
    years = ("--years", "2027..2030") if few else ("--year", "2027")
    # only one of the shipped sites describes its machine; the others are written all the same
    done = write(tmp_path / "door", *years, "--force", config=sites.CONFIGS / f"{name}.toml")
    assert done.exit_code == 0, done.output
    assert f"compiled in: 2027 to {2030 if few else 2047} " in " ".join(done.stdout.split())
    folder = tmp_path / "door"
    flags = f"-mmcu=atmega328p -DF_CPU=16000000UL -std=gnu99 {firmware_notes.OPTIMISED} {' '.join(toolchain.WARNINGS)}"
    assert "warning" not in objects.make(folder, "door.hex", f"CFLAGS={flags}")
    assert_all_has_room(folder)


def assert_all_has_room(folder: Path) -> None:
    """On an ATmega328P: 32 KiB of flash, of which a boot loader takes at most 2, and 2 KiB of SRAM (its datasheet)."""
    flash, sram = toolchain.avr_sizes(folder / "door.elf")
    tables = int(re.findall(r"DOOR_TABLES_BYTES (\d+)", (folder / "door_table.h").read_text())[0])
    assert flash - tables + BOARDS["atmega328p"].tables_bytes < 30 * 1024
    assert sram < 1024


def test_the_largest_program_leaves_room_for_tables_and_boot_loader(tmp_path: Path) -> None:
    """Twilights that never come, a light sensor on the bus, and the end of travel by the motor's current."""
    toolchain.needed("make", "avr-gcc", "avr-size", "avr-objcopy")
    site = (sites.CONFIGS / "birch_hollow.toml").read_text(encoding="utf-8")
    more = '[door]\n[spool]\n[motor]\nshunt_ohm = 0.33\n[pins]\nmotor_current = "PC3"\nhand_down = "PD3"\n'
    (tmp_path / "hut.toml").write_text(site + more, encoding="utf-8")
    done = write(tmp_path / "door", "--force", config=tmp_path / "hut.toml")
    assert done.exit_code == 0, done.output
    objects.make(tmp_path / "door", "door.hex")
    assert_all_has_room(tmp_path / "door")


def test_the_folder_builds_as_a_sketch_with_debians_core(tmp_path: Path) -> None:
    toolchain.needed("avr-gcc", "avr-g++")
    toolchain.needed_folder(ARDUINO, "arduino-core-avr")
    folder = tmp_path / "larch"
    assert write(folder).exit_code == 0
    flags = ["-mmcu=atmega328p", "-DF_CPU=16000000L", "-DARDUINO=10800", "-DARDUINO_AVR_UNO", "-DARDUINO_ARCH_AVR"]
    flags += ["-Os", "-w", "-ffunction-sections", "-fdata-sections", "-DDECIMAL_DIG=__DECIMAL_DIG__"]
    flags += [f"-I{ARDUINO}/cores/arduino", f"-I{ARDUINO}/variants/standard"]
    sketch = tmp_path / "sketch.cpp"
    sketch.write_text("#include <Arduino.h>\n" + (folder / "larch.ino").read_text())
    core = [str(path) for path in sorted((ARDUINO / "cores/arduino").glob("*.c*"))]
    objects = []
    for source in [*core, str(sketch), *map(str, sorted(folder.glob("*.c")))]:
        compiler, std = ("avr-gcc", "-std=gnu11") if source.endswith(".c") else ("avr-g++", "-std=gnu++11")
        target = tmp_path / (Path(source).name + ("_core.o" if source in core else ".o"))
        toolchain.run([compiler, std, *flags, "-fno-exceptions", "-c", source, "-o", target])
        objects.append((source in core, target))
    archive = tmp_path / "core.a"
    toolchain.run(["avr-ar", "rcs", archive, *(target for is_core, target in objects if is_core)])
    own = [target for is_core, target in objects if not is_core]
    elf = tmp_path / "sketch.elf"
    toolchain.run(["avr-g++", "-mmcu=atmega328p", "-Os", "-Wl,--gc-sections", "-o", elf, *own, archive, "-lm"])
    symbols = toolchain.avr_symbols(elf)
    assert "door_step" in symbols
    assert "setup" not in symbols  # the core's own main() is not linked


@pytest.mark.usefixtures("worked_out_anew")
def test_the_same_configuration_gives_the_same_bytes(tmp_path: Path) -> None:
    assert write(tmp_path / "a" / "door").exit_code == 0
    assert write(tmp_path / "b" / "door").exit_code == 0
    names = sorted(path.name for path in (tmp_path / "a" / "door").iterdir())
    assert len(names) == len(firmware.shipped_names(BOARDS["atmega328p"])) + 7
    for name in names:
        first, second = ((tmp_path / side / "door" / name).read_bytes() for side in "ab")
        assert first == second
        assert b"/tmp" not in first
        assert first.isascii()


def test_a_file_of_someone_elses_stops_everything_unless_forced(tmp_path: Path) -> None:
    out = tmp_path / "door"
    out.mkdir()
    mine = out / "door_main.c"
    mine.write_text("int main(void) { return 0; }\n")
    done = write(out)
    assert done.exit_code == 73
    assert "door_main.c was not written by sunsched" in done.stderr
    assert [path.name for path in out.iterdir()] == ["door_main.c"]
    assert mine.read_text() == "int main(void) { return 0; }\n"
    assert write(out, "--force").exit_code == 0
    assert "GENERATED by sunsched" in mine.read_text()


def test_its_own_files_are_written_again_without_asking(tmp_path: Path) -> None:
    assert write(tmp_path / "door").exit_code == 0
    assert write(tmp_path / "door").exit_code == 0


def test_cautions_and_wiring_stand_in_the_sketch(tmp_path: Path) -> None:
    assert write(tmp_path / "door").exit_code == 0
    notes = " ".join((tmp_path / "door" / "door.ino").read_text().replace("\n *", " ").split())
    for words in (
        "Cautions",
        "certifies nothing",
        "Isolate the power",
        "fuse",
        "every day",
        "PB1 ( D9)",
        "pull-down",
    ):
        assert words in notes


def config_with(tmp_path: Path, **sections: str) -> Path:
    text = LARCH.read_text()
    for head, body in sections.items():
        text = (
            text.replace(f"[{head}]\n", f"[{head}]\n{body}\n")
            if f"[{head}]\n" in text
            else text + f"\n[{head}]\n{body}\n"
        )
    path = tmp_path / "site.toml"
    path.write_text(text)
    return path


def test_pins_come_from_the_configuration(tmp_path: Path) -> None:
    config = config_with(tmp_path, pins='raise_motor = "PB3"\nmotor_speed = "PD5"\nbottom_switch = "PD3"')
    assert write(tmp_path / "door", config=config).exit_code == 0
    pins = (tmp_path / "door" / "door_pins.h").read_text()
    assert "#define DOOR_RAISE_BIT 3\n" in pins
    assert "#define DOOR_SPEED_OCR OCR0B\n" in pins
    # top PD4 and bottom PD3 are watched; of port D only PD2 and PD6 are left over, and get a pull-up
    assert "#define DOOR_WATCHED_D 0x18u\n" in pins
    assert "#define DOOR_UNUSED_D 0x44u\n" in pins


@pytest.mark.parametrize(
    ("pins", "message"),
    [
        ('raise_motor = "PC6"', "raise_motor on a free pin"),
        ('raise_motor = "PB2"', "PB2 is raise_motor already"),
        ('motor_speed = "PB3"', "motor_speed on a PWM pin (PD5, PD6), not PB3"),
        ('light_cell = "PD3"', "light_cell on a pin with a converter"),
    ],
)
def test_pins_that_cannot_do_it_are_refused(pins: str, message: str, tmp_path: Path) -> None:
    done = write(tmp_path / "door", config=config_with(tmp_path, pins=pins))
    assert done.exit_code == 78
    assert message in done.stderr
    assert not (tmp_path / "door").exists()


@pytest.mark.parametrize(
    ("section", "line", "message"),
    [
        ("chip", 'board = "attiny85"', "chip.board is 'attiny85'; wanted 'atmega328p'"),
        ("chip", 'keeps = "civil"', "chip.keeps is 'civil'; wanted 'standard' or 'utc'"),
        ("light_cell", "adc_steps = 4096", "light_cell.adc_steps is 4096; wanted 1024"),
    ],
)
def test_what_the_chip_cannot_do_is_refused(section: str, line: str, message: str, tmp_path: Path) -> None:
    key = line.partition(" ")[0]
    text = "\n".join(row for row in LARCH.read_text().splitlines() if not row.startswith(f"{key} "))
    config = tmp_path / "site.toml"
    config.write_text(text.replace(f"[{section}]", f"[{section}]\n{line}"))
    done = write(tmp_path / "door", config=config)
    assert done.exit_code == 78
    assert message in done.stderr


def test_a_part_of_5_v_is_refused_on_a_board_of_less() -> None:
    with pytest.raises(ConfigError, match=r"clock\.chip is 'ds1307'; wanted another: a DS1307 needs 5 V"):
        firmware_folder.machine_of(sites.built("larch_end+atmega328p-8mhz+ds1307", 2027))


def test_a_shunt_without_a_pin_is_told_one_that_is_free_on_the_board() -> None:
    for name, pin in (("larch_end", "PC3, with hand_down on PD3"), ("larch_end+atmega2560", "say PF2")):
        work = sites.built(name, 2027)
        shunt = work.configuration.model_copy(update={"motor": Motor(shunt_ohm=0.5)})
        with pytest.raises(ConfigError, match=f"a pin with a converter for the shunt: {pin}"):
            firmware_folder.machine_of(work._replace(configuration=shunt))


def test_every_pin_has_its_wiring_note() -> None:
    work = sites.built("larch_end", 2027)
    folder = Path("door")
    made = flash_tables.flash_tables(work.configuration, (2027,), 0)
    notes = firmware_folder.files_of(work, made, folder)[folder / "door.ino"].decode()
    for pin in Pins().model_dump(exclude_none=True).values():
        assert f"  {pin} (" in notes


def test_the_motor_is_off_before_the_first_instruction_of_main() -> None:
    """The pins are driven low in section .init3, which runs before main() and before variables are set."""
    toolchain.needed("avr-nm")
    elf = emulated.chip_program("larch_end", 2027)
    listing = toolchain.run(["avr-nm", "-n", elf]).stdout.split()
    assert listing.index("board_first") < listing.index("__do_clear_bss") < listing.index("main")


def test_the_shipped_sources_are_all_that_the_folder_holds() -> None:
    shipped = {path.name for path in (toolchain.C_DIR / "firmware").iterdir() if path.is_file()}
    listed = {
        name
        for board in BOARDS.values()
        if board.program and board.language == "c"
        for name in firmware.shipped_names(board)
    }
    assert shipped == {name.rpartition("/")[2] for name in listed if name.startswith("firmware/")}


def test_the_years_in_the_header_are_those_asked_for(tmp_path: Path) -> None:
    assert write(tmp_path / "door", "--year", "2027").exit_code == 0
    assert "Covers    2027-01-01 .. 2047-12-31\n" in (tmp_path / "door" / "door_table.h").read_text()
    assert toml_file.read(str(LARCH)).clock.source == "rtc"
    assert "#define DOOR_CLOCK_CHIP 1u\n" in (tmp_path / "door" / "door_values.h").read_text()
    assert dt.date(2027, 1, 1).isoformat() in (tmp_path / "door" / "door_table.h").read_text()
    shutil.rmtree(tmp_path / "door")


def test_the_years_asked_for_are_compiled_in(tmp_path: Path) -> None:
    done = write(tmp_path / "door", "--years", "2027..2027")
    assert "compiled in: 2027 in one table of 127 bytes, every minute as planned" in done.stdout
    twice = write(tmp_path / "door", "--years", "2027..2028", "--year", "2027")
    assert twice.exit_code == 2
    assert "give --year 2027 for 21 years from it on, or --years 2027..2030" in twice.stderr
    bad = write(tmp_path / "door", "--years", "2028..2027")
    assert bad.exit_code == 2


def test_without_a_year_this_one_and_twenty_more_are_compiled_in(tmp_path: Path) -> None:
    out = tmp_path / "door"
    done = CliRunner().invoke(app, ["firmware", str(LARCH), "--out", str(out), "--json"])
    assert done.exit_code == 0, done.output
    this = dt.date.today().year
    assert json.loads(done.stdout)["years"] == [this, min(this + 20, 2052)]


def test_tables_beyond_the_flash_are_refused_and_fewer_years_offered(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(BOARDS, "atmega328p", BOARDS["atmega328p"]._replace(tables_bytes=300))
    configuration = sites.built("birch_hollow", 2027).configuration
    with pytest.raises(
        CapacityError, match=r"2 tables of 2027 to 2028 take \d+ bytes of flash, more than the 300 .*2027"
    ):
        flash_tables.flash_tables(configuration, (2027, 2028))
