"""The plain C header: one readable row for each day and the functions that read it, in one file.

The C text that declares and reads the rows is the same for every site. Text from a configuration is made fit for a C
comment or string here.
"""

from __future__ import annotations

import json
import re
import unicodedata
from collections.abc import Iterable, Iterator, Mapping
from functools import lru_cache
from typing import Any

import numpy as np

from sunsched.base import cautions
from sunsched.base.civil_time import WEEKDAY_NAMES, clock_text, date_of, year_days
from sunsched.base.errors import DamagedError, RangeError
from sunsched.base.text_digest import with_digest_line, without_digest
from sunsched.emit.read_table import ReadTable, refuse_beyond_16_bits, refuse_other_dates, text_of
from sunsched.emit.stamp import Stamp, file_stem
from sunsched.plan.year import FACTS, NO_MINUTE, YearPlan
from sunsched.table import facts
from sunsched.table.framing import REVISION, crc16

# A C comment ends at the first */; a nested /* and a trigraph draw warnings; a backslash may join lines.
_HARMLESS = (("*/", "* /"), ("/*", "/ *"), ("??", "? ?"), ("\\", "/"))


def comment_text(text: str, longest: int = 90) -> str:
    """`text` in plain ASCII on one line, with nothing in it that ends or continues a comment.

    Letters lose their accents; what has no plain form becomes '?'; cut after `longest` characters.
    """
    line = (text if text.isascii() and text.isprintable() else _plain(text)).rstrip()
    previous = ""
    while previous != line:
        previous = line
        for bad, good in _HARMLESS:
            line = line.replace(bad, good)
    return line if len(line) <= longest else line[: longest - 3] + "..."


def _plain(text: str) -> str:
    plain = unicodedata.normalize("NFKD", text)
    return "".join(
        ch if 32 <= ord(ch) < 127 else "" if unicodedata.combining(ch) else " " if ch.isspace() else "?" for ch in plain
    )


def comment_block(title: str, lines: Iterable[str]) -> str:
    """A block comment: a title, then one line each, made harmless."""
    return "\n".join([f"/* {comment_text(title, 110)}", *map(_comment_line, lines), " */"])


@lru_cache(maxsize=1024)  # all but a few lines of a heading are those of the site before
def _comment_line(line: str) -> str:
    return f" * {line if _is_command(line) else comment_text(line, 110)}".rstrip()


def _is_command(line: str) -> bool:
    # A command is there to be copied as it stands. Without a slash nothing in it begins or ends a comment, and it does
    # not join the next line.
    plain = line.isascii() and line.isprintable() and "/" not in line and not line.endswith("\\")
    return plain and line.startswith("  sunsched ")


def byte_rows(data: bytes, indent: str = "    ", per_row: int = 12) -> str:
    """Bytes as the inside of a C array, `per_row` to a line."""
    rows = (data[at : at + per_row] for at in range(0, len(data), per_row))
    return ",\n".join(indent + ", ".join(f"0x{byte:02X}" for byte in row) for row in rows)


def macro_name(name: str) -> str:
    """A site's file name as part of a macro's name."""
    return "".join(ch if ch.isascii() and ch.isalnum() else "_" for ch in name.upper())


DEFINITIONS = """
#include <stdint.h>
#ifdef __AVR__
#include <avr/pgmspace.h>
#define DOOR_FLASH PROGMEM
#define DOOR_BYTE(address) pgm_read_byte(address)
#define DOOR_WORD(address) pgm_read_word(address)
#else
#define DOOR_FLASH
#define DOOR_BYTE(address) (*(address))
#define DOOR_WORD(address) (*(address))
#endif

#define DOOR_NONE (-32767 - 1)           /* the door stays down that day */
#define DOOR_ERR_DATE (-32767)           /* no such date in this table */

"""

