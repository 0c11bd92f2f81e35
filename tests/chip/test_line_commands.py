"""The chip commands against the program on an emulated ATmega328P behind a pseudo-terminal."""

from __future__ import annotations

import datetime as dt
import itertools
import json
import random
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from typer.testing import CliRunner

from sunsched.cli.app import app
from sunsched.job.chip import port
from sunsched.job.chip.words import asked
from sunsched.table.image import of_bytes
from tests.chip import sites
from tests.chip.line import talking

LARCH = sites.CONFIGS / "larch_end.toml"
NOON = dt.datetime(2027, 11, 3, 12, 0)


def run(line: talking.Served, *words: str) -> Any:
    return CliRunner().invoke(app, ["chip", *words, "--port", line.place])


@pytest.fixture(scope="module")
def next_year(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("image") / "larch_end_2028.bin"
    path.write_bytes(talking.image("larch_end", 2028))
    return path


@pytest.fixture(autouse=True)
def short_waits(monkeypatch: pytest.MonkeyPatch) -> None:
    """The emulated chip runs at many times its own speed: a lost line need not be waited for as long."""
    monkeypatch.setattr(port, "ANSWER_S", 0.6)


@pytest.fixture
def chip() -> Iterator[talking.Chip]:
    one = talking.Chip(talking.program("larch_end"), NOON)
    yield one
    one.free()


def slots(chip: talking.Chip) -> list[str]:
    chip.wake()
    return [chip.answer(f"i{n}")[4:] for n in (4, 5)]


def test_a_table_is_loaded_read_back_and_stays_over_a_power_cut(chip: talking.Chip, next_year: Path) -> None:
    raw = next_year.read_bytes()
    with talking.served(chip) as line:
        done = run(line, "load", str(next_year), "--json")
        state = json.loads(run(line, "state", "--json").stdout)
    assert done.exit_code == 0, done.output
    result = json.loads(done.stdout)
    assert (result["slot"], result["generation"], result["years"], result["begun_at"]) == (0, 1, [2028, 2028], 0)
    assert chip.eeprom()[: len(raw)] == raw
    assert state["serving"] == "flash"  # today is a day of 2027
    assert state["slots"][0]["first_year"] == 2028
    chip.cut()
    chip.run(2)
    assert "# table 2028-01-01..2028-12-31" in chip.received()


def test_a_configuration_is_made_into_the_year_to_come(chip: talking.Chip) -> None:
    with talking.served(chip) as line:
        done = run(line, "load", str(LARCH), "--year", "2028")
    assert done.exit_code == 0, done.output
    assert done.stdout.startswith("loaded: 2028 into slot 0, 124 bytes, read back and equal; every minute as planned")
    assert of_bytes(chip.eeprom()).first_year == 2028


def test_the_clock_is_set_read_back_and_a_large_change_asked_about(chip: talking.Chip) -> None:
    # At the chip's own speed: the time on the line is the computer's.
    with talking.served(chip, speed=1.0) as line:
        done = run(line, "set-clock", "--json")
    assert done.exit_code == 0, done.output
    result = json.loads(done.stdout)
    assert result["asked_again"] is False
    expected = dt.datetime.now(dt.UTC).replace(tzinfo=None) + dt.timedelta(hours=1)
    assert abs((chip.now() - expected).total_seconds()) < 3


def test_the_log_of_the_chip_is_one_that_replay_reads(chip: talking.Chip, tmp_path: Path) -> None:
    from sunsched.study.log_rows import ChipRows

    chip.run(120)
    out = tmp_path / "door.log"
    with talking.served(chip) as line:
        done = run(line, "log", "-o", str(out))
        again = run(line, "log", "-o", str(out))
    assert done.exit_code == 0 and again.exit_code == 0, done.output + again.output
    lines = out.read_text().splitlines()
    rows = ChipRows(lines[:5])
    block = rows.block(lines[5:], 6)
    assert block.bad == ()
    assert rows.record.site == "Larch end" and rows.record.chip_offset_min == 60
    assert rows.record.starts == 1
    # the serial log's own events, to the minute and to steps of 4 of light
    result = [row for row in chip.log.splitlines() if re.match(r"2027-\d\d-\d\d,[^,]*,(start|move|ended|alarm)", row)]
    kept = [row for row in lines if row.startswith("2027-")]
    assert [_coarse(row) for row in result] == kept


def _coarse(row: str) -> str:
    cells = row.split(",")
    cells[1] = f"{cells[1][:5]}:00"
    cells[3] = str(min(int(cells[3]) // 4, 255) * 4)
    return ",".join(cells)


def test_watch_prints_the_log_as_it_comes(chip: talking.Chip) -> None:
    with talking.served(chip) as line:
        done = run(line, "watch", "--seconds", "1")
    assert done.exit_code == 0
    assert "# table 2027-01-01..2047-12-31" in done.stdout


def test_ten_broken_cables_and_the_eleventh_load_goes_on(chip: talking.Chip, next_year: Path) -> None:
    rng, raw = random.Random(27), next_year.read_bytes()
    whole = f"2028 2028 {raw[-2:][::-1].hex()} {len(raw):03x} 1"
    was = 0
    for n in range(10):
        line = talking.Served(chip, speed=60)
        line.cut_after = rng.randint(90, 100 + 25 * n)
        done = run(line, "load", str(next_year))
        line.end()
        assert done.exit_code in (69, 74), done.output
        assert "the door" in done.stderr or "does its program run" in done.stderr
        assert slots(chip) in (["-", "-"], [whole, "-"])
        standing = next((at for at in range(len(raw)) if chip.eeprom()[at] != raw[at]), len(raw))
        assert standing >= was  # a load goes on, it does not begin anew
        was = standing
    assert was > 0
    with talking.served(chip) as line:
        done = run(line, "load", str(next_year), "--json")
    assert done.exit_code == 0, done.output
    assert json.loads(done.stdout)["begun_at"] == was // 8 * 8 or was == len(raw)
    assert chip.eeprom()[: len(raw)] == raw


def test_noise_both_ways_costs_lines_sent_again_and_no_wrong_byte(chip: talking.Chip, next_year: Path) -> None:
    rng = random.Random(5)

    def noisy(data: bytes) -> bytes:
        out = bytearray()
        for byte in data:
            if rng.random() < 0.004:
                continue
            out.append(byte ^ (1 << rng.randrange(7)) if rng.random() < 0.004 else byte)
        return bytes(out)

    with talking.served(chip, speed=60) as line:
        line.to_chip = line.from_chip = noisy
        for _ in range(5):
            done = run(line, "load", str(next_year), "--json")
            if done.exit_code == 0:
                break
    assert done.exit_code == 0, done.output
    assert json.loads(done.stdout)["lines_sent_again"] > 0
    assert chip.eeprom()[: next_year.stat().st_size] == next_year.read_bytes()


def test_a_flood_changes_nothing_and_the_program_lives_on(chip: talking.Chip) -> None:
    rng = random.Random(3)
    before = chip.eeprom()[: talking.TABLES_BYTES]
    chip.run(3)
    chip.wake()
    chip.say(bytes(rng.randrange(256) for _ in range(4000)) + b"v\r" * 300 + b"\r")
    chip.run(3)
    chip.received()
    assert chip.eeprom()[: talking.TABLES_BYTES] == before
    # every second has had its step: the clock's and the program's time are one
    chip.wake()
    result = dt.datetime.strptime(" ".join(chip.answer("i6").split()[2:4]), "%Y-%m-%d %H:%M:%S")
    assert abs((result - chip.now()).total_seconds()) <= 1
    assert chip.answer("i7").split()[2] in ("up", "halted")


def test_another_sites_table_needs_force(chip: talking.Chip, tmp_path: Path) -> None:
    # a farm nearby, with the same clock
    text = LARCH.read_text().replace("8.949", "8.5").replace('"Larch end"', '"Brook side"')
    config = tmp_path / "brook_side.toml"
    config.write_text(text)
    with talking.served(chip) as line:
        refused = run(line, "load", str(config), "--year", "2028")
        forced = run(line, "load", str(config), "--year", "2028", "--force")
    assert refused.exit_code == 1
    assert "the table is for 47.32 8.50, the chip was built for Larch end, 47.32 8.95" in refused.stderr
    assert forced.exit_code == 0, forced.output


def test_another_clocks_table_is_refused_with_force_too(chip: talking.Chip) -> None:
    with talking.served(chip) as line:
        done = run(line, "load", str(sites.CONFIGS / "fig_yard.toml"), "--year", "2028", "--force")
    assert done.exit_code == 1
    assert "the table is for a clock" in done.stderr
    # nor does the program itself take it, whatever a host says
    raw = talking.image("fig_yard", 2028)
    chip.wake()
    assert put(chip, raw) == "! 4"


def put(chip: talking.Chip, raw: bytes, slot: int = 0) -> str:
    """A load by hand; the answer to the commit."""
    for at in range(0, len(raw), 8):
        assert chip.answer(f"w{slot}{at:03x}{raw[at : at + 8].hex()}").startswith("w ")
    return chip.answer(f"c{slot}{len(raw):03x}{int.from_bytes(raw[-2:], 'little'):04x}")


def test_images_of_the_whole_eeprom_are_refused_by_host_and_chip(chip: talking.Chip, tmp_path: Path) -> None:
    raw = bytearray(talking.image("larch_end", 2028).ljust(1024, b"\0"))
    path = tmp_path / "long.bin"
    path.write_bytes(_with_length(raw, 1024))
    with talking.served(chip) as line:
        done = run(line, "load", str(path))
    assert done.exit_code == 1
    assert "takes 1024 bytes, the chip has room for 300" in done.stderr
    chip.wake()
    assert chip.answer("w0128" + "00" * 8) == "! 2"  # byte 296 and seven more: past the room
    assert chip.answer("c04000000") == "! 2"


def _with_length(raw: bytearray, length: int) -> bytes:
    from sunsched.table.framing import crc16

    raw[3:5] = length.to_bytes(2, "little")
    raw[-2:] = crc16(bytes(raw[:-2])).to_bytes(2, "little")
    return bytes(raw)


def test_two_hosts_at_once_leave_a_table_that_is_whole(chip: talking.Chip, next_year: Path) -> None:
    """The second host writes into the first one's lines; what is loaded in the end is the table or nothing."""
    chip.wake()
    raw = next_year.read_bytes()
    other = asked("w0000" + "11" * 8)
    mixed = itertools.chain.from_iterable(
        zip(b"".join(asked(f"w0{at:03x}{raw[at : at + 8].hex()}") for at in range(0, 64, 8)), itertools.cycle(other))
    )
    chip.say(bytes(mixed))
    chip.run(1)
    assert slots(chip) == ["-", "-"]
    # lines of both that arrive whole, in turn: the first host sees by the checksum that its bytes are gone
    answers = [chip.answer(f"w0{at:03x}{raw[at : at + 8].hex()}") for at in (0, 8)]
    chip.answer("w0000" + "11" * 8)
    assert chip.answer("a0010") != answers[1].replace("w", "a", 1)
    assert chip.answer(f"c0{len(raw):03x}{int.from_bytes(raw[-2:], 'little'):04x}") == "! 3"
    with talking.served(chip) as line, port.opened(line.place):
        # a second program on this computer gets the message that the port is taken
        second = run(line, "state")
    assert second.exit_code == 66
    assert "another program uses the port" in second.stderr


@pytest.mark.parametrize(
    "line",
    [b"w0000", b"w0000zz", b"w00001100000000000000", b"x0000", b"c0", b"i", b"e99", b"a2008", b"t 2027-13-01 00:00:00"],
)
def test_damaged_and_unknown_lines_are_answered_what_and_change_nothing(chip: talking.Chip, line: bytes) -> None:
    chip.run(2)
    chip.wake()
    before = chip.eeprom()
    chip.say(line + b"\r" + (asked(line.decode()) if not line.startswith((b"w0000", b"t")) else b""))
    chip.run(0.3)
    said = chip.received()
    assert said.count("# what") == (1 if line.startswith((b"w0000", b"t")) else 2)
    assert chip.eeprom() == before


def test_the_table_that_serves_today_is_never_written(chip: talking.Chip) -> None:
    this_year, next_year = talking.image("larch_end", 2027), talking.image("larch_end", 2028)
    chip.run(2)
    chip.wake()
    assert put(chip, this_year) == "c 0 01"
    assert chip.answer("i6").split()[-1] == "0"
    assert chip.answer("w0000" + "11" * 8) == "! 1"
    assert put(chip, next_year, 1) == "c 1 02"
    assert chip.eeprom()[: len(this_year)] == this_year
    # forgotten, its days are served by the tables compiled in
    assert chip.answer("f0") == "f 0"
    assert chip.answer("i6").split()[-1] == "flash"
    assert slots(chip)[0] == "-"
