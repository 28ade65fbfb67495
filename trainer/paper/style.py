"""How the lesson page looks: black on white, A4, no picture or font from elsewhere."""

STYLE = """
@page { size: A4; margin: 13mm 15mm; }
* { box-sizing: border-box; }
body { max-width: 180mm; margin: 8mm auto; padding: 0 2mm; color: #111; background: #fff;
  font: 9.5pt/1.35 "Noto Sans", "DejaVu Sans", Helvetica, Arial, sans-serif; }
h1 { font-size: 14pt; overflow-wrap: anywhere; margin: 0; }
h2 { font-size: 10.5pt; margin: 3mm 0 1mm; border-bottom: 0.3mm solid #111; break-after: avoid; }
p { margin: 0.6mm 0; overflow-wrap: anywhere; }
.counts { list-style: none; display: flex; flex-wrap: wrap; gap: 0 5mm; margin: 1mm 0; padding: 0; }
.counts strong { font-size: 12pt; }
hr { border: 0; border-bottom: 0.2mm solid #888; margin: 8.1mm 0 0; }
.next { border: 0.5mm solid #111; padding: 2mm 3mm; margin: 3mm 0 0; }
.next h2 { border: 0; margin: 0; }
.next strong { font-size: 11pt; }
.small { font-size: 8.5pt; color: #444; }
.pair { display: grid; grid-template-columns: 88mm 1fr; gap: 0 5mm; }
section, figure, tr { break-inside: avoid; }
figure { margin: 0; }
section + section h2 { margin-top: 3mm; }
svg { width: 100%; height: auto; display: block; }
table { border-collapse: collapse; width: 100%; }
th, td { text-align: left; padding: 0.5mm 2mm 0.5mm 0; vertical-align: baseline; }
th { white-space: nowrap; font-weight: 600; font-size: 8.5pt; border-bottom: 0.2mm solid #888; }
td.name { overflow-wrap: anywhere; }
td.together { white-space: nowrap; }
ul { margin: 0.5mm 0; padding-left: 4mm; }
li { overflow-wrap: anywhere; }
@media screen and (max-width: 640px) {
  .pair { grid-template-columns: minmax(0, 1fr); } .pencil { display: none; }
  th { white-space: normal; vertical-align: bottom; } td.together { white-space: normal; }
}
@media print { body { margin: 0; padding: 0; max-width: none; font-size: 9pt; line-height: 1.27; } }
"""
