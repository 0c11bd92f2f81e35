"""mypy over the whole project and over the examples of docs/api.md, in one run and without looking for garbage.

    python tools/type_check.py [OPTIONS OF MYPY]

A run from nothing makes millions of objects and keeps nearly all: looking for garbage among them takes a quarter of its
time. Without it the run holds 1.2 GB in place of 0.5. The examples need what the tests' modules need, so that a run of
their own would load all of it again.
"""

from __future__ import annotations

import gc
import os
import re
import sys
from pathlib import Path
from unittest import mock

ROOT = Path(__file__).parents[1]
FOLDERS = ("sunsched", "tests", "bench", "tools")
BLOCK = re.compile(r"^```python\n(.*?)^```\n", re.MULTILINE | re.DOTALL)
# A type checker knows every public name with its types and no other. Under --strict each of the comments is an error
# unless it keeps back a mistake of its kind: a name that could be anything would have none.
KNOWN = """
from typing import assert_type
from sunsched.plan.year import YearPlan
def known(c: sunsched.Configuration) -> None:
    assert_type(sunsched.plan_year(c, 2027), YearPlan)
    sunsched.plan_year("larch_end.toml", 2027)  # type: ignore[arg-type]
    sunsched.plan_year(c, "2027")  # type: ignore[arg-type]
    sunsched.plan_yaer  # type: ignore[attr-defined]
"""


def examples(page: str) -> str:
    """The examples of the page as one module, with what is known of the library's names."""
    return "".join(BLOCK.findall(page)) + KNOWN


def main(words: list[str]) -> None:
    """Run mypy; leave with its exit code."""
    from mypy.__main__ import console_entry

    os.chdir(ROOT)
    module = ROOT / "build" / "api_page.py"
    module.parent.mkdir(exist_ok=True)
    module.write_text(examples((ROOT / "docs" / "api.md").read_text(encoding="utf-8")), encoding="utf-8")
    sys.argv = ["mypy", *words, *FOLDERS, str(module)]
    # mypy looks for garbage again once it has loaded a group of modules.
    with mock.patch.object(gc, "enable"):
        gc.disable()
        console_entry()


if __name__ == "__main__":
    main(sys.argv[1:])
