"""Tables read back: every form, damage noticed, differences named."""

from __future__ import annotations

import json
import random
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from typer.testing import CliRunner

from sunsched.base.errors import DamagedError, MissingFileError
from sunsched.cli.app import app
from sunsched.config.toml_file import read
from sunsched.job import readback
from sunsched.job.compact import compact, files_of
from sunsched.job.pipeline import built, plan_of, texts_of

CONFIG = Path(__file__).parents[2] / "configs" / "fig_yard.toml"
OTHER = Path(__file__).parents[2] / "configs" / "larch_end.toml"


@pytest.fixture(scope="module")
def forms() -> dict[str, bytes]:
    """Every form of one shipped site's 2028."""
    configuration = read(CONFIG)
    work = compact(configuration, [2028], name=str(CONFIG))
    found = dict(texts_of(built(configuration, 2028, str(CONFIG)), ("c", "json", "csv")))
    found["compact"] = files_of(work, "c")["fig_yard_2028.h"]
    return found | {name.rpartition(".")[2]: data for name, data in files_of(work, "eeprom").items()}


def test_every_form_reads_back_as_the_plan(forms: dict[str, bytes]) -> None:
    plan = plan_of(read(CONFIG), 2028)
    assert len(forms) == 6
    for raw in forms.values():
        table = readback.read_bytes(raw)
        assert (table.minutes[2028] == np.array([plan.open_min, plan.close_min])).all()
        assert readback.differences(table, lambda year: plan_of(read(CONFIG), year)) == []
        assert readback.words_of(table).count("\n") >= 12


@pytest.mark.parametrize("form", ["bin", "hex"])
def test_every_flipped_bit_of_an_image_is_noticed(form: str, forms: dict[str, bytes]) -> None:
    raw = forms[form]
    good = readback.read_bytes(raw).image
    for bit in range(8 * len(raw)):
        damaged = bytearray(raw)
        damaged[bit // 8] ^= 1 << bit % 8
        try:
            got = readback.read_bytes(bytes(damaged))
        except DamagedError:
            continue
        # Intel HEX takes lower-case digits and other line ends: the same bytes, so no damage.
        assert form == "hex" and got.image == good


@pytest.mark.parametrize("form", ["c", "json", "csv", "compact"])
def test_a_flipped_bit_never_gives_another_year(form: str, forms: dict[str, bytes]) -> None:
    raw = forms[form]
    good = readback.read_bytes(raw).minutes
    draw = random.Random(7)
    noticed = 0
    for _ in range(150):
        damaged = bytearray(raw)
        damaged[draw.randrange(len(raw))] ^= 1 << draw.randrange(8)
        try:
            got = readback.read_bytes(bytes(damaged)).minutes
        except DamagedError:
            noticed += 1
            continue
        assert list(got) == [2028]
        assert (got[2028] == good[2028]).all()
    assert noticed > 0


@settings(max_examples=150, deadline=None)
@given(
    st.binary(max_size=300),
    st.sampled_from([b"", b"\xd5\x01", b":", b"{", b"date,", b"door_image[] = {", b"door_minutes[]"]),
)
def test_nonsense_is_refused_without_a_crash(body: bytes, start: bytes) -> None:
    with pytest.raises(DamagedError):
        readback.read_bytes(start + body)


def test_cut_files_are_refused(forms: dict[str, bytes]) -> None:
    for form in ("bin", "hex", "json", "csv"):
        with pytest.raises(DamagedError):
            readback.read_bytes(forms[form][: len(forms[form]) * 2 // 3])


def test_a_missing_file_is_named(tmp_path: Path) -> None:
    with pytest.raises(MissingFileError, match=r"nowhere\.bin"):
        readback.read_file(str(tmp_path / "nowhere.bin"))


def test_the_command_and_its_exit_codes(forms: dict[str, bytes], tmp_path: Path) -> None:
    path = tmp_path / "chip.bin"
    path.write_bytes(forms["bin"] + b"\xff" * 300)  # as a programmer reads a whole EEPROM
    run = CliRunner()
    equal = run.invoke(app, ["readback", str(path), str(CONFIG)])
    assert (equal.exit_code, "equal to a fresh plan on every day" in equal.output) == (0, True)
    other = run.invoke(app, ["readback", str(path), str(OTHER), "--json"])
    assert other.exit_code == 1
    found = json.loads(other.stdout)
    assert found["layout"] == "curves"
    assert len(found["days"]) == 366
    assert any("date" in entry for entry in found["differences"])
    path.write_bytes(b"\xd5\x01" + forms["bin"][3:])
    assert run.invoke(app, ["readback", str(path)]).exit_code == 65
    assert run.invoke(app, ["readback", str(tmp_path / "none")]).exit_code == 66


def test_a_table_of_years_with_an_order_of_one_year_is_equal(tmp_path: Path) -> None:
    # Days of the order have no minute, so what decided it is not asked: such a fact was called a difference.
    work = compact(read(str(OTHER)), (2027, 2028), "years", 1, name=OTHER.name)
    for name, content in files_of(work, "eeprom").items():
        (tmp_path / name).write_bytes(content)
    table = readback.read_file(str(tmp_path / "larch_end_2027.bin"))
    assert readback.differences(table, lambda year: plan_of(read(str(OTHER)), year), within_min=1) == []
