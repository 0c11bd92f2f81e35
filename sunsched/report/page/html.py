"""HTML in small pieces, text made fit for it, and the one style sheet of page and sheets.

Every text is escaped here, so that no caller can forget it. The style sheet serves phones first, light and dark
schemes, A4 and Letter.
"""

from __future__ import annotations

import base64
import hashlib
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from html import escape

from sunsched.base import plain_text
from sunsched.base.plain_text import clean
from sunsched.base.text_digest import with_digest_line
from sunsched.report.pictures.svg import FONT, ROLES, style_sheet

_LIGHT = "".join(f"--{role}:{light};" for role, (light, _) in ROLES.items())
_DARK = "".join(f"--{role}:{dark};" for role, (_, dark) in ROLES.items())

_BASE = """
*{box-sizing:border-box}
html{-webkit-text-size-adjust:100%}
body{margin:0 auto;padding:1rem;max-width:72rem;font:1rem/1.5 FONT;color:var(--ink);background:var(--paper);
overflow-wrap:anywhere}
h1{font-size:1.6rem;line-height:1.25;margin:.5rem 0}
h2{font-size:1.25rem;margin:2.2rem 0 .6rem;padding-top:.5rem;border-top:2px solid var(--ink)}
h3{font-size:1.05rem;margin:1.2rem 0 .3rem}
p,ul,dl,table{margin:.5rem 0}
p,main ul{max-width:46rem}
a{color:var(--close)}
nav ul{display:flex;flex-wrap:wrap;gap:.2rem 1.2rem;padding:0;list-style:none}
nav a{display:inline-block;padding:.2rem 0}
.lead{color:var(--quiet)}
.facts{display:grid;grid-template-columns:repeat(auto-fill,minmax(15rem,1fr));gap:.4rem 1.5rem}
.facts dt{color:var(--quiet);font-size:.9rem}
.facts dd{margin:0;font-variant-numeric:tabular-nums}
.warning{border-left:.35rem solid var(--alarm);padding:.1rem 0 .1rem .8rem}
.warning p{margin:.2rem 0}
.warning b{color:var(--alarm)}
.charts{display:grid;grid-template-columns:repeat(auto-fit,minmax(min(100%,22rem),1fr));gap:1rem 2rem}
figure{margin:.5rem 0;max-width:46rem}
figure svg{display:block;width:100%;height:auto}
figcaption{color:var(--quiet);font-size:.92rem}
.map{max-width:44rem}
.year{display:grid;gap:0 2rem}
.aside{min-width:0;position:sticky;top:0;align-self:start;z-index:1;background:var(--paper)}
@media (min-width:62rem){.year{grid-template-columns:minmax(0,44rem) minmax(0,1fr)}
.aside{order:2;top:1rem}.aside .facts{grid-template-columns:1fr}}
.map svg{touch-action:pan-y;cursor:crosshair}
.reader{background:var(--band);padding:.5rem .8rem;border:1px solid var(--quiet)}
.reader label{font-weight:600}
.reader input{display:block;width:100%;margin:.4rem 0;min-height:1.6rem;accent-color:var(--close)}
.reader output{display:block;min-height:3em;font-variant-numeric:tabular-nums}
main .legend{max-width:none}
.legend{display:flex;flex-wrap:wrap;gap:.2rem 1.6rem;padding:0;list-style:none}
.scrolled{overflow-x:auto}
:focus-visible{outline:3px solid var(--close);outline-offset:2px}
table{border-collapse:collapse;font-variant-numeric:tabular-nums;overflow-wrap:normal}
caption{text-align:left;font-weight:600;padding:.3rem 0}
th,td{padding:.12rem .55rem;text-align:right;border-bottom:1px solid var(--faint);font-weight:400}
thead th{font-weight:600;border-bottom:1px solid var(--ink);vertical-align:bottom}
tbody th,th:first-child{text-align:left}
.words th,.words td{text-align:left;vertical-align:top}
.months{display:grid;grid-template-columns:repeat(auto-fill,minmax(15.5rem,1fr));gap:1rem 1.8rem;align-items:start}
.months table{width:100%;font-size:.86rem;line-height:1.35}
.months th,.months td{padding:.06rem .3rem}
.months tr.sun td,.months tr.sun th{border-bottom-color:var(--ink)}
.down{font-style:italic;text-align:left}
.sheet table{width:100%}
.sheet td.blank{min-width:5rem}
.sheet td:not(.down){white-space:nowrap}
.sheet .words td{white-space:normal}
.ticks{list-style:none;padding-left:0}
.ticks li{padding-left:1.6em;text-indent:-1.6em;margin:.2rem 0}
.lines{list-style:none;padding:0}
.lines li{display:flex;gap:.6rem;margin:.7rem 0}
.lines i{flex:1;border-bottom:1px solid var(--ink)}
.box{display:inline-block;width:1em;height:1em;border:1.5px solid var(--ink);vertical-align:-.12em}
footer{margin-top:2.5rem;border-top:1px solid var(--quiet);font-size:.9rem;color:var(--quiet)}
code{font-family:ui-monospace,"DejaVu Sans Mono",monospace;font-size:.92em}
@media (max-width:34rem){svg .tick{font-size:15px}svg .small{font-size:14px}
.map svg .tick{font-size:20px}.map svg .small{font-size:17px}.map svg .head{font-size:25px}}
@media print{
@page{margin:14mm 12mm}
body,p,main ul,figure{max-width:none}
body{padding:0;font-size:10pt;background:#fff}
nav,.aside .reader{display:none}
.year{display:block}
.aside{position:static}
h2,h3,caption{break-after:avoid}
h2{margin-top:1.2rem}
figure,.warning,tr,.months table,.keep{break-inside:avoid}
.months{grid-template-columns:repeat(3,1fr);gap:.6rem 1.4rem}
.months table{font-size:7.2pt;line-height:1.18}
.months th,.months td{padding:0 .3rem}
.months caption{padding:0}
.facts{grid-template-columns:repeat(3,1fr)}
.charts{grid-template-columns:repeat(3,1fr);gap:.5rem 1rem}
.map{max-width:none}
.map svg{height:162mm;width:auto;max-width:100%;margin:0 auto}
.scrolled{overflow:visible}
svg .tick,svg .small,.map svg .tick,.map svg .small{font-size:13px}.map svg .head{font-size:19px}
*{-webkit-print-color-adjust:exact;print-color-adjust:exact}
}
"""


