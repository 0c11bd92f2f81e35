"""The battery's figures and verdicts in words, what the door does at disconnect, and the cautions."""

from __future__ import annotations

from collections.abc import Mapping

from sunsched.hardware.figures import Figure, Verdict
from sunsched.hardware.spread import Span

I_T = "I t"
# group, name, label, unit, formula and source
ROWS: tuple[tuple[str, str, str, str, str], ...] = (
    ("used each day", "moves_ah", "one raising and one lowering", "Ah", "sum of I t"),
    ("used each day", "board_ah", "board, asleep and awake", "Ah", I_T),
    ("used each day", "sensor_ah", "light cell", "Ah", I_T),
    ("used each day", "driver_ah", "motor driver at rest", "Ah", I_T),
    ("used each day", "controller_ah", "charge controller", "Ah", I_T),
    ("used each day", "self_discharge_ah", "self-discharge, full battery", "Ah", "3 %/month AGM at 20 C: Victron"),
    ("used each day", "used_ah", "together", "Ah", "sum"),
    ("without Sun", "cold_share", "share of capacity left by the cold", "", "typical datasheet, from memory"),
    ("without Sun", "usable_ah", "charge down to the depth limit", "Ah", "capacity x usable share x cold"),
    ("without Sun", "autonomy_days", "days to the depth limit", "days", "charge / use"),
    ("without Sun", "flat_after_days", "days until the door stops", "days", "capacity x cold / use"),
    ("worst month", "irradiation_kwh", "Sun on the panel", "kWh/m2/day", "H0 K, Erbs 1982, Liu & Jordan 1962"),
    ("worst month", "gain_ah", "charge from the panel", "Ah/day", "W x kWh/m2 x yield / V"),
    ("worst month", "gain_over_use", "charge gained over charge used", "", "1.3 to 1.4 asked: IEEE 1562, from memory"),
)

CAUTIONS = (
    "These are sums on model weather, not a forecast and not a certificate. Local codes, the makers' data and licensed "
    "electricians prevail. Inspect birds and door daily.",
    "Lead-acid: fuse at the positive terminal; ventilated housing, no sparks (hydrogen is explosive from 4.1 to 72 %).",
    "Never charge a frozen battery: a discharged one freezes at a few degrees below 0 C, a full one far lower "
    "(from memory).",
    "12.2 V at rest is about half charge for a 12 V lead-acid battery.",
    "Mains chargers: RCD/GFCI, enclosure rated for outdoors, licensed wiring.",
    "Snow on the panel, a shaded or dirty panel and a battery with an open cell are not in these figures.",
)


NO_CHANGE_HELPS = (
    "None of the changes below helps by itself: several together may, or a charged spare battery or another supply for "
    "the dark weeks."
)


def battery_figures(results: Mapping[str, Span]) -> tuple[Figure, ...]:
    """The results in reading order with their names and formulas; those without a result are left out."""
    return tuple(Figure(group, name, label, results[name], unit, how) for group, name, label, unit, how in ROWS)


def at_disconnect(results: Mapping[str, Span]) -> tuple[str, ...]:
    """What the door does as the battery runs down; it is for the keeper to settle beforehand."""
    lowering_mah = 1000.0 * results["moves_ah"].high
    return (
        "Battery low (about 11.8 V at rest): an alarm only; both moves go on.",
        "Nearly out (about 11.3 V, or the supply sags below the motor's least voltage): the door is lowered at its "
        f"planned time as usual, with gravity's help. It is not raised unless one more lowering, at most "
        f"{lowering_mah:.1f} mAh, is left; after one day shut it opens.",
        "Cut off: no motor, no clock, no alarm. The door stays as it is. Cut off by day, it stays open all night; cut "
        "off by night, it stays shut, and birds locked in need water and air.",
        "A clock with its own cell keeps the time through it; without one the chip starts again without the time.",
        "Settle it now: keep a charged spare, let the controller's alarm reach you, and leave water inside.",
    )


def autonomy_texts(days: Span, asked: float) -> tuple[str, str]:
    """Good and bad text for the days without Sun."""
    stated = f"{days.value:.1f} days ({days.low:.1f} .. {days.high:.1f}) without Sun before the depth limit"
    return (
        f"{stated}; {asked:.0f} are asked.",
        f"{stated}, {asked:.0f} are asked: a dull week may end it. A board that sleeps deeper often helps more than "
        "a greater battery.",
    )


def worst_month_texts(month: str, ratio: Span, asked: float) -> tuple[str, str]:
    """Good and bad text for the month with least gain."""
    stated = f"in {month} the panel gives {ratio.value:.1f} ({ratio.low:.1f} .. {ratio.high:.1f}) times what is used"
    return (
        f"{stated}; {asked:.1f} is asked.",
        f"{stated}, {asked:.1f} is asked: the battery may run down through the month. Use less, turn or tilt the panel "
        "better, or fit a greater one.",
    )


def winter_verdict(
    name: str, state: str, turning: tuple[str, ...], counts: tuple[int, int, int], fewest: int
) -> Verdict:
    """The verdict on many winters: `counts` are hits at the stated inputs, hits with inputs drawn, winters.

    `fewest` are the hits that the best of the changes leaves.
    """
    stated, drawn, n_years = counts
    happens = "the depth limit is passed" if name == "depth limit" else "the battery is flat and the door stops"
    text = (
        f"{happens} in {stated} of {n_years} winters with the inputs as stated, and in {drawn} of {n_years} with the "
        "inputs drawn from their ranges."
    )
    if state != "holds":
        helps = fewest < stated or not stated
        text += f" {'The changes below show what would help.' if helps else NO_CHANGE_HELPS}"
    return Verdict(name, state, turning, text)
