"""The program's folder for one configuration: refuses what the chip cannot do and makes texts of the rest."""

from __future__ import annotations

import dataclasses
from collections.abc import Sequence
from pathlib import Path

from sunsched.base.errors import ConfigError, Problem
from sunsched.config.configuration import Configuration
from sunsched.controller.door_settings import door_settings, short_shows_by_day
from sunsched.emit import c_years, firmware, micropython_folder
from sunsched.emit.stamp import Stamp, command_line
from sunsched.hardware.boards import ANYWHERE, Board, names_with_program
from sunsched.hardware.drive import drive_constants, end_current_a
from sunsched.hardware.parts import Motor
from sunsched.hardware.pins import pins_on, refuse_pins_that_cannot
from sunsched.job.chip.flash_tables import WORST_ERROR_MIN, FlashTables
from sunsched.job.files import shipped_c
from sunsched.job.pipeline import Built
from sunsched.plan.rules import Rules
from sunsched.plan.window_light import window_light

DS1307_LEAST_V = 4.5  # Maxim, data sheet of the DS1307: from memory


def machine_of(work: Built, name: str = "") -> firmware.Machine:
    """The program's settings beside its table. `name` is the configuration's file, for errors."""
    c = work.configuration
    refuse_what_the_chip_cannot_do(c, name)
    drive = drive_constants(c.door, c.spool, c.motor) if c.door and c.spool and c.motor else None
    settings = door_settings(
        c.rules, c.light_cell, c.clock, drive, c.door, window_light(work.plan, c.rules, c.light_cell)
    )
    if _end_counts(c.motor, c.chip.on) is not None:
        settings = dataclasses.replace(settings, down_by_current=1)
    return firmware.Machine(
        settings=settings,
        board=c.chip.on,
        pins=c.pins or pins_on(c.chip.on),
        clock=c.clock.source,
        battery_volts=c.battery.volts if c.battery else None,
        lux_sensor=c.light_cell.kind == "lux",
        clock_chip=c.clock.chip,
        driver=c.motor.driver if c.motor else "two_inputs",
        switches=c.door.switches if c.door else "normally_open",
        end_counts=_end_counts(c.motor, c.chip.on),
        short_shows=short_shows_by_day(c.light_cell),
    )


def _end_counts(motor: Motor | None, board: Board) -> int | None:
    """Converter counts of the shunt's voltage at which the lower end is taken as reached."""
    if motor is None or motor.shunt_ohm is None:
        return None
    return round(end_current_a(motor) * motor.shunt_ohm / board.supply_v * firmware.ADC_STEPS)


def _shunt_problems(c: Configuration, name: str) -> list[Problem]:
    if c.motor is None or c.motor.shunt_ohm is None:
        return []
    problems = []
    if c.pins is None or c.pins.motor_current is None:
        problems.append(Problem(name, "pins.motor_current", "not set", _free_converter(c)))
    running_a = c.motor.run_a * c.motor.lowering_share if c.motor.lowering_a is None else c.motor.lowering_a
    apart = (end_current_a(c.motor) - running_a) * 2 * c.motor.shunt_ohm / c.chip.on.supply_v * firmware.ADC_STEPS
    if apart < firmware.LEAST_END_COUNTS:
        wanted = f"{firmware.LEAST_END_COUNTS} converter counts between running and held, not {apart:.0f}: a larger one"
        problems.append(Problem(name, "motor.shunt_ohm", f"{c.motor.shunt_ohm:g}", wanted))
    return problems


def _free_converter(c: Configuration) -> str:
    used = (c.pins or pins_on(c.chip.on)).model_dump().values()
    free = [pin for pin in c.chip.on.analog_pins if pin not in used]
    where = f"say {free[0]}" if free else "PC3, with hand_down on PD3"
    return f"a pin with a converter for the shunt: {where}"