FUNCTIONS = """
/* Days of a month 1..12 of the table's year. */
static inline uint8_t door_month_days(uint8_t month)
{
    const unsigned int odd = ((unsigned int)month ^ ((unsigned int)month >> 3)) & 1u;
    return (uint8_t)(month == 2u ? DOOR_FEBRUARY_DAYS : 30u + odd);
}

/* Row of a date of the table's year, 0 for 1 January; DOOR_ROWS if there is no such date. */
static inline uint16_t door_row(uint8_t month, uint8_t day)
{
    uint16_t row = day;
    if (month < 1u || month > 12u || day < 1u || day > door_month_days(month)) {
        return DOOR_ROWS;
    }
    while (--month) {
        row = (uint16_t)(row + door_month_days(month));
    }
    return (uint16_t)(row - 1u);
}

/* Minute at which the door opens (side 0) or should be down (side 1): DOOR_NONE on a day when it stays
 * down, DOOR_ERR_DATE if there is no such date. Reads two bytes of flash. */
static inline int16_t door_minute(uint8_t side, uint8_t month, uint8_t day)
{
    const uint16_t row = door_row(month, day);
    return (int16_t)(row >= DOOR_ROWS ? DOOR_ERR_DATE : (int16_t)DOOR_WORD(&door_minutes[row][side]));
}

static inline int16_t door_open_min(uint8_t month, uint8_t day)
{
    return door_minute(0u, month, day);
}

static inline int16_t door_close_min(uint8_t month, uint8_t day)
{
    return door_minute(1u, month, day);
}

/* The facts of a day, DOOR_FACT_DARK_EXPECTED and so on, added up; 0 if there is no such date. */
static inline uint8_t door_facts(uint8_t month, uint8_t day)
{
    const uint16_t row = door_row(month, day);
    uint8_t facts = 0;
    uint8_t run;
    if (row < DOOR_ROWS) {
        for (run = 0; run < DOOR_FACT_RUNS && DOOR_WORD(&door_fact_runs[run][0]) <= row; run++) {
            facts = (uint8_t)DOOR_WORD(&door_fact_runs[run][1]);
        }
    }
    return facts;
}

/* Solar midnight after the noon of a day [chip minutes], within a minute; it may pass 1439. */
static inline int16_t door_midnight_min(uint8_t month, uint8_t day)
{
    const uint16_t row = door_row(month, day);
    const uint16_t node = (uint16_t)(row >> 4);
    const unsigned int part = row & 15u;
    unsigned int above;
    if (row >= DOOR_ROWS) {
        return DOOR_ERR_DATE;
    }
    above = (unsigned int)DOOR_BYTE(&door_midnight_above[node]) * (16u - part);
    above += (unsigned int)DOOR_BYTE(&door_midnight_above[node + 1u]) * part + 32u;
    return (int16_t)(DOOR_MIDNIGHT_BASE_MIN + (int16_t)(above >> 6));
}

/* The checksum of the rows as they stand in memory; anything but DOOR_CHECKSUM means damage. */
static inline uint16_t door_checksum(void)
{
    uint16_t crc = 0xFFFFu;
    uint16_t at;
    for (at = 0; at < DOOR_ROWS * 4u; at++) {
        const uint16_t word = (uint16_t)DOOR_WORD(&door_minutes[at >> 2][(at >> 1) & 1u]);
        uint8_t bit;
        crc = (uint16_t)(crc ^ ((at & 1u) ? (word & 0xFF00u) : (uint16_t)(word << 8)));
        for (bit = 0; bit < 8u; bit++) {
            crc = (uint16_t)((crc & 0x8000u) ? (uint16_t)(crc << 1) ^ 0x1021u : (uint16_t)(crc << 1));
        }
    }
    return crc;
}"""


C_COMMENT = "/* {} */"
_as_written = json.JSONEncoder(ensure_ascii=False).encode
_TOLD_SECTIONS = ("site", "chip", "morning", "evening", "season", "kept_in")


