"""HTML in small pieces, and text from a configuration made fit for a page, a picture or a cell of a spreadsheet.

Every text is escaped here, so that no caller can forget it.
"""

from __future__ import annotations

import base64
import hashlib
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from html import escape
from typing import Literal

from sunsched.base import plain_text
from sunsched.base.plain_text import clean
from sunsched.base.text_digest import with_digest_line


def one_line(text: str, longest: int) -> str:
    """`text` on one line, at most `longest` characters, an ellipsis in place of the rest."""
    flat = " ".join(clean(text).split())
    return flat if len(flat) <= longest else f"{flat[: longest - 1].rstrip()}…"


def markup(text: str) -> str:
    """`text` escaped for HTML, in elements and in quoted attributes."""
    return escape(clean(text))


def apart(text: str, longest: int = 10_000) -> str:
    """A name from the configuration for HTML, isolated from the direction of the words around it."""
    return f"<bdi>{markup(one_line(text, longest))}</bdi>"


def cell(text: str) -> str:
    """`text` for a CSV cell that no spreadsheet takes for a formula: a leading sign is kept behind an apostrophe."""
    return plain_text.cell(" ".join(clean(text).split()))


class Markup(str):
    """Text that is HTML already and is not escaped again."""

    __slots__ = ()


def put(value: object) -> str:
    """A value as HTML: Markup as it stands, anything else escaped."""
    return value if isinstance(value, Markup) else markup(str(value))


def element(tag: str, *inside: object, **attributes: str | None) -> Markup:
    """One element; an attribute of None is left out, an underscore in its name is written as a hyphen."""
    pairs = ((name.rstrip("_").replace("_", "-"), value) for name, value in attributes.items() if value is not None)
    head = "".join(f' {name}="{markup(value)}"' if value else f" {name}" for name, value in pairs)
    return Markup(f"<{tag}{head}>{''.join(put(part) for part in inside)}</{tag}>")


def joined(parts: Iterable[object], between: str = "") -> Markup:
    """Pieces one after the other."""
    return Markup(between.join(put(part) for part in parts))


def bullets(entries: Iterable[object], **attributes: str | None) -> Markup:
    """A list."""
    return element("ul", *(element("li", entry) for entry in entries), **attributes)


def facts(pairs: Iterable[tuple[object, object]]) -> Markup:
    """Names with their values, as a description list."""
    cells = (element("div", element("dt", name), element("dd", value)) for name, value in pairs)
    return element("dl", *cells, class_="facts")


def grid(
    caption: object,
    head: Sequence[object],
    rows: Iterable[Sequence[object]],
    class_: str | None = None,
    caption_class: str | None = None,
) -> Markup:
    """A table with a caption; the first column heads its row. On a phone each row stands as a block with its labels."""
    return stacked(
        element("caption", caption, class_=caption_class), head, (_grid_row(head, row) for row in rows), class_
    )


def stacked(caption: Markup, head: Sequence[object], rows: Iterable[Markup], class_: str | None = None) -> Markup:
    """A table of ready rows that a phone shows as blocks.

    Roles are written out, because some readers take a block for no table.
    """
    cells = (element("th", cell, scope="col", role="columnheader") for cell in head)
    top = element("thead", element("tr", *cells, role="row"), role="rowgroup")
    body = element("tbody", *rows, role="rowgroup")
    return element("table", caption, top, body, class_=f"stack {class_ or ''}".strip(), role="table")


def _grid_row(head: Sequence[object], row: Sequence[object]) -> Markup:
    cells = (labelled(label, cell) for label, cell in zip(head[1:], row[1:], strict=True))
    return element("tr", row_head(row[0]), *cells, role="row")


def row_head(inside: object) -> Markup:
    """The cell that heads a row of a stacked table."""
    return element("th", inside, scope="row", role="rowheader")


def labelled(label: object, inside: object, class_: str | None = None) -> Markup:
    """A cell of a stacked table, with the column's name beside it on a phone."""
    return element("td", inside, data_label=str(label), class_=class_, role="cell")


def scrolled(name: str, inside: object, class_: str = "") -> Markup:
    """What may be wider than a phone, in a region that scrolls by itself and that the keyboard reaches."""
    return element("div", inside, class_=f"scrolled {class_}".strip(), role="region", aria_label=name, tabindex="0")


def folded(summary: object, inside: object, **attributes: str | None) -> Markup:
    """What is behind one line until it is opened."""
    return element("details", element("summary", summary), inside, **attributes)


@dataclass(frozen=True, slots=True)
class Section:
    """One part of a page under its heading.

    folded   behind its heading: "always" what only a builder needs, "phone" what is long; the latter is whole on a wide
      screen and on paper
    """

    ident: str
    title: str
    inside: Markup
    folded: Literal["", "phone", "always"] = ""

    @property
    def anchor(self) -> str:
        """The section's id on the page; a picture in it may bear the bare name."""
        return f"part-{self.ident}"

    def html(self) -> Markup:
        """The section as HTML."""
        inside = [element("h2", self.title, id=f"{self.anchor}-h"), self.inside]
        if self.folded:
            inside = [folded(inside[0], self.inside, class_="wide" if self.folded == "phone" else None)]
        kind = "folds" if self.folded else None
        return element("section", *inside, id=self.anchor, aria_labelledby=f"{self.anchor}-h", class_=kind)


def digest(text: str) -> str:
    """A script or style sheet as a Content-Security-Policy names it."""
    return f"'sha256-{base64.b64encode(hashlib.sha256(text.encode()).digest()).decode()}'"


WASM = " 'wasm-unsafe-eval'"  # compiling WebAssembly, which a policy forbids beside eval() otherwise


def document(
    title: str, style: str, body: Iterable[object], script: str = "", language: str = "en", wasm: bool = False
) -> str:
    """A whole page that loads nothing else: the policy allows only this style sheet and this script.

    wasm   the script compiles WebAssembly that the page holds
    """
    allowed = f"script-src {digest(script)}{WASM * wasm}; " if script else ""
    policy = (
        f"default-src 'none'; {allowed}style-src {digest(style)}; img-src data:; base-uri 'none'; form-action 'none'"
    )
    lines = [
        "<!doctype html>",
        f'<html lang="{markup(language)}">',
        "<head>",
        '<meta charset="utf-8">',
        f'<meta http-equiv="Content-Security-Policy" content="{policy}">',
        '<meta name="viewport" content="width=device-width, initial-scale=1">',
        '<meta name="generator" content="GENERATED by sunsched">',
        '<meta name="color-scheme" content="light dark">',
        '<link rel="icon" href="data:,">',
        f"<title>{markup(title)}</title>",
        f"<style>{style}</style>",
        "</head>",
        "<body>",
        *(put(part) for part in body),
        f"<script>{script}</script>" if script else "",
        "</body>",
        "</html>",
        "",
    ]
    return with_digest_line("\n".join(lines), "<!-- {} -->")
