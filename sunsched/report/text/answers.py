"""The first three lines of the commands whose work has no text module of its own: plans, files, days, folders."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from sunsched.base.warned import Warned
from sunsched.plan.place import place_text
from sunsched.report.text.answer import Answer

Values = Mapping[str, Any]


def look_first(found: Sequence[Warned], otherwise: str) -> str:
    """What to do next: look at the warnings, the most harmful named, or what follows where there are none."""
    if not found:
        return otherwise
    count = f"{len(found)} warning{'' if len(found) == 1 else 's'}"
    return f"Look at the {count} first, above all: {found[0].name.replace('_', ' ')}."


def year_span(summary: Values) -> str:
    """When the door opens and closes over the year: 'opens 06:30 to 08:36, closes 17:00 to 21:48'."""
    parts = []
    for side, word in (("open", "opens"), ("close", "closes")):
        early, late = summary[f"earliest_{side}"], summary[f"latest_{side}"]
        if early and late:
            parts.append(f"{word} {early['civil']} to {late['civil']}")
    return ", ".join(parts) or "the door stays down every day"


def decided_by(summary: Values) -> str:
    """What decides most of the openings and closings."""
    parts = []
    for side, word in (("open", f"of {summary['days']} openings"), ("close", "closings")):
        counts = summary["reasons"][side]
        reason = max(counts, key=lambda name: counts[name])
        parts.append(f"{reason} ({counts[reason]} {word})")
    return f"It hangs on {' and '.join(parts)}."


def table_answer(site: str, span: str, summary: Values, found: Sequence[Warned]) -> Answer:
    """A year's table, or many years'; `span` is the year or years in words."""
    put = "Put the table on the chip; sunsched readback proves what the chip holds."
    return Answer(f"{site}, {span}: {year_span(summary)}.", decided_by(summary), look_first(found, put))


def written_answer(what: str, site: str, span: str, summary: Values, found: Sequence[Warned], then: str) -> Answer:
    """A page, a picture or a sheet that was written; `span` is its year, empty for a sheet with its own dates."""
    name = f"{site}, {span}" if span else site
    return Answer(f"{what} of {name}: {year_span(summary)}.", decided_by(summary), look_first(found, then))


def sheets_answer(sites: Sequence[str], found: Sequence[Warned], then: str) -> Answer:
    """One sheet of several huts: their times differ, so none stands here."""
    names = f"{', '.join(sites[:-1])} and {sites[-1]}"
    hangs = "It hangs on each hut's own configuration; each line names its hut."
    return Answer(f"One sheet of {names}, in the order in which to look.", hangs, look_first(found, then))


def day_answer(day: Values) -> Answer:
    """One day: both minutes, what decided them, and where to look further."""
    opens, closes = day["open"], day["close"]
    when = f"{day['site']}, {day['date']}"
    why = f"It hangs on {opens['reason']} in the morning and {closes['reason']} in the evening."
    if opens["min"] is None:
        answer = f"{when}: the door stays down all day."
    else:
        answer = f"{when}: opens {opens['civil']}, closes {closes['civil']}, civil time."
    return Answer(answer, why, "The steps below show which key to change; a season changes some dates alone.")


def play_answer(day: Values, then: str) -> Answer:
    """A page on which an evening is played; `day` is that of the plan."""
    close = day["close"]
    planned = "the door stays down all day" if close["min"] is None else f"planned closing {close['civil']}"
    hangs = "It hangs on your settings and table; sky, door and switches are models."
    return Answer(f"A page that plays {day['site']}, {day['date']}: {planned}.", hangs, then)


def month_answer(month: Values) -> Answer:
    """A month: the span of both minutes, what decides most, and where one day's steps stand."""
    up = [entry for entry in month["days"] if entry["open"]["civil"]]
    name = f"{month['site']}, {month['month']}"
    if not up:
        answer = f"{name}: the door stays down every day."
    else:
        spans = [(min(times), max(times)) for times in ([e[s]["civil"] for e in up] for s in ("open", "close"))]
        answer = f"{name}: opens {spans[0][0]} to {spans[0][1]}, closes {spans[1][0]} to {spans[1][1]}."
    parts = []
    for side, word in (("open", "openings"), ("close", "closings")):
        reasons = [entry[side]["reason"] for entry in month["days"]]
        most = max(dict.fromkeys(reasons), key=reasons.count)
        parts.append(f"{most} ({reasons.count(most)} {word})")
    return Answer(answer, f"It hangs on {' and '.join(parts)}.", "A date in place of the month shows that day's steps.")