def text(plan: YearPlan, stamp: Stamp) -> str:
    """The plain table of one calendar year as a C header that needs no other file.

    C99 and C++11, no heap, no float, no division; under AVR all data lies in flash. The header
    documents itself. Raises RangeError if the plan is not one whole calendar year.
    """
    date = date_of(plan.first_day)
    if (plan.first_day, plan.n_days) != year_days(date.year):
        raise RangeError(f"a C header holds one calendar year, not {plan.n_days} days from {date}")
    stem = file_stem(plan)
    parts = (
        comment_block(f"{stem}.h - when the door opens and closes, a row for each day", about(plan, stamp)),
        guard_open(stem, REVISION),
        DEFINITIONS.rstrip("\n") + "\n\n" + _fact_macros(),
        _constants(plan, date.year),
        _rows(plan),
        _facts(plan),
        _midnight(plan),
        FUNCTIONS,
        f"#endif /* {guard_name(stem)} */",
    )
    return with_digest_line("\n\n".join(part.strip("\n") for part in parts) + "\n", C_COMMENT)


def about(plan: YearPlan, stamp: Stamp, last: YearPlan | None = None) -> Iterator[str]:
    """The heading of a generated header: origin, site, clock, span, units, rules, cautions.

    last   the plan of the last year, where the header covers several
    """
    final = last or plan
    first_date, last_date = date_of(plan.first_day), date_of(final.first_day + final.n_days - 1)
    site = plan.site
    north, east = "N" if site.latitude_deg >= 0 else "S", "E" if site.longitude_deg >= 0 else "W"
    yield ""
    origin = f"GENERATED by sunsched {stamp.version}. Edit the configuration, then run:"
    # A comment's lines are cut at 110 characters; a command has to stay whole.
    yield from [f"{origin} {stamp.command}"] if len(origin + stamp.command) < 110 else [origin, f"  {stamp.command}"]
    yield f"Site      {site.name}"
    yield f"Place     {abs(site.latitude_deg):.4f} {north} {abs(site.longitude_deg):.4f} {east}"
    yield f"Clock     {clock_words(plan)}"
    yield f"Covers    {first_date} .. {last_date}"
    yield f"Format    revision {REVISION}; tzdata {stamp.tzdata}"
    yield f"Plan      sha256 {stamp.plan_sha256}"
    yield ""
    yield "Minutes count from the chip's midnight of the row's date and are rounded up: the door never"
    yield "moves before its moment. An opening may be negative, a closing may pass 1439 (after midnight)."
    yield from _rule_lines(stamp.settings)
    yield ""
    yield from cautions.HEADER


def clock_words(plan: YearPlan) -> str:
    """Which time the chip keeps, in words."""
    sign = "-" if plan.chip_offset_min < 0 else "+"
    offset = f"UTC{sign}{clock_text(abs(plan.chip_offset_min))}"
    if plan.chip.keeps == "civil":
        return f"the chip keeps civil time of {plan.site.zone}: {offset}, and summer time when it holds"
    return f"the chip keeps {offset} all year, no summer time"


def _rule_lines(settings: Mapping[str, Any]) -> Iterator[str]:
    lines = [line for section in _TOLD_SECTIONS for line in _told(section, settings.get(section))]
    if lines:
        yield ""
        yield "Settings:"
        yield from (f"  {line}" for line in lines)


_known_lines: dict[tuple[str, str], list[str]] = {}


def _told(section: str, value: Any) -> list[str]:
    """The lines of a section, kept: the sites of a batch share all sections but their own."""
    if section == "site":
        return [*_flat(section, value)]
    if len(_known_lines) > 256:
        _known_lines.clear()
    key = section, repr(value)
    if key not in _known_lines:
        _known_lines[key] = [*_flat(section, value)]
    return _known_lines[key]


