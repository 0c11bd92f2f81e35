"""A calibration of the light cell by readings as plain text."""

from __future__ import annotations

from sunsched.base import cautions
from sunsched.hardware.figures import number
from sunsched.hardware.parts import LightCell
from sunsched.job.cell_readings import CellCalibration
from sunsched.report.text.plain import cautions_text, columns, wrapped


def readings_text(found: CellCalibration, cell: LightCell) -> str:
    """What the readings say, with the spread that is left, what to paste, and how to keep a reading."""
    count = len(found.readings)
    noun = "reading" if count == 1 else f"{count} readings"
    unit = "lux" if cell.kind == "lux" else "counts"
    answer = (
        f"By {'one' if count == 1 else 'these'} {noun} the cell gives {found.factor:.2f} times the light that the file "
        f"expects; a factor of {found.spread:.1f} either way (95 %) is left."
    )
    hangs_on = "It hangs on a sky without cloud or lamp, and on the minute."
    if found.key == "r10_ohm" and found.spread >= cell.spread:
        hangs_on += (
            f" That is no narrower than the part's own tolerance of {cell.spread:g}: note more clear evenings before "
            "you change the file."
        )
    rows = [("READINGS", unit, "clear sky at the cell, lux", "the cell gives, lux", "times")]
    rows += [
        (f"  {one.at}", f"{one.counts:g}", number(one.clear_lux), number(one.read_lux), f"{one.factor:.2f}")
        for one in found.readings
    ]
    last = found.readings[-1]
    keep = f'    [[light_cell.reading]]\n    at = "{last.at}"\n    counts = {last.counts:g}\n'
    paste = "".join(f"    {line}\n" for line in found.paste.splitlines())
    return "\n".join(
        [
            wrapped(answer, "") + "\n" + wrapped(hangs_on, "") + "\n",
            columns(rows, frozenset({1, 2, 3, 4})),
            f"KEYS TO CHANGE, IN [light_cell]\n{paste}",
            f"TO KEEP THIS READING, at the end of the file; more of them narrow the spread\n{keep}",
            cautions_text(cautions.CELL),
        ]
    )
