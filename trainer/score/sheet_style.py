"""How a sheet looks: A4, black on white, large enough for a stand."""

from __future__ import annotations

STYLE = """
@page {
  size: A4;
  margin: 12mm 12mm 15mm 12mm;
  @bottom-left {
    font: italic 9pt Liberation, serif; color: #444; vertical-align: top; padding-top: 3mm
  }
  @bottom-right {
    content: counter(page) " / " counter(pages);
    font: 9pt Liberation, serif; color: #444; vertical-align: top; padding-top: 3mm
  }
}
* { box-sizing: border-box }
body { font: 11.5pt/1.35 Liberation, serif; color: black; margin: 0 auto; width: 186mm }
p { margin: 0 }
h1 { font-size: 22pt; line-height: 1.1; margin: 0 0 1.5mm 0; font-weight: bold }
header { border-bottom: 0.5pt solid black; padding-bottom: 3mm; margin-bottom: 5mm }
.facts { color: #333 }
.words { font-style: italic; margin-top: 1mm }
div.sheet { break-after: page }
section.exercise { margin-bottom: calc(6mm + var(--gap, 0mm)); break-inside: avoid }
.opening { break-inside: avoid }
h2 { font-size: 14.5pt; line-height: 1.2; margin: 0 0 0.6mm 0; break-after: avoid }
h2 .number {
  display: inline-block; min-width: 7mm; font-weight: normal; color: #444;
}
h2 .tempo { float: right; font-weight: normal; font-size: 13pt; white-space: nowrap }
.value { vertical-align: -0.6mm }
.rounds, .exercise .words, .same { padding-left: 7mm }
.rounds i { color: #333; padding-left: 0.5mm }
.detail { font-size: 10pt; color: #333 }
.round { white-space: nowrap; padding-right: 3.5mm }
.dot { color: #777 }
.line { break-inside: avoid; margin-top: 3mm }
.line + .line { margin-top: 2.5mm }
svg.system { display: block; overflow: visible }
.pattern { display: inline-block; vertical-align: top; break-inside: avoid; margin: 2mm 6mm 0 0 }
.pattern .line { margin-top: 1mm }
.same { font-style: italic; margin-top: 1mm }
.rest {
  border-top: 0.5pt solid #888; border-bottom: 0.5pt solid #888; padding: 1.6mm 0 1.6mm 7mm;
  margin: 0 0 6mm 0; break-inside: avoid
}
.exercise .rest { margin: 4mm 0 0 0 }
.rest i { padding-left: 3mm }
.reading {
  border-left: 2pt solid #888; padding: 0 0 0 5mm; margin: 0 0 7mm 7mm; break-inside: avoid
}
.changes { margin: 3mm 0 0 7mm; break-inside: avoid }
.change { display: inline-block; width: 57mm; vertical-align: top; margin: 0 1.5mm 2mm 0 }
.change > b { float: left; width: 4mm; font-size: 12pt }
.change svg { display: inline-block }
.changes .key { font-size: 8.5pt; color: #444; font-style: italic }
.change p { font-size: 8.5pt; line-height: 1.2; padding-left: 4mm; color: #222 }
body.tight section.exercise { margin-bottom: 4mm }
body.tight .line { margin-top: 1.5mm }
body.tight .line + .line { margin-top: 1mm }
body.tight header { padding-bottom: 2mm; margin-bottom: 3mm }
body.tight .rest { padding: 1mm 0 1mm 7mm; margin-bottom: 4mm }
body.tight .changes { margin-top: 1.5mm }
body.tight .change { margin-bottom: 0 }
@media screen { body { padding: 12mm 0; } html { background: white } }
"""