def refuse_what_the_chip_cannot_do(c: Configuration, name: str = "") -> None:
    """Raise ConfigError with every setting that the program for this board has no way to follow."""
    problems = []
    if not c.chip.on.program:
        known = " or ".join(f"'{board}'" for board in names_with_program())
        wanted = f"{known}: the program is for that board; on an {c.chip.on.title} the table works: {ANYWHERE}"
        problems.append(Problem(name, "chip.board", f"'{c.chip.board}'", wanted))
    elif c.pins is None:
        problems += _own_pins(c.chip.on, name)
    if c.clock.source == "rtc" and c.clock.chip == "ds1307" and c.chip.on.supply_v < DS1307_LEAST_V:
        wanted = f"another: a DS1307 needs 5 V, and the pins of this board have {c.chip.on.supply_v:g} V"
        problems.append(Problem(name, "clock.chip", "'ds1307'", wanted))
    if c.chip.keeps == "civil":
        problems.append(Problem(name, "chip.keeps", "'civil'", "'standard' or 'utc': the program has no summer time"))
    if c.light_cell.kind == "photoresistor" and c.light_cell.adc_steps != firmware.ADC_STEPS:
        problems.append(Problem(name, "light_cell.adc_steps", str(c.light_cell.adc_steps), str(firmware.ADC_STEPS)))
    if c.door and c.door.reopen_once and not (c.rules.evening.cell_from_min or c.rules.evening.cell_until_min):
        wanted = "false, or minutes in [evening] cell_from_min and cell_until_min: it follows a closing by light"
        problems.append(Problem(name, "door.reopen_once", "true", wanted))
    if c.motor and c.motor.shunt_ohm is not None and c.chip.on.language == "micropython":
        wanted = f"not set: the program of an {c.chip.on.title} has a lower switch, and no end by current"
        problems.append(Problem(name, "motor.shunt_ohm", f"{c.motor.shunt_ohm:g}", wanted))
    else:
        problems += _shunt_problems(c, name)
    problems += _seasons_with_own_windows(c.rules, name)
    if problems:
        raise ConfigError(*problems)


def _own_pins(board: Board, name: str) -> list[Problem]:
    """The wiring taken where there is no [pins] is checked as a written one is."""
    try:
        refuse_pins_that_cannot(pins_on(board), board)
    except ValueError as error:
        return [Problem(name, "pins", "missing", str(error))]
    return []


def _seasons_with_own_windows(rules: Rules, name: str) -> list[Problem]:
    """The chip keeps one window a side for the whole year."""
    problems = []
    for n, variant in enumerate(rules.variants()[1:]):
        for side, rule, own in (
            ("morning", variant.morning, rules.morning),
            ("evening", variant.evening, rules.evening),
        ):
            for key in ("cell_from_min", "cell_until_min"):
                got, wanted = getattr(rule, key), getattr(own, key)
                if got != wanted:
                    need = f"{wanted}, as in [{side}]: the program has one window for the whole year"
                    problems.append(Problem(name, f"season[{n}].{side}.{key}", str(got), need))
    return problems


def files_of(
    work: Built, made: FlashTables, folder: Path, name: str = "", options: Sequence[str] = ()
) -> dict[Path, bytes]:
    """The folder's files with their bytes; the folder's own name becomes the sketch's.

    work   of the tables' first year
    made   the tables that are compiled in
    name, options   the configuration's file and further options of the command, for the line that makes it again
    """
    machine = machine_of(work, name)
    command = command_of(made, folder, name, options)
    stamp = Stamp(work.stamp.version, command, work.stamp.tzdata, work.stamp.plan_sha256, work.stamp.settings)
    if machine.board.language == "micropython":
        contents = micropython_folder.files(work.plan, made.tables, stamp, machine)
        return {folder / file: content for file, content in contents.items()}
    header = c_years.text(made.plans, made.tables, stamp)
    texts = firmware.texts(work.plan, header, stamp, machine, _shipped(machine.board), sketch_name(folder))
    return {folder / file: text.encode() for file, text in texts.items()}


def command_of(made: FlashTables, folder: Path, name: str, options: Sequence[str] = ()) -> str:
    """The line that makes the folder again, to be copied into a shell."""
    years = ("--years", f"{made.first_year}..{made.last_year}")
    error = () if made.asked_error_min == WORST_ERROR_MIN else ("--worst-error", str(made.asked_error_min))
    return command_line("firmware", name, "--out", sketch_name(folder), *years, *error, *options)


def sketch_name(folder: Path) -> str:
    """The sketch's name: its folder's, for an IDE opens no other."""
    return folder.resolve().name or "door"


def _shipped(board: Board) -> dict[str, str]:
    return {name: shipped_c(name).decode("ascii") for name in firmware.shipped_names(board)}