def page_style() -> str:
    """The style sheet as text; the pictures' dark colours are part of it."""
    dark = f"@media screen and (prefers-color-scheme:dark){{:root{{{_DARK}}}}}"
    return f":root{{color-scheme:light dark;{_LIGHT}}}{dark}{_BASE.replace('FONT', FONT)}{style_sheet()}"


def one_line(text: str, longest: int) -> str:
    """`text` on one line, at most `longest` characters, an ellipsis in place of the rest."""
    flat = " ".join(clean(text).split())
    return flat if len(flat) <= longest else f"{flat[: longest - 1].rstrip()}…"


def markup(text: str) -> str:
    """`text` escaped for HTML, in elements and in quoted attributes."""
    return escape(clean(text))


def apart(text: str, longest: int = 10_000) -> str:
    """A name from the configuration for HTML, kept apart from the direction of the words around it."""
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
    caption: object, head: Sequence[object], rows: Iterable[Sequence[object]], class_: str | None = None
) -> Markup:
    """A table with a caption; the first column heads its row."""
    top = element("tr", *(element("th", cell, scope="col") for cell in head))
    body = (
        element("tr", element("th", row[0], scope="row"), *(element("td", cell) for cell in row[1:])) for row in rows
    )
    return element("table", element("caption", caption), element("thead", top), element("tbody", *body), class_=class_)


def scrolled(name: str, inside: object, class_: str = "") -> Markup:
    """What may be wider than a phone, in a region that scrolls by itself and that the keyboard reaches."""
    return element("div", inside, class_=f"scrolled {class_}".strip(), role="region", aria_label=name, tabindex="0")


@dataclass(frozen=True, slots=True)
class Section:
    """One part of a page under its heading."""

    ident: str
    title: str
    inside: Markup

    @property
    def anchor(self) -> str:
        """The section's id on the page; a picture in it may bear the bare name."""
        return f"part-{self.ident}"

    def html(self) -> Markup:
        """The section as HTML."""
        heading = element("h2", self.title, id=f"{self.anchor}-h")
        return element("section", heading, self.inside, id=self.anchor, aria_labelledby=f"{self.anchor}-h")


def digest(text: str) -> str:
    """A script or style sheet as a Content-Security-Policy names it."""
    return f"'sha256-{base64.b64encode(hashlib.sha256(text.encode()).digest()).decode()}'"


def document(title: str, style: str, body: Iterable[object], script: str = "", language: str = "en") -> str:
    """A whole page that asks for nothing: the policy lets only this style sheet and this script work."""
    allowed = f"script-src {digest(script)}; " if script else ""
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
