"""The program's own table header: images of many years, one behind the other, for the program to read."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from sunsched.emit.c_header import about, byte_rows, comment_block
from sunsched.emit.stamp import Stamp
from sunsched.plan.year import YearPlan
from sunsched.table.choose import Table
from sunsched.table.many import years_text


def text(plans: Sequence[YearPlan], tables: Sequence[Table], stamp: Stamp) -> str:
    """`door_table.h`: the tables of all years as bytes in flash, read by door_rows.c through sunsched_table.h.

    plans   of the tables' years; the first gives site and clock
    """
    rows = []
    for number, table in enumerate(tables):
        comma = "," if number + 1 < len(tables) else ""
        rows.append(f"    /* {years_text([table])} */\n{byte_rows(table.raw)}{comma}")
    return "\n".join(
        [
            comment_block(
                "door_table.h - when the door opens and closes, for many years", _about(plans, tables, stamp)
            ),
            "#ifndef DOOR_TABLE_H",
            "#define DOOR_TABLE_H",
            "",
            f"#define DOOR_UTC_OFFSET_MIN ({plans[0].chip_offset_min}) /* the chip's clock minus UTC */",
            f"#define DOOR_TABLES_BYTES {sum(len(table.raw) for table in tables)}u",
            "static const uint8_t door_tables[DOOR_TABLES_BYTES] DOOR_KEPT_IN_FLASH = {",
            *rows,
            "};",
            "#endif",
            "",
        ]
    )


def _about(plans: Sequence[YearPlan], tables: Sequence[Table], stamp: Stamp) -> Iterator[str]:
    yield from about(plans[0], stamp, last=plans[-1])
    yield ""
    for table in tables:
        error = f"at most {table.worst_error_min} min from the plan" if table.worst_error_min else "every minute exact"
        yield f"Table     {years_text([table])}: layout {table.image.layout.name}, {len(table.raw)} bytes, {error}"
