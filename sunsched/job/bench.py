"""The content of the program's folder for whoever builds the door: the machine, its sums, and the faults found.

The program drives a motor. It is not written for a machine that was not described, nor for one whose sums fail, unless
--force asks for it; then the folder itself says what was overridden.
"""

from __future__ import annotations

from dataclasses import dataclass

from sunsched.base.errors import CheckError, ConfigError, Problem
from sunsched.base.model import Settings
from sunsched.config.configuration import Configuration
from sunsched.emit import firmware
from sunsched.hardware import wiring
from sunsched.hardware.drive_sums import DriveSums, drive_sums
from sunsched.hardware.figures import Verdict
from sunsched.hardware.parts import Door, Motor, Spool
from sunsched.job.firmware_folder import machine_of
from sunsched.job.pipeline import Built

# Without these the program's cut-offs would be those of another machine.
_NEEDED = {
    "door": ("travel_mm", "plate_kg"),
    "spool": ("core_diameter_mm", "turns_left_when_down"),
    "motor": ("volts", "rpm", "run_a", "winding_ohm", "lowering_duty", "cutoff_up_s", "cutoff_down_s"),
}
_CUTOFFS = {"motor": ("cutoff_up_s", "cutoff_down_s")}
_DEFAULTS: dict[str, Settings] = {"door": Door(), "spool": Spool(), "motor": Motor()}


@dataclass(frozen=True)
class Bench:
    """One configuration's machine for the bench.

    sums   the drive's, or None where the machine is not described
    overridden   what --force passed over, a sentence each
    """

    work: Built
    machine: firmware.Machine
    wires: tuple[wiring.Wire, ...]
    sums: DriveSums | None
    overridden: tuple[str, ...]

    @property
    def in_doubt(self) -> tuple[Verdict, ...]:
        """The verdicts that an input's range turns."""
        return tuple(one for one in (self.sums.verdicts if self.sums else ()) if one.state == "in doubt")


def bench_of(work: Built, name: str = "", force: bool = False) -> Bench:
    """The machine of a configuration, or why no program is written for it. `name` is the configuration's file.

    force   write all the same; `overridden` names what was passed over
    Raises ConfigError naming every key of the machine that is missing, and CheckError where its sums fail.
    """
    c = work.configuration
    missing, sums = missing_keys(c, name), None
    if c.door and c.spool and c.motor:
        sums = drive_sums(c.door, c.spool, c.motor)
    failing = [one for one in (sums.verdicts if sums else ()) if one.state == "fails"]
    if not force and missing:
        raise ConfigError(*missing)
    if not force and failing:
        faults = [f"{name}: {one.name} FAILS: {one.text}" for one in failing]
        raise CheckError("\n".join([*faults, f"{name}: no program was written; --force writes it all the same"]))
    machine = machine_of(work, name)
    overridden = [f"{problem.key} is not given: the program has the default of another machine" for problem in missing]
    overridden += [f"{one.name} fails: {one.text}" for one in failing]
    return Bench(work, machine, firmware.wires(machine), sums, tuple(overridden))


def missing_keys(c: Configuration, name: str = "") -> list[Problem]:
    """The keys without which the motor would run by another machine's times: every one of a missing section."""
    found = []
    for section, keys in _NEEDED.items():
        part = getattr(c, section)
        wanted = keys if part is None else _CUTOFFS.get(section, ())
        for key in wanted:
            if part is None or key not in part.model_fields_set:
                default = getattr(_DEFAULTS[section], key)
                need = f"your machine's own, which this program runs by ({default:g} is the default; --force takes it)"
                found.append(Problem(name, f"{section}.{key}", "missing", need))
    return found
