"""One second of the door on a board: inputs in, the decision, then motor, lamp, log and memory.

`board` has: switches() -> (top, bottom, up, down, keep_shut); light_counts(); battery_level(); motor(drive, duty);
lamp(on); bus, or None; reset_cause. The tests give the same program a board of their own.
"""

import os

import door_site as own
from clock_chip import ClockChip, date_of, day_number
from door.decision import DoorDecision
from door.door_state import Inputs, KeptOver
from door.settings import Settings
from door.words import ALARMS, REASONS
from files import KEPT, Log, exists, read_whole, write_whole
from tables import Tables

SET_CLOCK = "set_clock.txt"  # YYYY-MM-DD HH:MM:SS, in the chip's time; taken up at the next second
BATTERY_EVERY_S = 60
PLACES, WISHES = ("halted", "up", "down", "moving_up", "moving_down"), ("lower", "raise", "stay")
CELL, NO_TABLE, CLOCK_LOST = 0x10, 0x20, 0x02


def kept_text(kept: KeptOver) -> bytes:
    """What survives a power cut, a line for each number."""
    return "\n".join(f"{name} {getattr(kept, name)}" for name in KeptOver.FIELDS).encode()


def kept_of(text: bytes | None) -> KeptOver | None:
    """What had been kept; None where there is nothing whole. A number that another version kept is passed over."""
    if text is None:
        return None
    kept = KeptOver()
    for line in text.decode().split("\n"):
        name, _, number = line.partition(" ")
        if name in KeptOver.FIELDS:
            setattr(kept, name, int(number))
    return kept


def clock_line(text: str) -> tuple[int, int, int] | None:
    """Day, minute and second of YYYY-MM-DD HH:MM:SS; None for anything else."""
    text = text.strip()
    if len(text) != 19 or text[4] != "-" or text[7] != "-" or text[10] != " " or text[13] != ":" or text[16] != ":":
        return None
    try:
        year, month, date = int(text[:4]), int(text[5:7]), int(text[8:10])
        hour, minute, second = int(text[11:13]), int(text[14:16]), int(text[17:19])
    except ValueError:
        return None
    day = day_number(year, month, date)
    if day is None or not (0 <= hour < 24 and 0 <= minute < 60 and 0 <= second < 60):
        return None
    return day, hour * 60 + minute, second


class Clock:
    """The time as the decision takes it: the chip's, asked as its minute begins; or seconds counted from a setting."""

    def __init__(self, chip: ClockChip | None) -> None:
        """Take the clock chip, or None where there is none."""
        self.chip = chip
        self.now = (0, 0, 59)
        self.valid = False
        self.asked: tuple[int, int, int] | None = None
        self.before = (self.now, self.valid)

    def second(self, i: Inputs) -> None:
        """The clock's part of the inputs of the next second."""
        day, minute, second = self.now
        second += 1
        i.clock_set = 0
        if second >= 60:
            second, minute = 0, minute + 1
            if minute >= 1440:
                day, minute = day + 1, 0
            if self.chip is not None:
                read = self.chip.read()
                self.valid = read is not None
                day, minute, second = read or (day, minute, 0)
                i.clock_cell_low = int(self.chip.cell_low())
        self.now = (day, minute, second)
        if self.asked is not None:
            self.before = (self.now, self.valid)
            self.now, self.valid, self.asked = self.asked, True, None
            i.clock_set = 1
        i.clock_valid, i.clock_day, i.clock_min = int(self.valid), self.now[0], self.now[1]

    def settle(self, taken: bool) -> None:
        """Write what the decision has taken into the chip; forget what it questions."""
        if not taken:
            self.now, self.valid = self.before
        elif self.chip is not None and not self.chip.set(*self.now):
            self.valid = False