def _flat(key: str, value: Any) -> Iterator[str]:
    if isinstance(value, Mapping):
        for name, inner in value.items():
            yield from _flat(f"{key}.{name}", inner)
    elif isinstance(value, (list, tuple)) and any(isinstance(inner, Mapping) for inner in value):
        for number, inner in enumerate(value):
            yield from _flat(f"{key}[{number}]", inner)
    elif value is not None and value not in ([], ()):
        yield f"{key} = {_as_written(value)}"  # strings, numbers and lists as the file writes them


def guard_name(stem: str) -> str:
    """The include guard of a header."""
    return f"SUNSCHED_{macro_name(stem)}_H"


def guard_open(stem: str, revision: int) -> str:
    """Include guard and revision guard."""
    return f"""
#ifndef {guard_name(stem)}
#define {guard_name(stem)}

#ifdef SUNSCHED_TABLE_REVISION
#if SUNSCHED_TABLE_REVISION != {revision}
#error "{stem}.h is of table revision {revision}: generate all tables and readers together"
#endif
#else
#define SUNSCHED_TABLE_REVISION {revision}
#endif"""


def _constants(plan: YearPlan, year: int) -> str:
    pairs = np.column_stack([plan.open_min, plan.close_min]).astype("<i2").tobytes()
    return f"""
#define DOOR_YEAR {year}
#define DOOR_ROWS {plan.n_days}
#define DOOR_FEBRUARY_DAYS {plan.n_days - 337}
#define DOOR_UTC_OFFSET_MIN ({plan.chip_offset_min})  /* the chip's clock minus UTC, without summer time */
/* of the rows, low byte first: CRC-16 with polynomial 0x1021, start 0xFFFF, no reflection */
#define DOOR_CHECKSUM 0x{crc16(pairs):04X}u"""


def _fact_macros() -> str:
    names = [f"#define DOOR_FACT_{fact.name.upper()} {fact.bit}u" for fact in FACTS]
    return "\n".join(f"{name:<45} /* {fact.words} */" for name, fact in zip(names, FACTS, strict=True))


def _rows(plan: YearPlan) -> str:
    parts = [*_row_texts(plan.first_day, plan.n_days)]
    for side, minutes in enumerate((plan.open_min, plan.close_min)):
        parts[1 + 2 * side :: 4] = [
            "DOOR_NONE" if minute == NO_MINUTE else str(minute).rjust(9) for minute in minutes.tolist()
        ]
    return "".join(parts)


@lru_cache(maxsize=8)  # the sites of a batch share their dates
def _row_texts(first_day: int, n_days: int) -> tuple[str, ...]:
    """The rows of all days in pieces; every second is one of a day's two minutes."""
    dates = [date_of(first_day + row) for row in range(n_days)]
    parts = ["", "", ", ", ""] * n_days
    ends = [f" }}, /* {date:%m-%d} {WEEKDAY_NAMES[date.weekday()]} */\n" for date in dates]
    parts[0::4] = ["    { ", *(f"{end}    {{ " for end in ends[:-1])]
    head = (
        "/* opening and closing of each day [chip minutes], 1 January first */\n"
        "static const int16_t door_minutes[][2] DOOR_FLASH = {\n"
    )
    tail = (
        "};\ntypedef char door_minutes_length_is_right"
        "[(sizeof(door_minutes) / sizeof(door_minutes[0]) == DOOR_ROWS) ? 1 : -1];"
    )
    return (head + parts[0], *parts[1:], ends[-1].replace("},", "} ") + tail)


def _facts(plan: YearPlan) -> str:
    all_runs = facts.runs(plan.fact_bits)
    lines = [
        f"    {{ {run.first_row:>3}, {run.facts:>2} }}{',' if run is not all_runs[-1] else ' '}"
        f" /* from {date_of(plan.first_day + run.first_row):%m-%d} */"
        for run in all_runs
    ]
    return "\n".join(
        [
            "/* first row of a run of days, and their facts: DOOR_FACT_DARK_EXPECTED and so on */",
            f"#define DOOR_FACT_RUNS {len(all_runs)}",
            "static const uint16_t door_fact_runs[][2] DOOR_FLASH = {",
            *lines,
            "};",
        ]
    )


