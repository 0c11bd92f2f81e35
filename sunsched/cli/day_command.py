"""`day`: every step that led to one day's two minutes."""

from __future__ import annotations

from typing import Annotated, Any

import typer

from sunsched.cli import console
from sunsched.cli.options import AsJson, ConfigPath, parsed_date


def day(
    config: ConfigPath,
    date: Annotated[str, typer.Argument(metavar="DATE", help="The date, such as 2027-03-28.")],
    as_json: AsJson = False,
) -> None:
    """Show a day's moments and every step that led to its opening and closing."""
    from sunsched.config import toml_file
    from sunsched.job.one_day import day_steps

    wanted = parsed_date(date)
    result = day_steps(toml_file.read(config), wanted, config)
    if as_json:
        console.data_json(result)
    else:
        console.data(_text(result))


def _text(day: dict[str, Any]) -> str:
    offset_h = day["utc_offset_min"] / 60
    lines = [
        f"{day['site']}, {day['date']}, {day['zone']} (UTC{offset_h:+g} h, tzdata {day['tzdata']})",
        f"solar noon {day['solar_noon']['civil']}",
        "",
    ]
    for side, result in (("morning", day["open"]), ("evening", day["close"])):
        steps = [step for step in day["steps"] if step["side"] == side]
        rows = [(step["step"], step["civil"] or "-", step["utc"] or "-", step["detail"]) for step in steps]
        lines.append(console.table((side, "civil time", "UTC", ""), rows, words=(0, 3)))
        word = "opens" if side == "morning" else "closes"
        if result["min"] is None:
            lines.append(f"the door stays down: {result['reason']}\n")
        else:
            minute = f"chip minute {result['min']}"
            lines.append(f"{word} {result['civil']} ({minute}), rounded up; reason: {result['reason']}\n")
    return "\n".join(lines)
