"""The C header promised noon within 0.43 min and midnight within a minute, where 0.93 and 1.3 are true.

tests/table/test_lateness.py holds the figures of FORMAT.md against the Sun; the header has to say the same ones.
"""

from __future__ import annotations

import re

from tests.conftest import ROOT

WITHIN = re.compile(r"[Ww]ithin\s+(\d\.\d+) min")


def test_the_header_promises_what_the_page_promises() -> None:
    page = (ROOT / "sunsched" / "table" / "FORMAT.md").read_text(encoding="utf-8")
    header = (ROOT / "sunsched" / "controller" / "c" / "sunsched_facts.h").read_text(encoding="ascii")
    promised = WITHIN.findall(page.split("## Facts")[1].split("## ")[0])
    assert promised == ["0.93", "1.3"]
    assert WITHIN.findall(header) == promised