def _midnight(plan: YearPlan) -> str:
    midnight = facts.midnight_nodes(plan.midnight_min)
    rows = [", ".join(str(v) for v in midnight.above[at : at + 12]) for at in range(0, len(midnight.above), 12)]
    return "\n".join(
        [
            "/* quarter minutes of solar midnight above its base, every 16th row; straight lines between */",
            f"#define DOOR_MIDNIGHT_BASE_MIN {midnight.base_min}",
            "static const uint8_t door_midnight_above[] DOOR_FLASH = {",
            ",\n".join(f"    {row}" for row in rows),
            "};",
        ]
    )


# A number as C and we write it: plain digits, and no leading zero, which C takes for octal.
_WHOLE = r"-?(?:0|[1-9][0-9]{0,5})"
_MINUTE = rf"({_WHOLE}|DOOR_NONE)"
_ROW = rf"(?m)^ +\{{ +{_MINUTE}, +{_MINUTE} \}}[, ] /\* ([0-9]{{2}}-[0-9]{{2}}) ([A-Z][a-z]{{2}}) \*/$"
_END = r"\n#endif /\* (SUNSCHED_[A-Z0-9_]+_H) \*/\n\Z"
_PLAN = r"(?m)^ \* Plan      sha256 ([0-9a-f]{64})$"


def read(raw: bytes) -> ReadTable:
    """The rows of a plain header. Raises DamagedError if their checksum, number or dates are wrong, or it is cut off.

    What stands beside the rows is proven by the text's digest alone.
    """
    said = text_of(raw)
    refuse_cut_off(said)
    if _number(said, "SUNSCHED_TABLE_REVISION") != REVISION:
        raise DamagedError(f"a header of another table revision; this software reads revision {REVISION}")
    year = _number(said, "DOOR_YEAR")
    rows = re.findall(_ROW, said)
    pairs = [[NO_MINUTE if word == "DOOR_NONE" else int(word) for word in row[:2]] for row in rows]
    minutes = np.array(pairs, np.int64).reshape(-1, 2)
    refuse_beyond_16_bits(minutes)
    refuse_other_dates(year, [f"{year:04d}-{date}" for _, _, date, _ in rows])
    if _number(said, "DOOR_ROWS") != len(rows):
        raise DamagedError(f"the header has {len(rows)} rows and says {_number(said, 'DOOR_ROWS')}")
    crc, want = crc16(minutes.astype("<i2").tobytes()), _number(said, "DOOR_CHECKSUM")
    if crc != want:
        raise DamagedError(f"the checksum of the rows is 0x{crc:04X}, the header says 0x{want:04X}")
    offset_min, plan = _number(said, "DOOR_UTC_OFFSET_MIN"), re.search(_PLAN, said)
    minutes_of = {year: minutes.T.astype(np.int32)}
    return ReadTable(minutes_of, offset_min=offset_min, plan_sha256=plan[1] if plan else "")


def refuse_cut_off(said: str) -> None:
    """Raise DamagedError for a header without the end that its beginning asks for."""
    end = re.search(_END, without_digest(said))
    if end is None or f"\n#ifndef {end[1]}\n#define {end[1]}\n" not in said:
        raise DamagedError("the header has not the end that its beginning asks for: cut off, or changed")


def _number(said: str, name: str) -> int:
    found = re.findall(rf"^ *# *define {name}\b(?: \(?(0x[0-9A-F]{{4}}|{_WHOLE})(?=[u) ]|$))?", said, re.MULTILINE)
    if len(found) != 1 or not found[0]:
        raise DamagedError(f"the header does not define {name} once, by a plain number")
    return int(found[0], 0)
