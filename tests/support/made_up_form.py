"""An output form of our own invention, which the tests add to the registry: a line a day, opening and closing."""

from __future__ import annotations

import numpy as np

from sunsched.base.civil_time import date_of
from sunsched.base.text_digest import with_digest_line
from sunsched.emit.forms import Form, Reading
from sunsched.emit.read_table import ReadTable, text_of
from sunsched.emit.stamp import Stamp
from sunsched.plan.year import YearPlan

MARK = "made-up table of "
FORM = Form(
    name="lines",
    words=("made-up lines",),
    endings=("lines",),
    text=True,
    readings=(Reading("made-up lines", "tests.support.made_up_form:read", starts=MARK.encode()),),
    plain="tests.support.made_up_form:text",
)


def text(plan: YearPlan, stamp: Stamp) -> str:
    """The minutes, and the digest that every text of ours ends with."""
    pairs = zip(plan.open_min.tolist(), plan.close_min.tolist(), strict=True)
    body = "".join(f"{opens} {closes}\n" for opens, closes in pairs)
    return with_digest_line(f"{MARK}{date_of(plan.first_day).year}\n{body}", "{}")


def read(raw: bytes) -> ReadTable:
    """The minutes; the registry has held the text against its digest."""
    head, *lines, _ = text_of(raw).splitlines()
    minutes = np.array([[int(word) for word in line.split()] for line in lines], np.int32).T
    return ReadTable({int(head.removeprefix(MARK)): minutes})
