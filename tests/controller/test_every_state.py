"""Every state with shortened constants: all that must hold does, and a core that breaks it is found out."""

from __future__ import annotations

import re
import shutil
from pathlib import Path

import pytest

from tests.controller.core_library import CORE
from tests.controller.every_state import explored

# Without the learned lowering time, and in smaller sets: `python -m tests.controller.every_state` has all.
SAMPLE = ("-DNO_USUAL_DOWN", "-DMOTOR_BITS=21", "-DPLAN_BITS=21")


def test_every_reachable_state() -> None:
    code, text = explored(flags=SAMPLE)
    assert code == 0, text
    states = {part: int(n) for part, n in re.findall(r"^(\w+): states (\d+),", text, flags=re.MULTILINE)}
    assert set(states) == {"learning", "motor", "orders", "plan"}
    # an explorer that stops early has seen nothing: each part must pass well beyond its inputs
    assert min(states.values()) > 100 and states["plan"] > 100_000


@pytest.mark.parametrize(
    ("file", "was", "now", "rule"),
    [
        ("door_motor.c", "if (d->paid_s >= s->down_budget_s) {", "if (d->paid_s > s->down_budget_s) {", "budget|cut"),
        ("door_motor.c", "if (d->wait_s > 0u) {", "if (d->wait_s > 1u) {", "dead time|rest"),
        ("door_decision.c", "if (d->keep_shut) {", "if (0) {", "keep-shut"),
    ],
)
def test_a_broken_core_is_found_out(tmp_path: Path, file: str, was: str, now: str, rule: str) -> None:
    core = tmp_path / "core"
    shutil.copytree(CORE, core, ignore=lambda _, names: [one for one in names if not one.startswith("door_")])
    text = (core / file).read_text()
    assert text.count(was) == 1
    (core / file).write_text(text.replace(was, now))
    code, said = explored(core, SAMPLE)
    assert code == 1
    assert re.search(f"BROKEN: .*({rule})", said)
