"""Which table serves a day, and how new tables are taken up.

`tables.bin` holds images one after another, each for its years; a later one wins. A keeper copies new ones to
`tables.new` (mpremote cp). The program reads them whole before it renames: the old file is kept as `tables.old`, and a
power cut between the two renames is mended at the next start.
"""

import os

from clock_chip import date_of
from door.door_state import DayRow, Outside
from files import exists
from table_reader import NONE, Table

NOW, NEW, OLD = "tables.bin", "tables.new", "tables.old"
_ROWS_KEPT = 3


def read_tables(name: str) -> list[Table]:
    """The tables of a file, none where it is missing. Raises ValueError where a bit of it has changed."""
    try:
        with open(name, "rb") as file:
            raw = file.read()
    except OSError:
        return []
    found = []
    while raw:
        found.append(Table(raw))
        raw = raw[raw[3] | raw[4] << 8 :]
    return found


class Tables:
    """The board's tables. `offset_min` is the chip's clock minus UTC, which every table must be made for [minutes]."""

    def __init__(self, offset_min: int) -> None:
        """Take those of the board, newest first, that are whole."""
        self.offset_min = offset_min
        self.tables: list[Table] = []
        self._rows: dict[int, DayRow | Outside | None] = {}
        self.begun = True
        for name in (NOW, OLD, NEW):  # a cut between the renames leaves no tables.bin
            if self.take(name):
                break

    def take(self, name: str) -> str:
        """Take a file's tables; its name, or '' where they are none of this door's."""
        try:
            found = read_tables(name)
        except ValueError:
            return ""
        if not found or any(table.offset_min != self.offset_min or table.keeps == "civil" for table in found):
            return ""
        self.tables, self._rows = found, {}
        return name

    def renew(self) -> str:
        """Take up tables.new: 'taken'; 'refused' (it is tables.bad then, the old go on); '' where there is none."""
        if not exists(NEW):
            return ""
        if not self.take(NEW):
            os.rename(NEW, "tables.bad")
            return "refused"
        if exists(NOW):
            os.rename(NOW, OLD)
        os.rename(NEW, NOW)
        return "taken"

    def years(self) -> list[tuple[int, int]]:
        """First and last year of each table."""
        return [(table.first_year, table.first_year + table.n_years - 1) for table in self.tables]

    def row(self, day: int) -> DayRow | Outside | None:
        """The row of a day [days since 2000-01-01], as the decision asks for it."""
        if day not in self._rows:
            if len(self._rows) >= _ROWS_KEPT:
                self._rows.clear()
            self._rows[day] = self._read(day)
        return self._rows[day]

    def _read(self, day: int) -> DayRow | Outside | None:
        year, month, date = date_of(day)
        for table in reversed(self.tables):
            if table.first_year <= year < table.first_year + table.n_years:
                opens, closes = table.open_min(year, month, date), table.close_min(year, month, date)
                return DayRow(
                    NONE if opens is None else opens,
                    NONE if closes is None else closes,
                    table.midnight_min(year, month, date),
                    table.facts(year, month, date),
                )
        first = min([table.first_year for table in self.tables] or [2000])
        self.begun = year >= first
        # A year before every table's first, by more than one, is a clock that was reset.
        return None if year + 1 < first else Outside()
