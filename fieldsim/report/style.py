"""The look of a report's page: light and dark, screen, phone and paper."""

from __future__ import annotations

from fieldsim.report.themed_svg import DARK, LIGHT

__all__ = ["page_style"]

_PAGE_LIGHT = {"page": "#f4f2ec", "edge": "#d8d3c7", "accent": "#0e6554", "warm": "#8a3d09",
               "wash": "#e4efe9"}  # fmt: skip
_PAGE_DARK = {"page": "#11171d", "edge": "#36424f", "accent": "#6fd6bf", "warm": "#ffb27d",
              "wash": "#17302c"}  # fmt: skip

_RULES = """
*{box-sizing:border-box}
html{color-scheme:light dark;scroll-behavior:smooth;-webkit-text-size-adjust:100%}
body{margin:0;background:var(--page);color:var(--ink);
 font:16px/1.55 "Segoe UI","Noto Sans","DejaVu Sans",system-ui,sans-serif;overflow-wrap:anywhere}
main,header,footer{max-width:74rem;margin:0 auto;padding:0 1rem}
header{padding-top:1.6rem}
h1{font-size:clamp(1.5rem,4.4vw,2.3rem);line-height:1.15;margin:.1em 0 .35em}
h2{font-size:clamp(1.3rem,3.4vw,1.75rem);line-height:1.2;margin:2.2em 0 .6em;padding-top:.5em;
 border-top:3px solid var(--accent)}
h3{font-size:1.15rem;margin:1.9em 0 .6em}
a{color:var(--accent)}
.kicker{margin:0;font-size:.82rem;letter-spacing:.06em;color:var(--soft)}
.card{background:var(--card);border:1px solid var(--edge);border-radius:.7rem;
 padding:1rem 1.1rem 1.1rem;margin:0 0 1rem}
.card>h2{border:0;margin:0 0 .5em;padding:0;font-size:1.2rem}
.answers{display:grid;grid-template-columns:repeat(auto-fit,minmax(min(17rem,100%),1fr));gap:1.1rem;
 margin:0}
.answers>div{border-left:4px solid var(--accent);padding-left:.8rem}
.answers dt{font-size:.86rem;color:var(--soft)}
.answers dd{margin:0}
.answers .short{font-size:1.18rem;font-weight:700;line-height:1.3}
.numbers{display:flex;flex-wrap:wrap;gap:.7rem;list-style:none;margin:1.1rem 0 0;padding:0}
.numbers li{flex:1 1 8.4rem;background:var(--wash);border-radius:.5rem;padding:.5rem .75rem;
 font-size:.84rem;line-height:1.3}
.numbers strong{display:block;font-size:1.35rem;font-variant-numeric:tabular-nums;line-height:1.25}
nav ul{display:flex;flex-wrap:wrap;gap:.2rem 1.1rem;list-style:none;padding:0;margin:.4rem 0 1rem;
 font-size:.92rem}
nav a{display:inline-block;padding:.25rem 0}
.grid{display:grid;grid-template-columns:minmax(0,1fr);gap:1rem;margin:0 0 1rem;align-items:start}
.grid>*,.stack>*{margin:0;min-width:0}
.stack{display:contents}
figure{margin:0;padding:.6rem .6rem .5rem;border:1px solid var(--edge);border-radius:.7rem;
 background:var(--card);max-width:36rem}
figure svg{display:block;width:100%;height:auto}
figure svg *{stroke-linejoin:round;stroke-linecap:butt}
figcaption{font-size:.86rem;margin-top:.4rem;color:var(--soft)}
.grid ul{padding-left:1.1rem;margin-top:0}.grid li+li{margin-top:.3rem}
.grid .legend{display:flex;flex-wrap:wrap;gap:.3rem 1.2rem;list-style:none;padding:0;
 font-size:.9rem}
.legend li+li{margin:0}
.swatch{display:inline-block;width:1rem;height:1rem;margin-right:.4rem;vertical-align:-.15rem;
 border:1px solid var(--ink);border-radius:.15rem}
.table{margin:0 0 1.2rem;min-width:0}
.scroll{overflow-x:auto;border:1px solid var(--edge);border-radius:.7rem;background:var(--card)}
table{border-collapse:collapse;width:100%;font-size:.88rem;font-variant-numeric:tabular-nums}
caption{text-align:left;font-weight:700;padding:.65rem .8rem .3rem;font-size:.95rem}
td{white-space:nowrap}
th,td{padding:.36rem .6rem;text-align:right;border-top:1px solid var(--edge);vertical-align:top}
th,td{font-weight:600;overflow-wrap:normal}td{font-weight:400}
th:first-child{text-align:left;padding-left:.8rem;overflow-wrap:anywhere;min-width:7.5rem}
thead th{color:var(--soft);border-top:0;vertical-align:bottom}
.files{font-size:.82rem;margin:.35rem 0 0;color:var(--soft)}
.cautions{list-style:none;padding:0;margin:0}
.cautions li{border-left:4px solid var(--warm);background:var(--card);padding:.5rem .8rem;
 margin:0 0 .5rem;border-radius:0 .5rem .5rem 0}
.absent{background:var(--card);border:1px dashed var(--edge);border-radius:.7rem;padding:.8rem 1rem}
.failed{border-left:4px solid var(--warm)}
pre{white-space:pre-wrap;background:var(--card);border:1px solid var(--edge);border-radius:.7rem;
 padding:.8rem 1rem;font-size:.82rem;line-height:1.45}
code{font-family:"DejaVu Sans Mono",ui-monospace,Consolas,monospace}
footer{padding-top:2rem;padding-bottom:3rem;font-size:.85rem;color:var(--soft)}
:focus-visible{outline:3px solid var(--accent);outline-offset:2px}
@media (prefers-reduced-motion:reduce){html{scroll-behavior:auto}}
@media (max-width:30rem){body{font-size:15px}main,header,footer{padding-left:.75rem;
 padding-right:.75rem}.card{padding:.8rem}figure{padding:.4rem .3rem}th,td{padding:.32rem .4rem}
 .numbers li{flex-basis:6.6rem}table{font-size:.82rem}}
@media (min-width:48rem){.grid{grid-template-columns:repeat(2,minmax(0,1fr))}
 .two,.whole{grid-column:1/-1}}
@media (min-width:72rem){.grid{grid-template-columns:repeat(3,minmax(0,1fr))}
 .stack{display:block}.stack>*+*{margin-top:1rem}
 .two{grid-column:span 2}.two:nth-child(3n+1):last-child{grid-column:1/-1}}
@page{margin:14mm}
@media print{
html{font-size:13px}
body{background:#fff;font-size:9.5pt;line-height:1.4;orphans:3;widows:3}
main,header,footer{max-width:none;padding:0 .5mm}
header{padding-top:0}
nav,.files,footer{display:none}
h1{font-size:18pt}h2{font-size:14pt;margin-top:1.2em}h3{font-size:11.5pt;margin-top:1.3em}
h1,h2,h3,caption,thead,h2+p,h3+p:not(.absent){break-after:avoid}
h1,h2,h3,figure,tr,li,dl,.card,.card *{break-inside:avoid}
section>p,.grid>div:not(.table,.stack),.table:not(:has(tr:nth-of-type(9))){break-inside:avoid}
.chapter+.chapter{break-before:page}
.card{padding:.7rem .8rem .8rem;margin-bottom:.7rem}
.answers{grid-template-columns:repeat(3,1fr)}
.numbers{margin-top:.6rem;gap:.4rem}.numbers li{padding:.3rem .5rem;flex:1 1 28mm}
.grid{grid-template-columns:repeat(2,minmax(0,1fr));gap:4mm 5mm}
.two,.whole{grid-column:1/-1}section[id$="-levers"] .two{grid-column:auto}
.stack{display:contents}.stack>*+*{margin:0}
section[id$="-machine"] figure:nth-of-type(n+3){order:1}section[id$="-machine"] .two{order:2}
figure{max-width:none;padding:0;border:0}
.card{border-color:#bbb}
.scroll{overflow:visible;border:0;border-radius:0;background:none}
table{font-size:8pt;border-top:1px solid #999;border-bottom:1px solid #999}
caption,th:first-child{padding-left:.1rem}
td,th{padding:.25rem .35rem}th:first-child{min-width:22mm}
section[id$="-levers"] :is(th,td){padding:.25rem}
section[id$="-levers"] th:first-child{min-width:29mm}
.swatch,.numbers li{print-color-adjust:exact;-webkit-print-color-adjust:exact}
pre{font-size:8pt;line-height:1.3;border:0;border-left:2px solid #bbb;border-radius:0;padding:.2rem .8rem}
pre{margin-bottom:0}
}
"""

