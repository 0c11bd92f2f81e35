"""The C reader as one header: every part once, in a fixed order, and nothing of ours left to include."""

from __future__ import annotations

import re

import pytest

from sunsched.base.text_digest import proven
from sunsched.emit import c_reader
from sunsched.table.layout import CODECS, reader_names
from tests.support.reader import READER


def test_one_header_holds_every_part_once_and_includes_none() -> None:
    text = c_reader.reader_text()
    assert re.findall(r'#include "(.*)"', text) == []
    parts = reader_names([*CODECS.values()])
    for name in parts:
        guard = f"{name.upper().replace('.', '_')}"
        assert text.count(f"#ifndef {guard}\n") == 1
    lines = [line for name in parts for line in (READER / name).read_text(encoding="ascii").splitlines()]
    kept = [line for line in lines if '#include "' not in line]
    own = text.splitlines()
    assert sorted(kept) == sorted(own[own.index(" */") + 1 : -1])


def test_the_text_is_the_same_each_time_and_carries_its_digest() -> None:
    assert c_reader.reader_text() == c_reader.reader_text()
    assert proven(c_reader.reader_text().encode()) is True
    assert proven(c_reader.reader_text().replace("0x1021u", "0x1023u").encode()) is False


def test_a_part_that_one_decoder_alone_would_bring_and_another_needs_is_refused() -> None:
    parts = {
        "sunsched_table.h": "#ifndef A\n#if B\n#include \"sunsched_b.h\"\n#endif\n#include \"sunsched_c.h\"\n#endif",
        "sunsched_b.h": '#ifndef B_H\n#include "sunsched_c.h"\nb\n#endif',
        "sunsched_c.h": "c",
    }  # fmt: skip
    with pytest.raises(ValueError, match=r"sunsched_table.h includes sunsched_c.h, which stands above it"):
        c_reader.one_file(parts.__getitem__, "sunsched_table.h")
    parts["sunsched_table.h"] = '#include "sunsched_c.h"\n#if B\n#include "sunsched_b.h"\n#endif'
    in_order = ["c", "#if B", "#ifndef B_H", "b", "#endif", "#endif"]
    assert c_reader.one_file(parts.__getitem__, "sunsched_table.h") == in_order
