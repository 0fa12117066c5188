"""Knows: how a report looks, on a laptop, on a phone and on paper.

Must never know: what is in it.
"""

STYLE = """
@page { size: A4; margin: 11mm 12mm 13mm; }
* { box-sizing: border-box; }
html { background: #e8e8e8; color: #000; color-scheme: light; -webkit-text-size-adjust: 100%;
  font: 11pt/1.35 Arial, Helvetica, "Liberation Sans", sans-serif; }
body { max-width: 230mm; margin: 0 auto; padding: 8mm 10mm; background: #fff; overflow-wrap: anywhere; }
h1 { font-size: 17pt; margin: 0; line-height: 1.1; }
h2 { font-size: 12.5pt; margin: 8mm 0 2mm; border-bottom: 0.35mm solid #000; break-after: avoid; }
p { margin: 1.5mm 0; }
.top { display: flex; flex-wrap: wrap; justify-content: space-between; gap: 1mm 6mm; align-items: baseline; }
.top p { margin: 0; }
.warn { border: 0.7mm solid #000; padding: 1.5mm 3mm; margin: 3mm 0; break-inside: avoid; }
.warn ul { margin: 0.5mm 0 0; padding-left: 5mm; }
.verdict { border-left: 2.5mm solid #000; padding: 1mm 0 1mm 4mm; margin: 4mm 0; font-size: 12.5pt; }
.verdict.unsteady { border-left-color: #a34700; }
.verdict p { margin: 0 0 1mm; }
.verdict .short { font-size: 11pt; }
.figures { display: grid; grid-template-columns: repeat(auto-fit, minmax(27mm, 1fr)); gap: 2mm; margin: 3mm 0;
  padding: 0; }
.figures div { border: 0.25mm solid #777; padding: 1.2mm 2mm; display: flex; flex-direction: column-reverse;
  justify-content: flex-end; }
.figures dt { font-size: 9pt; color: #333; } .figures dd { margin: 0; font-size: 14pt; font-weight: bold; }
figure { margin: 2mm 0; break-inside: avoid; }
figcaption, .axis-name { font-size: 9.5pt; margin: 1.5mm 0 2mm; }
.unseen { position: absolute; width: 1px; height: 1px; overflow: hidden; clip-path: inset(50%); }
.charts { display: grid; grid-template-columns: repeat(auto-fit, minmax(75mm, 1fr)); gap: 2mm 6mm; }
.charts figure { margin: 1mm 0; min-width: 0; display: flex; flex-direction: column;
  justify-content: flex-end; }
.plot { display: grid; grid-template: 26mm 5mm / 13mm minmax(0, 1fr); padding-right: 4mm; font-size: 8pt; }
.plot.low { grid-template-rows: 20mm 5mm; }
.plot.strip { grid-template-rows: 3mm 0; } .plot.strip.axis { grid-template-rows: 4.5mm 5mm; }
.plot svg { width: 100%; height: 100%; border: 0.25mm solid #777; background: #fff; display: block; }
.ys, .xs { position: relative; } .xs { grid-column: 2; }
.ys span, .xs span { position: absolute; white-space: nowrap; line-height: 1; }
.ys span { right: 1.2mm; transform: translateY(50%); }
.xs span { top: 1mm; transform: translateX(-50%); } .xs span.end { transform: translateX(-90%); }
.bar { fill: #4d4d4d; } .notes { fill: #7d93a8; }
.late { fill: #c25a00; stroke: #000; stroke-width: 1.5; vector-effect: non-scaling-stroke; }
.strip .late { stroke-width: 0.4; }
.up { fill: #4d4d4d; } .opening { fill: #c9c9c9; } .down { fill: #fff; }
.grid, .level, .limit { stroke: #d0d0d0; stroke-width: 1; vector-effect: non-scaling-stroke; }
.level { stroke: #000; stroke-dasharray: 2 3; }
.limit { stroke: #000; stroke-dasharray: 5 3; stroke-width: 1.5; }
.wide { overflow-x: auto; }
table { border-collapse: collapse; width: 100%; font-size: 9.5pt; margin: 2mm 0; }
caption { text-align: left; font-weight: bold; font-size: 9.5pt; padding-bottom: 0.5mm; }
th, td { overflow-wrap: break-word; border: 0.2mm solid #777; padding: 0.6mm 1.5mm; text-align: left;
  vertical-align: top;
  font-variant-numeric: tabular-nums; }
thead th { background: #eee; font-size: 9pt; }
tbody th { font-weight: normal; }
tr { break-inside: avoid; }
details { margin: 1mm 0 2mm; } summary { font-size: 9.5pt; cursor: pointer; padding: 1mm 0; }
.note { font-size: 9pt; color: #333; }
footer { margin-top: 8mm; border-top: 0.35mm solid #000; padding-top: 1mm; }
@media (max-width: 600px) {
  body { padding: 4mm; }
  h1 { font-size: 15pt; } .figures dd { font-size: 12.5pt; }
  .charts { grid-template-columns: minmax(0, 1fr); }
  .plot { grid-template-columns: 11mm minmax(0, 1fr); padding-right: 2mm; }
  table { font-size: 9pt; } th, td { padding: 0.5mm 1mm; }
}
@media print {
  html { background: #fff; font-size: 9.5pt; } body { max-width: none; padding: 0; }
  details::details-content { content-visibility: visible; block-size: auto; } summary { display: none; }
}
"""
"""The sheet's look: black on white, framed, ruled; the one colour marks what came late, and has an edge."""
