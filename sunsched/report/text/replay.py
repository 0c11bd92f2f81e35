"""The replay of a light log as plain text and as a picture."""

from __future__ import annotations

from typing import Any

from sunsched.base import cautions
from sunsched.hardware.figures import number
from sunsched.job.logs.replay import Did, Offset, Replay
from sunsched.report.text.answer import Answer, Block, told
from sunsched.report.text.door_nights import first_line, nights_text
from sunsched.report.text.plain import cautions_text, columns, wrapped
from sunsched.study.log_light import STRATEGIES
from sunsched.study.settings import IN_WORDS


def replay_text(replay: Replay, every: bool = False) -> str:
    """Everything about the replay as plain text."""
    few = cautions_text(cautions.REPLAY if every else cautions.STUDY_FIRST)
    blocks = [
        Block(nights_text(replay.nights), "the door's nights"),
        Block(_log_text(replay)),
        Block(_twilights_text(replay), "evenings and mornings"),
        Block(_summary_text(replay)),
        Block(_offset_text(replay), "the cell in its place"),
        Block(few),
    ]
    return told(replay_answer(replay), blocks, every)


def replay_answer(replay: Replay) -> Answer:
    """The replay in three lines: the door's own nights where the log has them, else the three ways of deciding."""
    evening = replay.summary()["evening"]
    if replay.nights:
        answer = first_line(replay.nights)
    else:
        judged = max(found["judged"] for found in evening.values())
        middles = {name: _minutes(found["after_planned_min"]["median"]) for name, found in evening.items()}
        parts = [f"{IN_WORDS[name]} {middle or 'never'}" for name, middle in middles.items()]
        answer = f"{judged} evenings, minutes late: {', '.join(parts)}."
        if not judged:
            answer = "The log lets no evening be judged."
    found = replay.settled
    hangs_on = f"It hangs on the log's clock ({found.clock.name}) and unit ({found.unit})."
    if replay.offset is None:
        then = "Log on: with three clear evenings it shows what your cell reads in its place."
    else:
        then = f"Your cell reads {number(replay.offset.factor)} times a clear sky: --all prints the lines to paste."
    return Answer(answer, hangs_on, then)


def _log_text(replay: Replay) -> str:
    found, log = replay.settled, replay.settled.log
    rows = [
        ("THE LOG", ""),
        ("  rows", f"{log.rows}, {log.bad_rows} left out, one every {number(log.interval_min)} min"),
        ("  dates", f"{replay.plain()['log']['first_date']} to {replay.plain()['log']['last_date']}"),
        ("  unit", f"{found.unit} ({found.unit_from})"),
        ("  clock", f"{found.clock.name} ({found.clock_from})"),
    ]
    if found.found.n_nights:
        off = f"{found.found.off_min:+.0f} min, spread {found.found.spread_min:.0f} min"
        rows.append(("  against the Sun", f"{off}, {found.found.n_nights} nights"))
    return columns(rows)


def _twilights_text(replay: Replay) -> str:
    door = any(one.door is not None for one in replay.twilights)
    head = ("EVENINGS AND MORNINGS", "planned", "lux then", *(IN_WORDS[name] for name in STRATEGIES))
    rows = [(*head, "the door did") if door else head]
    for one in replay.twilights:
        lux = "" if one.lux_at_planned is None else number(one.lux_at_planned)
        did = tuple(_did_text(one.did.get(name), name == "both") for name in STRATEGIES)
        row = (f"  {one.date} {one.side}", one.planned_civil, lux, *did)
        rows.append((*row, _did_text(one.door, True) if one.door else "") if door else row)
    text = columns(rows, frozenset(range(1, len(rows[0]))))
    if replay.not_judged:
        text += f"  {replay.not_judged} of them without light in the log around the planned minute\n"
    return text


def _did_text(did: Did | None, with_why: bool) -> str:
    if did is None:
        return "no light"
    if did.civil is None or did.after_planned_min is None:
        return "never"
    why = f" {did.why}" if with_why else ""
    return f"{did.civil} ({did.after_planned_min:+d}){why}"


def _summary_text(replay: Replay) -> str:
    rows = [["MINUTES AFTER THE PLANNED", "judged", "never", "earliest", "10 %", "middle", "90 %", "latest"]]
    for side, by_name in replay.summary().items():
        for name, found in by_name.items():
            cuts = found["after_planned_min"].values()
            ends = (found["earliest_min"], found["latest_min"])
            spread = [_minutes(value) for value in (ends[0], *cuts, ends[1])]
            rows.append([f"  {side}, {IN_WORDS[name]}", str(found["judged"]), str(found["never"]), *spread])
    text = columns(rows, frozenset(range(1, 8)))
    window = replay.window_min
    words = (
        f"both: the cell may act from {window['evening'][0]:+d} to {window['evening'][1]:+d} min in the evening,"
        f" {window['morning'][0]:+d} to {window['morning'][1]:+d} in the morning"
    )
    if replay.window_assumed:
        words += " (assumed: the configuration leaves the cell no minutes)"
    return text + wrapped(words, "  ") + "\n"


def _minutes(value: Any) -> str:
    return "" if value is None else f"{value:+.0f}"


def _clock_words(found: Offset) -> str:
    share = 100 * (found.minute_as_factor - 1)
    if found.clock_fast_min is None:
        return (
            "The log has too few clear mornings to part cell and clock: a minute that its clock is fast counts as "
            f"{share:.0f} % of light, and the range allows for a few."
        )
    state = "is wrong" if found.clock_is_off else "may be right"
    return (
        f"Dusk and dawn together put its clock {found.clock_fast_min:+.1f} min fast ({found.clock_low_min:+.1f} .. "
        f"{found.clock_high_min:+.1f}): it {state}; the factor allows for it. A sky brighter on one side counts as a "
        "clock's error too."
    )


def _offset_text(replay: Replay) -> str:
    found = replay.offset
    if found is None:
        words = "fewer than three clear evenings in the log: nothing can be said. A month usually holds some."
        return "THE CELL IN ITS PLACE\n" + wrapped(words, "  ") + "\n"
    rows = [("THE CELL IN ITS PLACE", "true lux", "reads, lux", "range", "counts", "range")]
    for one in found.proposed:
        spread = f"{number(one.low_lux)} .. {number(one.high_lux)}"
        counts = "" if one.counts is None else str(one.counts)
        ends = "" if one.counts is None else f"{one.counts_low} .. {one.counts_high}"
        rows.append((f"  {one.key}", number(one.true_lux), number(one.reading_lux), spread, counts, ends))
    words = (
        f"{len(found.clear_evenings)} of {found.evenings} evenings count as clear"
        f" ({found.clear_evenings[0]} to {found.clear_evenings[-1]})."
        f" There the cell reads {number(found.factor)} times what a clear sky gives it, between"
        f" {number(found.factor_low)} and {number(found.factor_high)} (two standard errors, the model's own and the"
        " evenings' spread included);"
        f" evenings differ by {found.sd_log10:.2f} in log10. If none of them was truly clear, the factor is too low."
    )
    words += f" {_clock_words(found)}"
    paste = "".join(f"    {line}\n" for line in found.paste.splitlines())
    return columns(rows, frozenset({1, 2, 3, 4, 5})) + wrapped(words, "  ") + "\n  To allow for it:\n" + paste
