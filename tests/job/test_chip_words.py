"""Lines and events as LINE.md describes them, and what the chip commands say when something is missing."""

from __future__ import annotations

import datetime as dt
import os
import pty
import stat
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from typer.testing import CliRunner

from sunsched.base.errors import NoAnswerError
from sunsched.cli.app import app
from sunsched.controller.words import Alarm, Door, Want, Why
from sunsched.job.chip import load, port, state
from sunsched.job.chip.words import EVENTS, Event, alarms_text, answered, asked, event_of, in_order
from sunsched.table.framing import crc16
from tests.support.unprivileged import run_unprivileged

EPOCH = dt.datetime(2000, 1, 1)


# RevEng's catalogue of parametrised CRC algorithms: CRC-16/IBM-3740 gives 0x29B1 for "123456789".
def test_a_line_ends_in_the_checksum_of_what_stands_before() -> None:
    assert asked("123456789") == b"12345678929b1\r"


@given(
    st.text(st.characters(min_codepoint=32, max_codepoint=126), max_size=60), st.integers(0, 500), st.integers(1, 255)
)
def test_an_answer_is_taken_whole_or_not_at_all(text: str, place: int, change: int) -> None:
    head = f"# {text} ".encode("ascii")
    line = head + f"{crc16(head):04x}".encode("ascii")
    assert answered(line) == text
    damaged = bytearray(line)
    damaged[place % len(line)] ^= change
    assert answered(bytes(damaged)) is None
    assert answered(line[:-1]) is None


def raw_event(minutes: int, words: tuple[int, int, int, int], alarms: int, counts: int, lap: int) -> bytes:
    """Nine bytes by the page, written here anew."""
    event, door, move, reason = words
    body = minutes.to_bytes(3, "little") + bytes([event | door << 3 | move << 6, reason | lap << 7])
    body += alarms.to_bytes(2, "little") + bytes([counts >> 2])
    crc = crc16(body)
    check = crc >> 8 ^ crc & 255
    return body + bytes([254 if check == 255 else check])


