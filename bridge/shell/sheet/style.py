"""Knows: how the sheet looks, on screen and on A4.

Must never know: what is on it.
"""

STYLE = """
@page { size: A4; margin: 11mm 12mm 13mm;
  @bottom-left { font: 7pt sans-serif;
    content: "A planning aid: the local code and the makers' sheets decide."; }
  @bottom-right { font: 7pt sans-serif; content: "sheet " counter(page) " of " counter(pages); } }
* { box-sizing: border-box; }
html { background: #e8e8e8; color: #000; font: 8.5pt/1.2 Arial, Helvetica, "Liberation Sans", sans-serif; }
body { width: 210mm; margin: 0 auto; padding: 11mm 12mm; background: #fff; overflow-wrap: anywhere; }
h1 { font-size: 15pt; margin: 0; line-height: 1.1; }
h2 { font-size: 10pt; margin: 2.5mm 0 1mm; border-bottom: 0.35mm solid #000; break-after: avoid; }
h3 { font-size: 9pt; margin: 1.2mm 0 0.6mm; break-after: avoid;
  display: flex; align-items: center; gap: 3mm; }
header { margin-bottom: 1.5mm; }
.top { display: flex; justify-content: space-between; gap: 6mm; align-items: baseline; }
.top p { margin: 0; flex: none; max-width: 70%; text-align: right; }
.sign-off { display: flex; gap: 2mm; margin-top: 1.5mm; align-items: flex-end; }
.sign-off span { border-bottom: 0.25mm solid #000; flex: 1; min-height: 4.4mm; }
.warn { border: 0.7mm solid #000; padding: 1mm 2mm; margin: 1.5mm 0; break-inside: avoid; }
.warn ul { margin: 0.5mm 0 0; padding-left: 4mm; }
figure { margin: 0; break-inside: avoid; }
figure > svg { display: block; max-width: 100%; border: 0.25mm solid #777; }
figcaption { font-size: 7.5pt; margin-top: 0.8mm; }
.key { white-space: nowrap; margin-right: 2.5mm; }
svg text { text-anchor: middle; font-family: inherit; fill: #000; }
svg .slot { font-weight: bold; }
svg .lamp { stroke: #000; stroke-width: 0.35; }
svg .ring1 { stroke-dasharray: 1.2 0.6; stroke-width: 0.5; } svg .ring2 { stroke-width: 0.9; }
svg .ring3 { stroke-dasharray: 0.4 0.5; stroke-width: 0.6; }
.pair { display: flex; gap: 4mm; align-items: flex-start; break-inside: avoid; }
.part { break-inside: auto; }
.pair table { flex: 1 1 0; min-width: 0; }
.pair table:only-child { max-width: calc(50% - 2mm); }
table { border-collapse: collapse; width: 100%; table-layout: fixed; }
th { font-size: 6.5pt; text-align: left; font-weight: bold; padding: 0 0.8mm; }
td { border: 0.2mm solid #555; padding: 0 0.8mm; vertical-align: middle; height: 4.8mm; }
th:nth-child(1), td.tick { width: 8mm; text-align: center; }
th:nth-child(2) { width: 8.5mm; } .wide th:nth-child(2) { width: 15mm; }
td.slot { font-weight: bold; font-size: 9.5pt; }
.boxed th:nth-child(3) { width: 11mm; }
.bare th:nth-child(3) { width: 23.5mm; }
th:nth-child(5) { width: 10.5mm; } th:nth-child(6) { width: 11mm; } td.amps { white-space: nowrap; }
.cables th:nth-child(2) { width: 34mm; } .cables th:nth-child(5) { width: 16mm; }
.cables th:nth-child(6) { width: 32mm; } .cables th:nth-child(7) { width: 18mm; }
td.lamp { font-weight: bold; } .kind { font-weight: normal; font-size: 7pt; color: #333; }
.box { display: inline-block; width: 3.6mm; height: 3.6mm; border: 0.4mm solid #000; vertical-align: middle; }
.swatch { display: inline-block; min-width: 6mm; text-align: center; font-size: 7.5pt; line-height: 1.15;
  border: 0.2mm solid #000; }
.dip { font-weight: normal; display: inline-flex; align-items: center; gap: 1.5mm; white-space: nowrap; }
.switches { display: block; width: 21mm; height: 4.1mm; } .dip-none { font-size: 6.5pt; }
.well { fill: #fff; stroke: #000; stroke-width: 0.2; } .on { fill: #000; }
.off { fill: #fff; stroke: #000; stroke-width: 0.25; }
.supply { display: grid; grid-template-columns: 58mm 1fr; gap: 0 3mm; margin: 0.5mm 0;
  break-inside: avoid; }
.supply .who { align-self: center; } .supply .sum { grid-column: 1 / -1; font-size: 7.5pt; }
.bar { max-width: 100%; display: block; }
.connected { fill: #fff; stroke: #000; stroke-width: 0.25; stroke-dasharray: 1 0.7; }
.worst { fill: #ccc; } .typical { fill: #555; } .frame { fill: none; stroke: #000; stroke-width: 0.4; }
.budget { stroke: #000; stroke-width: 0.8; }
.legend { font-size: 7pt; margin: 0.5mm 0 0; }
.cautions { columns: 2; column-gap: 5mm; margin: 0; padding-left: 4mm; font-size: 7.5pt; line-height: 1.2; }
.cautions li { break-inside: avoid; margin-bottom: 0.6mm; }
.last { break-inside: avoid; }
.note { font-size: 7pt; margin: 1mm 0 0; } .none { margin: 0; }
@media print { html { background: #fff; } body { width: auto; padding: 0; } .note { display: none; } }
@media screen and (max-width: 210mm) { body { width: auto; } }
"""
"""Print first: black on white, nothing told by colour alone, no text smaller than 6.5 pt."""
