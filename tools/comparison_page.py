"""Write the tables of docs/comparison.md that come from comparisons of the shipped sites (half a minute of a core).

    python tools/comparison_page.py

The table of Larch end's birds, and one table of verdicts for each site under its heading; the text between stays, and
whoever runs this reads it against the new figures.
"""

from __future__ import annotations

import re
import sys
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from sunsched.base.rounding import printed_values
from sunsched.config import toml_file
from sunsched.job.comparison import comparison_of
from sunsched.report.text.comparison_tables import plain

ROOT = Path(__file__).parents[1]
PAGE = ROOT / "docs" / "comparison.md"
YEAR, YEARS, SEED = 2027, 200, 1
SITES = {  # by heading
    "Larch end, 47 N": "larch_end",
    "Birch hollow, 69 N": "birch_hollow",
    "Tussock flat, 45 S": "tussock_flat",
    "Fig yard, 0 N": "fig_yard",
    "East terrace, 50 N": "east_terrace",
}
HABITS = {0.0: "0 (birds follow the Sun)", 0.5: "0.5", 1.0: "1 (birds follow the evening's light)"}
MOST_NAMED = 3  # assumptions at which a verdict is no longer told
TABLE = re.compile(r"^\|.*\n\|[-|]+\n(?:\|.*\n)+", re.MULTILINE)


def three(value: float) -> str:
    """Three digits, zeros at the end too."""
    return f"{value:#.3g}".rstrip(".")


def birds_table(found: Mapping[str, Any]) -> str:
    """Birds out of each strategy at the site's own minutes."""
    lines = ["| w | minutes open | light alone | clock alone | clock and light |", "|---|---|---|---|---|"]
    for table in found["at_equal_minutes"]:
        birds = [table["birds_out"][strategy] for strategy in ("light", "clock", "both")]
        cells = [f"{three(one['mean'])} +-{three(2 * one['error'])}" for one in birds]
        minutes = three(table["open_after_dark_min"])
        lines.append(f"| {HABITS[table['follow_light']]} | {minutes} | {' | '.join(cells)} |")
    return "\n".join(lines) + "\n"


def named(key: str) -> str:
    """A key as the page names it: that of [model] without its section."""
    return f"`{key.removeprefix('model.')}`"


def ends(end: Mapping[str, Any]) -> str:
    """Keys at the ends of their ranges."""
    return ", ".join(f"{named(key)} = {value:g}" for key, value in zip(end["keys"], end["values"], strict=True))


def turned(end: Mapping[str, Any]) -> str:
    """An assumption that turns a verdict, and from which value on."""
    return ends(end) if end["turns_at"] is None else f"{named(end['keys'][0])} from {end['turns_at']:.3g}"


def verdict_row(verdict: Mapping[str, Any]) -> str:
    """One verdict of two strategies."""
    birds = f"{round(verdict['birds_out'], 2):+.3g} +-{round(2 * verdict['error'], 2):.2g}"
    cells = [f"{verdict['follow_light']:.1f}", f"{verdict['of']} - {verdict['less']}: {birds}"]
    if not verdict["told"]:
        return f"| {' | '.join([*cells, verdict['words']])} | - | - | - |"
    cells.append(verdict["words"] + (" (firm)" if verdict["firm"] else ""))
    cells.append(", ".join(turned(end) for end in verdict["turned_by"]) or "-")
    cells.append(", ".join(ends(end) for end in verdict["hidden_by"][:MOST_NAMED]) or "-")
    pair = verdict["worst_pair"]
    cells.append(f"{ends(pair)}: {round(pair['birds_out'], 1):+.3g}" if pair else "-")
    return f"| {' | '.join(cells)} |"


def verdicts_table(found: Mapping[str, Any]) -> str:
    """Every verdict of a site, with what turns or hides it."""
    lines = ["| w | birds a year | verdict | turned by | no longer told at | worst pair |", "|---|---|---|---|---|---|"]
    return "\n".join([*lines, *(verdict_row(one) for one in found["hangs_on"]["verdicts"])]) + "\n"


def page(text: str, found: Mapping[str, Mapping[str, Any]]) -> str:
    """The page with its tables of these comparisons, by file name of the site. Raises ValueError without a heading."""
    text = TABLE.sub(lambda _: birds_table(found["larch_end"]), text, count=1)
    for heading, name in SITES.items():
        before, mark, after = text.partition(f"### {heading}\n")
        if not mark:
            raise ValueError(f"docs/comparison.md has no heading {heading!r}")
        text = before + mark + TABLE.sub(lambda _, name=name: verdicts_table(found[name]), after, count=1)  # type: ignore[misc]
    return text


def main() -> None:
    """Run the comparisons, write the page."""
    found = {}
    for name in SITES.values():
        configuration = toml_file.read(str(ROOT / "configs" / f"{name}.toml"))
        found[name] = printed_values(plain(comparison_of(configuration, YEAR, YEARS, SEED)))
    PAGE.write_text(page(PAGE.read_text(encoding="utf-8"), found), encoding="utf-8")
    sys.stdout.write(f"wrote {PAGE.relative_to(ROOT)}\n")


if __name__ == "__main__":
    main()
