"""What the play adds to the common style sheet."""

from __future__ import annotations

from sunsched.report.pictures.svg import FONT

_OWN = """
.play{display:grid;grid-template-columns:minmax(0,1fr);gap:0 2rem}
.play>*{min-width:0}
.asked h2{font-size:1.05rem}
.asked section+section{border-top:1px solid var(--faint);margin-top:.5rem;padding-top:.3rem}
.front{position:sticky;top:0;z-index:1;background:var(--paper);padding:.4rem 0}
html{scroll-padding-top:11rem}
#scene{display:block;width:100%;max-width:34rem;height:auto;border:1px solid var(--quiet);border-radius:.35rem}
#scene text{font:650 26px FONT;fill:var(--ink);stroke:var(--halo);stroke-width:5px;paint-order:stroke}
#chart{touch-action:pan-y}
.now-words .facts{grid-template-columns:repeat(auto-fill,minmax(9.5rem,1fr))}
.now-words .facts>:last-child{grid-column:1/-1}
.why{font-size:1.15rem;min-height:3em}
.said{min-height:1.5em;margin:.3rem 0;font-weight:600;color:var(--close)}
.buttons{display:flex;flex-wrap:wrap;gap:.5rem;margin:.5rem 0}
.fields{display:grid;align-items:end;grid-template-columns:repeat(auto-fit,minmax(min(100%,13rem),1fr));gap:.5rem 1rem}
.fields>button{margin:.4rem 0}
.field{display:grid;gap:.2rem;margin:.4rem 0}
.field input,.field select{font:inherit;color:var(--ink);background:var(--paper);min-height:2.75rem;
padding:.3rem .6rem;border:1px solid var(--ink);border-radius:.35rem;width:100%;max-width:20rem}
.error{color:var(--alarm);font-weight:600}
.error:empty{display:none}
fieldset{border:1px solid var(--quiet);border-radius:.35rem;margin:.8rem 0;padding:.3rem .8rem .6rem;min-width:0}
legend{font-weight:600;padding:0 .3rem}
button[aria-pressed=true]{background:var(--ink);color:var(--paper)}
#run{min-width:7rem;font-weight:650}
#quarters{width:1.4rem;height:1.4rem;vertical-align:middle}
.told table{width:100%}
.told tr[hidden]{display:none}
.told .pressed{color:var(--quiet)}
.buttons .field{margin:0;grid-auto-flow:column;align-items:center;gap:.5rem}
.happen{display:grid;grid-template-columns:repeat(auto-fit,minmax(min(100%,14.5rem),1fr));gap:0 1rem;align-items:start}
.happen h2{grid-column:1/-1}
#raw{max-height:20rem;overflow:auto;background:var(--band);padding:.5rem;font-size:.8rem}
#play-rules{border-top:2px solid var(--ink);margin-top:2rem}
#play-rules>summary{font-size:1.25rem;font-weight:600}
.sky-day{fill:var(--day)}.sky-civil{fill:var(--civil)}.sky-nautical{fill:var(--nautical)}.sky-night{fill:var(--night)}
.lit{fill:var(--alarm)}
#chart text{font-size:14.5px;fill:var(--ink)}
#chart .halo{stroke:var(--halo);stroke-width:4px;paint-order:stroke}
#chart line,#chart polyline{fill:none;stroke:var(--ink)}
#chart .grid{stroke:var(--faint);stroke-width:1px}
#chart .clear{stroke:var(--quiet);stroke-width:1.2px;stroke-dasharray:5 4}
#chart .level{stroke:var(--third);stroke-width:1.4px;stroke-dasharray:2 3}
#chart .light{stroke:var(--close);stroke-width:2.5px}
#chart .strip{fill:var(--open)}
#chart .window{fill:var(--band)}
#chart .planned{stroke-width:2px}
#chart .hand{stroke:var(--alarm);stroke-width:1.5px}
@media (min-width:50rem){.play{grid-template-columns:minmax(0,1fr) minmax(0,1fr);grid-template-rows:auto auto 1fr}
.asked,.happen,.told{grid-column:1/-1}.front{position:static}.drawn{grid-column:2;grid-row:2/span 2}
.drawn h2,.now-words h2{margin-top:.4rem;border:0;padding:0}html{scroll-padding-top:0}}
@media (max-width:34rem){.told td[data-label]:nth-child(n+3)::before{display:block}.told td:empty{display:none}}
@media print{.asked,.happen,.said,.drawn .field,#raw-log,.told p:has(#quarters),#play-rules{display:none}
.play{display:block}.front{position:static}#scene,#chart{max-width:11cm}}
"""


PLAY_STYLE = _OWN.replace("FONT", FONT)