@given(
    st.integers(0, (1 << 24) - 2),
    st.tuples(st.integers(0, 6), st.integers(0, 4), st.integers(0, 2), st.integers(0, 20)),
    st.integers(0, 65_535),
    st.integers(0, 1023),
    st.integers(0, 1),
    st.integers(0, 71),
)
def test_an_event_reads_back_and_a_changed_bit_is_seen(
    minutes: int, words: tuple[int, int, int, int], alarms: int, counts: int, lap: int, bit: int
) -> None:
    now = EPOCH + dt.timedelta(minutes=minutes + 100)
    raw = raw_event(minutes, words, alarms, counts, lap)
    found = event_of(raw, now)
    assert found is not None
    assert found.at == EPOCH + dt.timedelta(minutes=minutes)
    assert (found.event, found.door) == (EVENTS[words[0]], Door(words[1]).name.lower())
    assert (Why[found.reason.upper()], found.alarms, found.counts, found.lap) == (words[3], alarms, counts & ~3, lap)
    damaged = bytearray(raw)
    damaged[bit // 8] ^= 1 << bit % 8
    # the check folds 16 bits into 8: it sees every change of one bit
    assert event_of(bytes(damaged), now) is None


@pytest.mark.parametrize("year", [2027, 2031, 2032, 2048])
def test_the_32_years_of_an_event_are_those_nearest_to_now(year: int) -> None:
    at = dt.datetime(year, 3, 1, 17, 58)
    minutes = int((at - EPOCH).total_seconds()) // 60 % (1 << 24)
    found = event_of(raw_event(minutes, (2, 4, 0, 2), 0, 110, 0), at + dt.timedelta(days=40))
    assert found is not None and found.at == at
    assert found.log_line() == f"{year}-03-01,17:58:00,move,108,moving_down,lower,dusk,"


def test_an_event_without_a_time_has_an_empty_one() -> None:
    found = event_of(raw_event(0xFFFFFF, (0, 0, 2, 0), 2, 0, 0), EPOCH)
    assert found is not None
    assert found.log_line() == ",,start,0,halted,stay,start,clock_lost"


def test_the_ring_turns_about_its_next_place() -> None:
    events: list[Event | None] = [Event("move", None, "up", "raise", "dawn", 0, n, 0) for n in range(5)]
    events[2] = None
    assert [event.counts for event in in_order(events, 3)] == [3, 4, 0, 1]


def test_alarms_in_the_logs_words() -> None:
    both = int(Alarm.CELL | Alarm.NO_TABLE | Alarm.NOT_DOWN)
    assert alarms_text(both) == "cell+no_witness+expired+not_down"
    assert alarms_text(int(Alarm.NO_TABLE), begun=False) == "not_begun"
    assert int(Want.STAY) == 2


def run(*words: str) -> Any:
    return CliRunner().invoke(app, ["chip", *words])


def test_no_port_is_there(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(port, "ports", list)
    done = run("state")
    assert done.exit_code == 66
    assert "no serial port with a board is there; plug it in, or name one with --port" in done.stderr


def test_several_ports_are_named(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(port, "ports", lambda: [("/dev/ttyUSB0", "CH340"), ("/dev/ttyACM1", "Uno")])
    done = run("state")
    assert done.exit_code == 66
    assert "2 serial ports are there: /dev/ttyUSB0 (CH340), /dev/ttyACM1 (Uno); name one with --port" in done.stderr


def test_a_port_that_is_not_there(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(port, "ports", lambda: [("/dev/ttyUSB0", "CH340")])
    done = run("state", "--port", str(tmp_path / "ttyUSB9"))
    assert done.exit_code == 66
    assert "no such port; ports with a board: /dev/ttyUSB0" in done.stderr


def test_no_permission_names_the_group(tmp_path: Path) -> None:
    import serial.tools.list_ports  # the child may not read where packages lie

    from sunsched.cli import chip_command

    assert chip_command.chip and serial.tools.list_ports
    master, slave = pty.openpty()
    place = os.ttyname(slave)
    os.chmod(place, stat.S_IRUSR | stat.S_IWUSR)
    group = Path(place).group()
    code, _, stderr = run_unprivileged(["chip", "state", "--port", place], tmp_path)
    os.close(master)
    os.close(slave)
    assert code == 66
    assert f"no permission to use it; join its group: sudo usermod -aG {group} $USER" in stderr


def test_a_port_on_which_nothing_answers(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(port, "READY_S", 0.3)
    master, slave = pty.openpty()
    done = run("state", "--port", os.ttyname(slave))
    os.close(master)
    os.close(slave)
    assert done.exit_code == 69
    assert "nothing answers; is the board powered" in done.stderr


class Parrot:
    """A port on which a program answers that is not the door's: it sends `# ready`, and otherwise the given lines."""

    def __init__(self, says: bytes) -> None:
        self.says, self.waiting = says, b""
        self.in_waiting = 1

    def write(self, data: bytes) -> None:
        self.waiting += b"# ready\n" if data == b"\r" else self.says

    def read(self, n: int) -> bytes:
        given, self.waiting = self.waiting[:n], self.waiting[n:]
        return given


def test_another_program_is_told_from_the_doors(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(port, "ANSWER_S", 0.02)
    line = port.Line(Parrot(b"hello\n"), "ttyX")
    line.wake()
    with pytest.raises(NoAnswerError, match="not a door program with this line; upload the program"):
        state.state_of(line)


def test_an_answer_to_another_line_is_not_taken(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(port, "ANSWER_S", 0.02)
    head = b"# e 05 - "
    line = port.Line(Parrot(head + f"{crc16(head):04x}\n".encode()), "ttyX")
    assert line.ask("e05") == "05 -"
    with pytest.raises(NoAnswerError, match="no answer to 'e06'"):
        line.ask("e06")


@pytest.mark.parametrize(
    ("year", "month", "asked_for", "wanted"), [(2027, 10, None, 2027), (2027, 11, None, 2028), (2027, 12, 2027, 2027)]
)
def test_the_days_to_come_decide_the_year(year: int, month: int, asked_for: int | None, wanted: int) -> None:
    assert load.parsed_year(asked_for, dt.date(year, month, 1)) == wanted
