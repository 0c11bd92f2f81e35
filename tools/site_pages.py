"""A hook of mkdocs: pages that stand outside docs/, and links that hold in the repository and in the site alike.

A page links to files as they lie in the repository, so that it can be read there. Here a link to a page becomes one to
the site's page. A link to any other file of the repository, such as a source file, becomes the file's name, no link.
"""

from __future__ import annotations

import json
import posixpath
import re
from pathlib import Path
from typing import Any

from mkdocs.structure.files import File

ROOT = Path(__file__).parent.parent
OUTSIDE = {
    "README.md": "index.md",
    "DEVELOPERS.md": "developers.md",
    "CHANGELOG.md": "changes.md",
    "bench/figures.md": "speed.md",
    "sunsched/controller/RULES.md": "door_rules.md",
    "sunsched/controller/LOG.md": "door_log.md",
    "sunsched/controller/LINE.md": "serial_line.md",
    "sunsched/table/FORMAT.md": "table_format.md",
}
LIST = re.compile(r"[-*] |\d+\. ")
LINK = re.compile(r"(?P<words>!?\[[^\]]*\])\((?P<to>[^)\s#:]+)(?P<part>#[^)\s]*)?\)")


def on_config(config: Any) -> Any:
    """Put the pages under docs/ that no section names into the section More, so that a new page needs no list."""
    named = json.dumps(config.nav)
    more = next(section["More"] for section in config.nav if "More" in section)
    more += [page.name for page in sorted((ROOT / "docs").glob("*.md")) if f'"{page.name}"' not in named]
    if not more:
        config.nav = [section for section in config.nav if "More" not in section]
    return config


def on_files(files: Any, config: Any) -> Any:
    """Add the pages from outside."""
    for place, name in OUTSIDE.items():
        text = (ROOT / place).read_text(encoding="utf-8")
        files.append(File.generated(config, name, content=headed(place, text)))
    return files


def headed(place: str, text: str) -> str:
    """A page with a heading; that of measured speed starts with its figures."""
    return text if text.startswith("# ") else f"# {Path(place).stem.capitalize()}\n\n{text}"


def on_page_markdown(markdown: str, page: Any, **_: Any) -> str:
    """Mend the links of a page. Raises ValueError, which ends the build, for a file that is not in the repository."""
    name = page.file.src_uri
    places = {site: place for place, site in OUTSIDE.items()}
    return with_lists(with_links(markdown, places.get(name, f"docs/{name}")))


def with_lists(markdown: str) -> str:
    """The page with an empty line before each list: CommonMark does without, Python-Markdown makes text of the list."""
    lines: list[str] = []
    fenced = False
    for line in markdown.split("\n"):
        fenced ^= line.startswith("```")
        before = lines[-1] if lines else ""
        if not fenced and LIST.match(line) and before and not LIST.match(before) and not before.startswith(" "):
            lines.append("")
        lines.append(line)
    return "\n".join(lines)


def with_links(markdown: str, place: str) -> str:
    """The page that lies at `place` in the repository, with its links as the site has them."""

    def again(match: re.Match[str]) -> str:
        target = posixpath.normpath(posixpath.join(posixpath.dirname(place), match["to"]))
        if not (ROOT / target).exists():
            raise ValueError(f"{place}: a link to {match['to']}, which is not there")
        if target in OUTSIDE:
            to = OUTSIDE[target]
        elif posixpath.dirname(target) == "docs":
            to = posixpath.basename(target)
        else:
            return match["words"].strip("![]")
        return f"{match['words']}({to}{match['part'] or ''})"

    return LINK.sub(again, markdown)
