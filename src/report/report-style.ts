/** How the report looks; colours keep a contrast of 4.5 : 1 and more on white and on dark. */

export const REPORT_STYLE = `
:root { color-scheme: light dark; --ink: #1b1b1b; --paper: #ffffff; --faint: #5a5a5a; --rule: #c9c9c9; --bad: #b00020; --good: #0b6b2e; --open: #8a5a00; --first: #005a9c; --second: #a03c00; }
@media (prefers-color-scheme: dark) { :root { --ink: #ececec; --paper: #181818; --faint: #b0b0b0; --rule: #4a4a4a; --bad: #ff8a96; --good: #74d694; --open: #ffc862; --first: #7cc4ff; --second: #ffa775; } }
body { margin: 0; background: var(--paper); color: var(--ink); font: 16px/1.45 system-ui, sans-serif; overflow-wrap: anywhere; }
main, footer { max-width: 60rem; margin: 0 auto; padding: 1rem; }
h1 { font-size: 1.5rem; } h2 { font-size: 1.2rem; margin-top: 2rem; } h3 { font-size: 1rem; }
table { border-collapse: collapse; width: 100%; } th, td { text-align: left; vertical-align: top; padding: .3rem .6rem .3rem 0; border-bottom: 1px solid var(--rule); }
th { font-weight: 600; } td p { margin: 0; } td ul { margin: .2rem 0; padding-left: 1.1rem; }
.number { white-space: nowrap; font-variant-numeric: tabular-nums; } .scroll { overflow-x: auto; }
thead th { overflow-wrap: normal; } .features th, .features td { overflow-wrap: break-word; } .features th { min-width: 4rem; }
.outside { color: var(--bad); } .inside { color: var(--good); } .cannot-tell { color: var(--open); }
.safety { border: 2px solid var(--bad); padding: 0 1rem; }
figure { margin: 1rem 0; } img { max-width: 100%; height: auto; } figcaption, footer { color: var(--faint); }
.chart { width: 100%; height: auto; font-size: 13px; fill: var(--ink); } .chart-title { font-weight: 600; }
.chart .rule { stroke: var(--rule); } .chart .zero { stroke: var(--faint); stroke-width: 1.5; }
.chart text { fill: var(--ink); } .chart .slope { stroke: var(--faint); stroke-dasharray: 2 3; }
.chart .line { fill: none; stroke-width: 1.5; } .chart .band { opacity: .18; stroke: none; }
.forward .line, .forward .reach { stroke: var(--first); } .forward circle, .forward .band { fill: var(--first); }
.reverse .line, .reverse .reach { stroke: var(--second); } .reverse .line { stroke-dasharray: 5 3; } .reverse .band { fill: var(--second); }
.reverse rect { fill: var(--paper); stroke: var(--second); stroke-width: 1.5; }
.chart .limit { stroke: var(--bad); stroke-dasharray: 8 4; } .chart .control { stroke: var(--faint); stroke-dasharray: 1 4; } .trend { stroke: var(--first); stroke-width: 2; } .breaks line { stroke: var(--open); stroke-width: 1.5; }
.nominal line { stroke: var(--rule); } .nominal circle { fill: none; stroke: var(--faint); } .nominal .unseen { stroke: var(--bad); stroke-width: 2; } .zone circle { fill: none; stroke: var(--faint); stroke-dasharray: 4 3; } .error .tip { fill: var(--second); stroke: var(--second); } .error path.tip { fill: var(--paper); stroke-width: 2; } .error rect.tip { fill: var(--bad); stroke: var(--bad); } .actual path { fill: none; stroke: var(--first); stroke-width: 1.6; }
.error line { stroke: var(--second); stroke-width: 1.2; } .error circle { fill: var(--second); } .bar line { stroke: var(--ink); stroke-width: 1.5; }
.bars rect { fill: var(--first); opacity: .55; } .chart .curve { fill: none; stroke: var(--second); stroke-width: 1.5; }
.share { width: 8rem; height: .9rem; display: block; } .share rect { stroke: var(--paper); stroke-width: .5; }
.source-0 { fill: var(--first); } .source-1 { fill: var(--second); } .source-2 { fill: var(--faint); } .source-3 { fill: var(--good); } .source-4 { fill: var(--open); }
.verdict { font-size: 1.15rem; font-weight: 600; } .digest { overflow-wrap: anywhere; }
.zoom { display: inline-block; padding: .2rem 0; } .photo:has(.zoom input:checked) img { max-width: none; }
summary { cursor: pointer; } :focus-visible { outline: 2px solid var(--first); outline-offset: 2px; }
@media (max-width: 40rem) { .chart { min-width: 30rem; } .quantities thead { position: absolute; clip-path: inset(50%); } .quantities, .quantities tbody, .quantities tr, .quantities th, .quantities td { display: block; border: 0; padding: 0; } .quantities tr { border-bottom: 1px solid var(--rule); padding: .5rem 0; } }
@page { margin: 15mm; }
@media print { .features th, .features td { overflow-wrap: anywhere; } :root { --ink: #000; --paper: #fff; --faint: #444; --bad: #900018; --good: #064; --open: #640; --first: #004a80; --second: #803000; --rule: #999; color-scheme: light; } .zoom { display: none; } body { font-size: 10pt; } main, footer { max-width: none; padding: 0; } h2, h3 { break-after: avoid; } tr, figure, .chart, .safety, li { break-inside: avoid; } img { max-height: 22cm; } .scroll { overflow: visible; } .number { white-space: normal; } }
`;
