"""The README shows what its commands print, and names files that are there."""

from __future__ import annotations

import re
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).parent.parent
README = (ROOT / "README.md").read_text(encoding="utf-8")


def test_the_commands_print_what_the_readme_shows() -> None:
    assert README.count("```text\n$ sunsched ") >= 3
    done = subprocess.run([sys.executable, "tools/readme.py", "--check"], cwd=ROOT, capture_output=True, text=True)
    assert done.returncode == 0, done.stderr


def test_every_link_of_the_project_leads_somewhere() -> None:
    links = [link for link in re.findall(r"\]\(([^)#]+)\)", README) if not link.startswith("http")]
    assert links
    assert [link for link in links if not (ROOT / link).exists()] == []


def test_the_test_command_is_what_ci_runs() -> None:
    assert "bash tools/check" in README
    assert "bash tools/check" in (ROOT / ".ci" / "run").read_text(encoding="utf-8")