def twilight_answer(site: str, year: int, rows: Sequence[Values]) -> Answer:
    """The Sun's year: how early and how late civil dusk is, or the first angle's evening."""
    angle = 6.0 if any(row["depression_deg"] == 6.0 for row in rows) else rows[0]["depression_deg"]
    name = "civil dusk" if angle == 6.0 else f"the evening at {angle:g} degrees"
    of_it = [row for row in rows if row["depression_deg"] == angle]
    times = {row["date"]: row["evening_utc"][11:16] for row in of_it if row["evening_utc"]}
    without = len(of_it) - len(times)
    if not times:
        answer = f"{site}, {year}: {name} comes on no day."
    else:
        # Dusk may pass midnight of UTC; the year's ends are named by their dates, not compared as clock times.
        first, last = (f"{times[date]} UTC on {date}" for date in (min(times), max(times)))
        answer = f"{site}, {year}: {name} at {first}, {last}."
    days = f"{without} days have none" if without else "every day has one"
    return Answer(
        answer,
        f"It hangs on the place alone, with a level horizon; {days}.",
        "sunsched day CONFIG DATE shows what your rules make of it.",
    )


def readback_answer(
    kind: str, span: str, last_day: str, differ: Sequence[Any] | None, proof: str, within: int
) -> Answer:
    """A table read back; `differ` is None where no configuration was given."""
    proven = "its text is proven" if proof else "its text bears no digest, so only the minutes are known"
    if differ is None:
        compare = "Give the configuration too, and every day is compared with a fresh plan."
        return Answer(f"A whole {kind} of {span}.", f"It hangs on its own checksums: {proven}.", compare)
    if differ:
        return Answer(
            f"The {kind} of {span} DIFFERS from a fresh plan in {len(differ)} places.",
            "It hangs on the configuration, the zone data and the version it was made with.",
            "Make the table again and put it on the chip, unless the old rules are the ones wanted.",
        )
    equal = f"within {within} min of" if within else "equal to"
    again = f"Nothing to do until {last_day}, its last day, unless rules or clocks change."
    if not proof:
        again = "Make the table again before it is compiled: what stands beside the minutes is not proven."
    return Answer(f"The {kind} of {span} is {equal} a fresh plan on every day.", f"Beside the minutes {proven}.", again)


def firmware_answer(folder: str, span: str, found: Sequence[Warned], overridden: Sequence[str]) -> Answer:
    """The program's folder."""
    count = len(overridden)
    forced = f"It hangs on {count} point{'' if count == 1 else 's'} that --force passed over: its README names them."
    return Answer(
        f"The door program for {span} is in {folder}.",
        forced if overridden else "It hangs on the machine as you described it: the README repeats every figure.",
        look_first(found, f"Read {folder}/README.md, upload, and stay by the door on the first evening."),
    )


def batch_answer(good: int, bad: int, year: int, results: str) -> Answer:
    """Many sites."""
    every = good + bad
    return Answer(
        f"{good} of {every} sites have their tables for {year}" + (f", {bad} have an error." if bad else "."),
        f"It hangs on the rows of the sites' file: {results} has a line for each.",
        "Correct the rows named there and run it again." if bad else "Put each folder's table on its hut's chip.",
    )


def settings_answer(site: str, sections: Sequence[str], given: int) -> Answer:
    """The configuration as understood."""
    return Answer(
        f"{site}: understood, {len(sections)} sections, every default filled in.",
        f"It hangs on {given} sections of the file; the others are defaults of common parts.",
        "Next: sunsched table CONFIG --year YEAR; then drive, battery and cell.",
    )


def renew_answer(folder: str, status: str, reasons: Sequence[str], what: str) -> Answer:
    """A folder of tables that is due, or was renewed; `what` is new for the chip, empty where it may stay as it is."""
    then = f"put the new {what} on the chip." if what else "nothing for a chip that has this table: no minute is new."
    if status == "due":
        then = "run it without --check."
    return Answer(f"{folder}: {status}.", f"Because {'; '.join(reasons)}.", f"Next: {then}")


def sample_answer(site: str, latitude_deg: float, longitude_deg: float, zone: str, path: str) -> Answer:
    """A configuration to start from."""
    return Answer(
        f"The configuration of {site} is in {path}; it works as it is.",
        f"It hangs on the place, {place_text(latitude_deg, longitude_deg)}, and the zone, {zone}.",
        f"Next: sunsched today {path}, then sunsched table {path}.",
    )
