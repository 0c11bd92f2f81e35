"""A site's offset from the clear-sky model in words a configuration understands."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from typing import Any

from sunsched.base.civil_time import date_of
from sunsched.base.rounding import printed_values
from sunsched.hardware.light_cell import divider_counts
from sunsched.hardware.parts import LightCell
from sunsched.study.calibration import EveningFit, calibration


@dataclass(frozen=True)
class Proposed:
    """A threshold set so that it is met at the true light: the reading [lux] and its counts, with their range."""

    key: str
    true_lux: float
    reading_lux: float
    low_lux: float
    high_lux: float
    counts: int | None
    counts_low: int | None
    counts_high: int | None


@dataclass(frozen=True)
class Offset:
    """What the cell in its place reads against the clear sky, as a factor, with two standard errors either way."""

    factor: float
    factor_low: float
    factor_high: float
    sd_log10: float
    se_log10: float
    clear_evenings: tuple[str, ...]
    evenings: int
    proposed: tuple[Proposed, ...]
    paste: str

    def plain(self) -> dict[str, Any]:
        """Plain values, for JSON."""
        return dict(printed_values(asdict(self)))


def offset_of(cell: LightCell, fits: list[tuple[int, EveningFit]]) -> Offset | None:
    """The offset and the thresholds that allow for it; `fits` with their day numbers. None with too few evenings."""
    found = calibration([EveningFit(k, fit.dark_log, fit.light_log, fit.rms_log) for k, (_, fit) in enumerate(fits)])
    if found is None:
        return None
    two = 10 ** (2 * found.se_log)
    offsets = {"dark_lux": found.dark_log, "light_lux": found.light_log}
    proposed = tuple(_proposed(cell, key, getattr(cell, key), 10**off, two) for key, off in offsets.items())
    factor = 10**found.dark_log
    return Offset(
        factor=factor,
        factor_low=factor / two,
        factor_high=factor * two,
        sd_log10=found.sd_log,
        se_log10=found.se_log,
        clear_evenings=tuple(date_of(fits[k][0]).isoformat() for k in found.evenings),
        evenings=len(fits),
        proposed=proposed,
        paste=_paste(cell, proposed, factor),
    )


def _proposed(cell: LightCell, key: str, true_lux: float, factor: float, two: float) -> Proposed:
    reading = true_lux * factor
    lux = (reading, reading / two, reading * two)
    counts: tuple[int | None, ...] = (None, None, None)
    if cell.kind == "photoresistor":
        part = (cell.r10_ohm, cell.gamma, cell.fixed_ohm, cell.adc_steps)
        counts = tuple(int(divider_counts(value, *part)) for value in lux)
    return Proposed(key, true_lux, *lux, *counts)


def _paste(cell: LightCell, proposed: tuple[Proposed, ...], factor: float) -> str:
    if cell.kind == "photoresistor":
        # a cell that reads `factor` times too much has less resistance at 10 lux than was told, by factor^-gamma
        return f"[light_cell]\nr10_ohm = {float(f'{cell.r10_ohm * factor**-cell.gamma:.3g}'):.0f}\n"
    lines = "".join(f"{one.key} = {float(f'{one.reading_lux:.3g}'):g}\n" for one in proposed)
    return f"[light_cell]\n{lines}"
