"""The page's one document: the words of a language put into its HTML, the script and the style sheet inside it."""

from __future__ import annotations

import json
import re
from functools import lru_cache
from typing import Any

from sunsched.base.package_data import package_bytes
from sunsched.report.page.html import digest, markup
from sunsched.report.page.style import page_style

LANGUAGES = ("en", "de")
_PLACE = re.compile(r"\{\{([\w.]+)\}\}")


def file_text(name: str) -> str:
    """A file of this folder that ships with the package."""
    return package_bytes("sunsched.planner", name).decode("utf-8")


@lru_cache(maxsize=len(LANGUAGES))
def words(language: str) -> dict[str, Any]:
    """Every word of the page in a language; English where there is none of that name."""
    chosen = language if language in LANGUAGES else LANGUAGES[0]
    found: dict[str, Any] = json.loads(file_text(f"words.{chosen}.json"))
    return found


def language_of(asked: str, accepted: str) -> str:
    """The language asked for in the address, else the first that the browser accepts and the page has."""
    wanted = [asked, *(part.partition(";")[0].strip()[:2].lower() for part in accepted.split(","))]
    return next((one for one in wanted if one in LANGUAGES), LANGUAGES[0])


def script() -> str:
    """The page's script: what draws and what keeps, then what lets them work together."""
    return "".join(map(file_text, ("draw.js", "memory.js", "link.js", "planner.js")))


def style() -> str:
    """The look of all pages, and the planner's own places."""
    return page_style() + file_text("planner.css")


def policy() -> str:
    """What the page may do: this script, this style sheet, requests to itself, and its play in a frame."""
    return "; ".join(
        (
            "default-src 'none'",
            f"script-src {digest(script())}",
            f"style-src {digest(style())}",
            "img-src data:",
            "connect-src 'self'",
            "frame-src 'self'",
            "base-uri 'none'",
            "form-action 'none'",
            "frame-ancestors 'none'",
        )
    )


def document(language: str) -> str:
    """The page. It holds neither the key nor anything of the file."""
    said = words(language)

    def word(match: re.Match[str]) -> str:
        return markup(str(said["page"][match[1]]))

    parts = {"language": language, "style": style(), "script": script()}
    text = _PLACE.sub(word, file_text("page.html"))
    for name, content in parts.items():
        text = text.replace(f"[[{name}]]", content)
    return text
