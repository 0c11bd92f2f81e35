"""An image of 1,530 bytes was written for a chip with 1,024 of EEPROM, and nothing said so before it was there.

The chip commands weigh a table against the room of a slot before the first byte is sent.
"""

from __future__ import annotations

import datetime as dt
from pathlib import Path

from typer.testing import CliRunner

from sunsched.cli.app import app
from sunsched.job import compact
from tests.chip import sites
from tests.chip.line import talking


def test_a_table_beyond_the_chips_room_is_refused_before_anything_is_written(tmp_path: Path) -> None:
    plain = tmp_path / "plain.bin"
    plain.write_bytes(compact.compact(sites.built("larch_end", 2028).configuration, [2028], "plain").table.raw)
    chip = talking.Chip(talking.program("larch_end"), dt.datetime(2027, 11, 3, 12, 0))
    before = chip.eeprom()[: talking.TABLES_BYTES]
    with talking.served(chip) as line:
        done = CliRunner().invoke(app, ["chip", "load", str(plain), "--port", line.place])
    assert done.exit_code == 1
    assert f"the table takes {plain.stat().st_size} bytes, the chip has room for 300" in done.stderr
    assert chip.eeprom()[: talking.TABLES_BYTES] == before
    chip.free()
