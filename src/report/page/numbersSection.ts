import type { Explanation, LineView } from '../../core/explanation.js'
import type { RecommendationData } from '../../model/events.js'
import { factsOf } from '../facts.js'
import { LINE_HEADS, lineCells, sayMissing } from '../lineCells.js'
import { type Markup, markup } from '../markup.js'
import { liveRecommendation, sayProbability } from '../say.js'
import { CAUSE_TEXT, LINE_TEXT } from '../words.js'

/** Bias, onset, causes, forecast and the lines of evidence. */
export function numbersSection(explanation: Explanation): Markup {
  const live = liveRecommendation(explanation)
  return markup`<section aria-labelledby="numbers">
<h2 id="numbers">Numbers</h2>
<dl class="facts">${factsOf(explanation).map(
    ({ label, value }) => markup`<div><dt>${label}</dt><dd>${value}</dd></div>\n`,
  )}</dl>
${live === undefined ? undefined : causes(live)}
${hypotheses(explanation)}
${linesTable(explanation.lines)}
</section>`
}

function causes({ cause: { ranked, because } }: RecommendationData): Markup {
  return markup`<table class="narrow-table">
<caption>Causes, most probable first</caption>
<thead><tr><th scope="col">Cause</th><th scope="col" class="number">Probability</th></tr></thead>
<tbody>${ranked.map(
    ({ cause, probability }) =>
      markup`<tr><th scope="row">${CAUSE_TEXT[cause]}</th><td class="number">${sayProbability(probability)}</td></tr>\n`,
  )}</tbody>
</table>
${because.length === 0 ? undefined : markup`<h3>Because</h3>\n<ul>${because.map(reason => markup`<li>${reason}</li>`)}</ul>`}`
}

function hypotheses({ hypotheses }: Explanation): Markup | undefined {
  if (hypotheses.length === 0) return undefined
  return markup`<table class="narrow-table">
<caption>Explanations that were weighed</caption>
<thead><tr><th scope="col">Explanation</th><th scope="col" class="number">Probability</th></tr></thead>
<tbody>${hypotheses.map(
    ({ text, probability }) =>
      markup`<tr><th scope="row">${text}</th><td class="number">${sayProbability(probability)}</td></tr>\n`,
  )}</tbody>
</table>`
}

/** Cells say their column themselves, so that on a telephone each line can stand as a block of its own. */
function linesTable(lines: readonly LineView[]): Markup {
  return markup`<table class="stacked" role="table">
<caption>Lines of evidence</caption>
<thead role="rowgroup"><tr role="row">${Object.values(LINE_HEADS).map(
    head => markup`<th scope="col" role="columnheader">${head}</th>`,
  )}</tr></thead>
<tbody role="rowgroup">${lines.map(lineRow)}</tbody>
</table>`
}

function lineRow(view: LineView): Markup {
  const cells = lineCells(view)
  const head = markup`<th scope="row" role="rowheader">${LINE_TEXT[view.line]}</th>`
  if (cells === undefined) {
    return markup`<tr role="row">${head}${cell('against', view.against)}<td role="cell" colspan="5" data-label="Says nothing">${sayMissing(view)}</td></tr>\n`
  }
  return markup`<tr role="row">${head}${VALUE_COLUMNS.map(column => cell(column, cells[column]))}</tr>\n`
}

const VALUE_COLUMNS = ['against', 'values', 'differenceNtu', 'sum', 'falseSignal', 'leftOut'] as const

function cell(column: (typeof VALUE_COLUMNS)[number], text: string): Markup {
  return markup`<td role="cell" data-label="${LINE_HEADS[column]}">${text}</td>`
}