# A table that is wider than the screen: a block for each row, every cell with its column's name.
_BLOCKS = """
ROOMS table,ROOMS tbody,ROOMS caption,ROOMS tbody th{display:block}
ROOMS thead{position:absolute;width:1px;height:1px;overflow:hidden;clip-path:inset(50%)}
ROOMS tbody tr{border-top:1px solid var(--edge);padding:.35rem 0 .45rem;display:grid;
 grid-template-columns:1fr 1fr}
ROOMS tbody :is(th,td){border:0;padding-top:.1rem;padding-bottom:.1rem}
ROOMS tbody th{grid-column:1/-1}
ROOMS td{display:flex;justify-content:space-between;gap:.5rem;white-space:normal}
ROOMS td::before{content:attr(data-name);color:var(--soft);text-align:left}
"""


def page_style() -> str:
    """Return the style sheet; paper always takes the light colours."""
    light = _variables({**LIGHT, **_PAGE_LIGHT})
    dark = _variables({**DARK, **_PAGE_DARK})
    return (
        f":root{{{light}}}\n@media screen and (prefers-color-scheme:dark){{:root{{{dark}}}}}"
        f"{_RULES}"
        f"@media screen and (max-width:71.99rem){{{_BLOCKS.replace('ROOMS', '.whole')}}}\n"
        f"@media screen and (max-width:47.99rem){{{_BLOCKS.replace('ROOMS', '.two')}}}\n"
    )


def _variables(colours: dict[str, str]) -> str:
    return ";".join(f"--{name}:{colour}" for name, colour in colours.items())
