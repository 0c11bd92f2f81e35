"""What must hold of the motor whatever is broken, by what the machine has been through."""

from __future__ import annotations

from collections.abc import Sequence

Machine = dict[str, float]  # what a runner says of its machine since power-up


def broken(machine: Machine) -> list[str]:
    """Each limit that one run has passed, with by how much; empty if all have held.

    Seconds with both directions driven, reversals within the dead time, runs beyond their cut-off (lowering: beyond
    the budget of the cord), cord paid out beyond what the spool holds.
    """
    over_up_s = machine["longest_up_s"] - machine["up_cutoff_s"]
    over_down_s = machine["longest_down_s"] - machine["down_budget_s"]
    over_mm = machine["most_cord_mm"] - machine["spool_mm"]
    said = [
        (machine["both_s"], "both directions for {:.0f} s"),
        (machine["reversals_too_soon"], "{:.0f} reversals within the dead time"),
        (over_up_s, "raised {:.0f} s beyond the cut-off"),
        (over_down_s, "lowered {:.0f} s beyond the cut-off"),
        (over_mm, "cord {:.0f} mm beyond the spool"),
    ]
    return [words.format(by) for by, words in said if by > 0]


def invariants_cell(machines: Sequence[Machine]) -> str:
    """`held`, or the worst that any run has passed."""
    worst = {name: max(machine[name] for machine in machines) for name in machines[0]}
    return "; ".join(broken(worst)) or "held"


def invariants_line(machines: Sequence[Machine]) -> str:
    """The same over all runs of a table, in figures."""
    names = ("both_s", "reversals_too_soon", "longest_up_s", "longest_down_s", "up_cutoff_s", "down_budget_s")
    worst = {name: max(machine[name] for machine in machines) for name in names}
    return (
        f"{len(machines)} runs: seconds with both directions driven {worst['both_s']:.0f}, reversals within the dead "
        f"time {worst['reversals_too_soon']:.0f}, longest raise {worst['longest_up_s']:.0f} s (cut-off "
        f"{worst['up_cutoff_s']:.0f}), longest lowering {worst['longest_down_s']:.0f} s "
        f"({worst['down_budget_s']:.0f}); all held in {sum(not broken(machine) for machine in machines)} runs."
    )
