"""The hut's front with its door, as the play shows it: a picture whose parts the script moves."""

from __future__ import annotations

from sunsched.report.page.html import Markup
from sunsched.report.pictures.svg import ROLES

# The opening in the wall, in units of the picture; the plate covers it when it is down and hangs above it when up.
LEFT, TOP, WIDTH, HEIGHT = 170, 132, 70, 52


def _painted(shape: str, role: str, paint: str = "fill", ident: str = "") -> str:
    named = f' id="{ident}"' if ident else ""
    return f'<{shape}{named} class="{paint[0]}-{role}" {paint}="{ROLES[role][0]}"/>'


def scene() -> Markup:
    """The picture: #scene, with #scene-sky, #plate, #cord, #lamp-light, #alarm-light, #scene-time inside."""
    parts = [
        _painted('rect x="0" y="0" width="460" height="200"', "day", ident="scene-sky"),
        _painted('rect x="0" y="184" width="460" height="16"', "third"),
        _painted('rect x="120" y="60" width="220" height="126"', "band"),
        '<rect x="120" y="60" width="220" height="126" fill="none" class="s-ink" stroke="#16181d" stroke-width="2"/>',
        '<path d="M104 62 L230 14 L356 62 Z" class="f-faint s-ink" fill="#c3c7d0" stroke="#16181d" stroke-width="2"/>',
        # dark inside by day and by night, on a light screen and a dark one
        f'<rect x="{LEFT}" y="{TOP}" width="{WIDTH}" height="{HEIGHT}" fill="#0c0e12"/>',
        _painted(f'rect x="{LEFT}" y="{TOP}" width="{WIDTH}" height="{HEIGHT}"', "open", ident="plate"),
        f'<line id="cord" x1="205" y1="74" x2="205" y2="{TOP}" class="s-ink" stroke="#16181d" stroke-width="2"/>',
        '<circle cx="205" cy="74" r="6" class="f-paper s-ink" fill="#ffffff" stroke="#16181d" stroke-width="2"/>',
        '<path d="M165 80 V184 M245 80 V184" class="s-ink" stroke="#16181d" stroke-width="3"/>',
        '<circle id="alarm-light" cx="312" cy="84" r="8" class="f-paper s-ink" fill="#ffffff" stroke="#16181d"'
        ' stroke-width="2"/>',
        '<g id="lamp-light" visibility="hidden"><circle cx="404" cy="70" r="26" class="f-open" fill="#a34700"'
        ' fill-opacity=".35"/><circle cx="404" cy="70" r="9" class="f-open" fill="#a34700"/></g>',
        '<path id="snow-cap" d="M272 57 q16 -14 32 0 z" visibility="hidden" class="f-paper s-ink" fill="#ffffff"'
        ' stroke="#16181d"/>',
        '<rect x="276" y="58" width="24" height="10" class="f-close s-ink" fill="#123f8c" stroke="#16181d"/>',
        '<text id="scene-time" x="10" y="30" aria-hidden="true"></text>',
        '<text id="scene-door" x="450" y="30" text-anchor="end" aria-hidden="true"></text>',
    ]
    inside = "".join(parts)
    return Markup(f'<svg id="scene" viewBox="0 0 460 200" role="img" aria-label="">{inside}</svg>')
