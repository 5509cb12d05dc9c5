import { asMarkup, type Markup, markup } from '../markup.js'
import { DEFERENCE_TEXT } from '../words.js'
import type { VisitSheet } from './visitSheet.js'

/** One page of A4, black on white, with room to write. */
const STYLE = `
@page { size: A4; margin: 9mm 12mm; }
* { box-sizing: border-box; }
body { margin: 0 auto; max-width: 186mm; color: #000; background: #fff; font: 8.3pt/1.25 system-ui, "DejaVu Sans", Arial, sans-serif; }
h1 { font-size: 14pt; margin: 0 0 1mm; }
h2 { font-size: 9pt; margin: 1.8mm 0 0.6mm; border-bottom: 0.3mm solid #000; }
p, ul, ol { margin: 0.8mm 0; }
ul, ol { padding-left: 5mm; }
li { margin: 0.5mm 0; }
.why { font-size: 10pt; font-weight: 600; }
.meta { font-size: 8pt; }
.cautions { border: 0.6mm solid #000; padding: 0.5mm 2.5mm 1mm; margin-top: 2mm; }
.cautions h2 { border: 0; margin: 0.5mm 0; }
.two { columns: 2; column-gap: 6mm; }
.two li { break-inside: avoid; }
.boxes { list-style: none; padding-left: 0; }
.boxes li { display: grid; grid-template-columns: 5mm minmax(0, 1fr); }
.boxes li::before { content: ""; width: 3mm; height: 3mm; margin-top: 0.5mm; border: 0.3mm solid #000; }
.blanks { display: grid; grid-template-columns: 1fr 1fr; gap: 0 6mm; margin: 0; }
.blanks div { display: grid; grid-template-columns: 50mm 1fr; align-items: end; min-height: 6mm; }
.blanks dd { margin: 0; border-bottom: 0.3mm solid #000; height: 5.5mm; }
pre { margin: 0.8mm 0 0; padding: 1mm 2mm; border: 0.3mm solid #000; font: 6.6pt/1.35 ui-monospace, "DejaVu Sans Mono", monospace; white-space: pre-wrap; overflow-wrap: anywhere; }
`

/** The sheet as an HTML file that needs nothing else, for print. The same sheet gives the same bytes. */
export function renderVisitSheetPage(sheet: VisitSheet): string {
  const { title, why, facts, bring, cautions, steps, blanks, handBack, handBackNote } = sheet
  return markup`<!doctype html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<title>${title}</title>
<style>${asMarkup(STYLE)}</style>
</head>
<body>
<h1>${title}</h1>
<p class="why">${why}</p>
<p class="meta">${facts.join(' · ')}</p>
<div class="cautions" role="note" aria-labelledby="cautions">
<h2 id="cautions"><span aria-hidden="true">⚠ </span>Cautions</h2>
${list(cautions, 'two')}
</div>
<h2>Bring</h2>
${list(bring, 'boxes two')}
<h2>Steps, in this order</h2>
${list(
  steps.map((step, i) => `${String(i + 1)}. ${step}`),
  'boxes',
)}
<h2>Write down</h2>
<dl class="blanks">
${blanks.map(blank => markup`<div><dt>${blank}</dt><dd></dd></div>\n`)}</dl>
<h2>Hand back</h2>
<p>${handBackNote}</p>
${handBack === undefined ? undefined : markup`<pre>${[handBack.header, ...handBack.lines].map(line => markup`${line}\n`)}</pre>`}
<p class="meta">${DEFERENCE_TEXT}</p>
</body>
</html>
`.markup
}

function list(items: readonly string[], kind: string): Markup {
  return markup`<ul class="${kind}">
${items.map(one => markup`<li><span>${one}</span></li>\n`)}</ul>`
}
