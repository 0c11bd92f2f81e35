"""The facts of a day: one list, which every reader's own names follow."""

from __future__ import annotations

import re

import pytest

from sunsched.controller.words import Facts
from sunsched.emit import c_header
from sunsched.plan.year import FACTS
from tests.support import toolchain
from tests.support.made_plans import made_plan

WANTED = {fact.name.upper(): fact.bit for fact in FACTS}


def test_each_fact_has_a_bit_of_its_own_in_order() -> None:
    assert [fact.bit for fact in FACTS] == [1 << place for place in range(len(FACTS))]


def test_the_bits_of_a_plan_are_its_columns() -> None:
    plan = made_plan(shut=(320, 340))
    for fact in FACTS:
        assert ((plan.fact_bits & fact.bit != 0) == getattr(plan, fact.name)).all()


def test_the_doors_twin_knows_the_same_facts() -> None:
    assert {fact.name: fact.value for fact in Facts} == WANTED


@pytest.mark.parametrize(
    ("name", "pattern"),
    [
        ("sunsched_image.h", r"#define SUNSCHED_(\w+_EXPECTED|\w+_BY_TWILIGHT) (\d+)u"),
        ("door_decision.h", r"DOOR_(\w+_EXPECTED|\w+_BY_TWILIGHT) = (\d+)"),
    ],
)
def test_the_shipped_c_knows_the_same_facts(name: str, pattern: str) -> None:
    text = (toolchain.C_DIR / name).read_text(encoding="ascii")
    assert {found: int(bit) for found, bit in re.findall(pattern, text)} == WANTED


def test_the_plain_header_defines_and_explains_each() -> None:
    found = re.findall(r"^#define DOOR_FACT_(\w+) (\d+)u +/\* (.+) \*/$", c_header._fact_macros(), re.M)
    assert found == [(fact.name.upper(), str(fact.bit), fact.words) for fact in FACTS]
