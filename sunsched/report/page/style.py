"""The one style sheet of every page (report, sheets, planner, play): phone first, light and dark, A4 and Letter.

A page with places of its own puts its rules behind this sheet and takes colours from its roles alone (`var(--ink)`).
"""

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
.card{background:var(--band);border:1px solid var(--quiet);border-radius:.5rem;padding:.6rem 1rem 1rem;margin:1rem 0}
.card h2{border:0;margin:.2rem 0;padding:0}
.card p{margin:.35rem 0}
.card .big{font-size:1.5rem;line-height:1.25;font-weight:650;font-variant-numeric:tabular-nums}
.card .look{font-size:1.15rem;font-weight:600}
.card .quiet{color:var(--quiet);font-size:.92rem}
.now{font-weight:600}
.now:empty{display:none}
.pick{display:flex;flex-wrap:wrap;gap:.5rem;align-items:center}
button,.pick input{font:inherit;color:var(--ink);background:var(--paper);min-height:2.75rem;padding:.3rem .8rem;
border:1px solid var(--ink);border-radius:.35rem}
button:disabled{color:var(--quiet);border-color:var(--faint)}
summary{cursor:pointer;padding:.6rem 0}
summary h2{display:inline;border:0;padding:0;margin:0}
.folds{border-top:1px solid var(--quiet)}
.months-nav a{padding:.6rem .3rem}
.months-nav ul{gap:0 .9rem;margin:.2rem 0}
.apart{position:absolute;width:1px;height:1px;overflow:hidden;clip-path:inset(50%);white-space:nowrap}
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
.months{display:grid;grid-template-columns:repeat(auto-fill,minmax(min(100%,19rem),1fr));gap:0 1.8rem;align-items:start}
.month{border-bottom:1px solid var(--faint);min-width:0}
.month summary{display:flex;flex-wrap:wrap;gap:0 .5rem;align-items:baseline;padding:.55rem 0}
.month summary small{margin-left:auto;white-space:nowrap;font-size:.8rem;color:var(--quiet);
font-variant-numeric:tabular-nums}
.month summary::before{content:"▸";flex:none}
.month[open] summary::before{content:"▾"}
.month summary b{flex:1;white-space:nowrap}
.months table{width:100%;font-size:.86rem;line-height:1.35}
.months th,.months td{padding:.06rem .3rem}
.months td:last-child,.months th:last-child{text-align:left}
.months tr.sun td,.months tr.sun th{border-bottom-color:var(--ink)}
.down{font-style:italic;text-align:left}
.sheet table{width:100%}
.sheet td.blank{width:20%}
.sheet th:not(:first-child){text-align:left}
.sheet .days td{text-align:left}
.date th{font-weight:650;padding-top:.7rem}
.sheet td:not(.down){white-space:nowrap}
.sheet .words td{white-space:normal}
.ticks{list-style:none;padding-left:0}
.ticks li{padding-left:1.6em;text-indent:-1.6em;margin:.2rem 0}
.lines{list-style:none;padding:0}
.lines li{display:flex;flex-wrap:wrap;gap:.6rem;margin:.7rem 0}
.lines i{flex:1 0 8rem;min-height:1.2em;border-bottom:1px solid var(--ink)}
.box{display:inline-block;width:1em;height:1em;border:1.5px solid var(--ink);vertical-align:-.12em}
footer{margin-top:2.5rem;border-top:1px solid var(--quiet);font-size:.9rem;color:var(--quiet)}
code{font-family:ui-monospace,"DejaVu Sans Mono",monospace;font-size:.92em}
@media (min-width:34.01rem){.dated tbody th{white-space:nowrap}}
@media screen and (max-width:34rem){header+nav{display:none}
h2{margin-top:1.4rem}
.stack thead{position:absolute;width:1px;height:1px;overflow:hidden;clip-path:inset(50%)}
.stack,.stack tbody,.stack tr,.stack caption,.stack th,.stack td{display:block}
.stack tr{border-bottom:1px solid var(--quiet);padding:.4rem 0}
.stack th,.stack td{border:0;padding:.1rem 0;text-align:left;white-space:normal;overflow-wrap:anywhere}
.stack tbody th{font-weight:600}
.stack td[data-label]{display:flex;gap:.8rem}
.stack td[data-label]::before{content:attr(data-label);color:var(--quiet);flex:0 0 8rem}
.words td[data-label]::before{display:none}
.days tr{display:grid;grid-template-columns:repeat(3,1fr);gap:.1rem .8rem}
.days th,.days .down{grid-column:1/-1}
.days tr:has(+.note){border:0;padding-bottom:0}
.days tr.note{padding-top:0}
.days tr.date{border:0;padding-bottom:0}
.days tr.date th{font-size:1.1rem;font-weight:650;margin-top:.6rem}
.days td[data-label]{display:block}
.days td[data-label]::before{display:block;font-size:.85rem}
.days td[data-label].blank{display:none}
.pick label{flex:1 0 100%}.pick input{flex:1 0 100%}.pick button{flex:1 1 auto}}
@media (max-width:34rem){svg .tick{font-size:15px}}
@media print{
@page{margin:10mm 12mm}
html{font-size:8.5pt}
body,p,main ul,figure{max-width:none}
body{padding:0;line-height:1.3;background:#fff}
nav,button,.aside .reader,.card,#year-mark,details:not([open]):not(.wide,.month){display:none}
.folds{border:0}
details::details-content{content-visibility:visible;display:block;block-size:auto}
summary::marker{content:""}
.month summary::before{display:none}
#part-warnings .wide>summary{display:none}
h1,h2,h3,caption,p:has(+table){break-after:avoid}
h1{margin:0}
footer{margin-top:.6rem;font-size:.8rem}
footer p{margin:0}
h2{margin-top:1rem;border-top-width:1px}
figure,.warning,tr,.month,.keep{break-inside:avoid}
.report{display:flex;flex-direction:column}
#part-warnings{columns:3;column-gap:1.5rem;font-size:.88rem}
#part-asked .rules,#part-cautions>ul{columns:3;column-gap:1.5rem;font-size:.92rem}
#part-asked .facts{grid-template-columns:repeat(3,1fr);gap:.1rem 1rem;font-size:.92rem}
.charts figcaption{font-size:.82rem;line-height:1.25}
.warning p{margin:.1rem 0}
main ul{padding-left:1.4rem}
#part-warnings h2{column-span:all}
#part-asked h3{margin-top:.5rem}
#part-asked ul,#part-cautions ul{margin:.2rem 0}
#part-year-section,#part-months{break-before:page}
#part-months{order:1}
.year{display:block}
.aside{position:static}
.months{grid-template-columns:repeat(3,1fr);gap:.4rem 1.6rem}
.months table{font-size:7pt;line-height:1.13;margin:.2rem 0}
.months th,.months td{padding:0 .25rem;white-space:nowrap}
.months td:last-child{font-size:6.4pt}
.months caption{padding:0}
.month{border:0}
.month summary{padding:.3rem 0 0}
.month summary small{font-size:6.4pt}
.facts{grid-template-columns:repeat(4,1fr)}
.charts{grid-template-columns:repeat(3,1fr);gap:.5rem 1rem}
.map{max-width:none}
.map svg{height:114mm;width:auto;max-width:100%;margin:0 auto}
.scrolled{overflow:visible}
svg .tick{font-size:13px}
*{-webkit-print-color-adjust:exact;print-color-adjust:exact}
}
"""


def page_style() -> str:
    """The style sheet as text; the pictures' dark colours are part of it."""
    dark = f"@media screen and (prefers-color-scheme:dark){{:root{{{_DARK}}}}}"
    return f":root{{color-scheme:light dark;{_LIGHT}}}{dark}{_BASE.replace('FONT', FONT)}{style_sheet()}"