class Program:
    """The door's program between two resets."""

    def __init__(self, board) -> None:
        """Start with what had been kept, the tables of the board, and the motor at rest."""
        self.board = board
        self.tables = Tables(own.UTC_OFFSET_MIN)
        self.clock = Clock(ClockChip(board.bus, own.CLOCK_CHIP) if own.CLOCK_CHIP else None)
        self.core = DoorDecision(Settings, self.tables.row, kept_of(read_whole(KEPT)), board.reset_cause)
        self.inputs = Inputs()
        self.log = Log(self._head())
        self.outputs = None
        self.lamp = 0
        self.kept = kept_text(self.core.kept())
        self.starts_lost = self.core.kept().starts_lost
        self.battery_s = 0

    def second(self):
        """One step, a second after the last; the decision's outputs."""
        i, state, before = self.inputs, self.core.state, self.outputs
        i.light_counts = self.board.light_counts()
        i.top, i.bottom, up, down, i.keep_shut = self.board.switches()
        i.hand = 0 if up == down else 1 if up else 2
        self._battery(before)
        self.clock.second(i)
        out = self.outputs = self.core.step(i)
        kept = self.core.kept()
        if kept.starts_lost != self.starts_lost:  # before the motor: its start may brown the board out
            self._keep(kept)
        self.board.motor(out.drive, out.duty)
        self.lamp = 1 - self.lamp if out.alarms else 0
        self.board.lamp(self.lamp)
        if i.clock_set:
            self.clock.settle(state.question_s == 0)
        self._tell(before, out)
        if exists(SET_CLOCK):
            self._keepers_clock()
        if state.new_minute:
            self._minute(kept)
        return out

    def _battery(self, before) -> None:
        if self.battery_s:
            self.battery_s -= 1
        elif before is None or before.drive == 0:  # never while the motor pulls the voltage down
            self.battery_s = BATTERY_EVERY_S - 1
            self.inputs.battery = self.board.battery_level()

    def _minute(self, kept: KeptOver) -> None:
        """Once a minute: what survives a power cut, and new tables."""
        text = kept_text(kept)
        hour_over = self.core.state.own_min % 60 == 0  # the day's stamp alone is no reason to write within its hour
        if text != self.kept and (hour_over or _without_stamp(text) != _without_stamp(self.kept)):
            self._keep(kept)
        renewed = self.tables.renew()
        if renewed == "taken":  # the cycle at hand is read again, and all that it has decided stays
            self.core.state.checked_ok = self.core.state.length_min = 0
            self.log.head = self._head()
            self._line("table", self.outputs)
        elif renewed == "refused":
            self.log.write("# tables.new refused: damaged, or for another clock; it is tables.bad now")

    def _keep(self, kept: KeptOver) -> None:
        self.kept, self.starts_lost = kept_text(kept), kept.starts_lost
        try:
            write_whole(KEPT, self.kept)
        except OSError:
            self.kept = b""  # a full or broken file system costs the memory, not the door; it is tried again

    def _keepers_clock(self) -> None:
        try:
            with open(SET_CLOCK) as file:
                text = file.read()
            os.remove(SET_CLOCK)
        except OSError:
            return
        self.clock.asked = clock_line(text)
        if self.clock.asked is None:
            self.log.write("# set_clock.txt is no time: wanted YYYY-MM-DD HH:MM:SS")

    def _tell(self, before, out) -> None:
        """The lines of LOG.md that this second is worth."""
        if before is None:
            self._line("start", out)
            return
        if out.want != before.want:
            self._line("move", out)
        if before.drive and not out.drive:
            self._line("ended", out)
        if out.alarms != before.alarms:
            self._line("alarm", out)
        if self.inputs.clock_set:
            if self.core.state.question_s == 0:
                self._line("clock", out)
            else:
                self.log.write("# a change this large: give it again within 10 minutes if it is meant")
        if self.core.state.new_minute and out.own_min % 15 == 0 and self._near_a_move():
            self._line("quarter", out)

    def _near_a_move(self) -> bool:
        d = self.core.state
        if not d.cycle_known:
            return True
        away = (d.t_min + d.length_min - d.open_t_min, d.close_t_min - d.t_min, d.open_t_min - d.t_min)
        return min([abs(minutes) for minutes in away]) <= 120

    def _line(self, event: str, out) -> None:
        date, time = "", ""
        if out.time != 2:
            year, month, day = date_of(out.own_day)
            date = f"{year:04d}-{month:02d}-{day:02d}"
            time = f"{out.own_min // 60:02d}:{out.own_min % 60:02d}:{self.core.state.second:02d}"
        self.log.write(
            ",".join(
                (
                    date,
                    time,
                    event,
                    str(self.inputs.light_counts),
                    PLACES[out.door],
                    WISHES[out.want],
                    REASONS[out.reason],
                    "+".join(self._alarms(out.alarms)),
                )
            )
        )

    def _alarms(self, standing: int) -> list[str]:
        found = []
        for n, word in enumerate(ALARMS):
            bit = 1 << n
            if standing & bit:
                found.append(word if bit != NO_TABLE else "expired" if self.tables.begun else "not_begun")
                if bit == CELL and standing & (CLOCK_LOST | NO_TABLE):
                    found.append("no_witness")
        return found

    def _head(self) -> list[str]:
        tables = [f"# table {first:04d}-01-01..{last:04d}-12-31" for first, last in self.tables.years()]
        title = ["# sunsched door log, revision 1", f"# site {own.NAME}", f"# chip_offset_min {own.UTC_OFFSET_MIN}"]
        return title + tables + ["date,time,event,counts,door,move,reason,alarms"]


def _without_stamp(text: bytes) -> list[str]:
    return [line for line in text.decode().split("\n") if not line.startswith("stamp_")]
