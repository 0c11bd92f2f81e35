"""The one style sheet of page and sheets: phone first, light and dark, A4 and Letter."""

from __future__ import annotations

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
figure svg{display:block;width:100%;max-width:34rem;height:auto}
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
@media (max-width:34rem){svg .tick{font-size:15px}}
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
svg .tick{font-size:13px}
*{-webkit-print-color-adjust:exact;print-color-adjust:exact}
}
"""


def page_style() -> str:
    """The style sheet as text; the pictures' dark colours are part of it."""
    dark = f"@media screen and (prefers-color-scheme:dark){{:root{{{_DARK}}}}}"
    return f":root{{color-scheme:light dark;{_LIGHT}}}{dark}{_BASE.replace('FONT', FONT)}{style_sheet()}"
