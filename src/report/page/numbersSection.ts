import type { Explanation, LineView } from '../../core/explanation.js'
import type { RecommendationData } from '../../model/events.js'
import { isUndecided, namedCauses, shownHypotheses, type Weighed } from '../causes.js'
import { factsOf } from '../facts.js'
import { LINE_HEADS, lineCells, sayMissing } from '../lineCells.js'
import { type Markup, markup } from '../markup.js'
import { liveRecommendation, sayLine, sayProbability, sayReason, sayTime } from '../say.js'

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
${linesTable(explanation)}
</section>`
}

function causes(live: RecommendationData): Markup {
  const { because } = live.cause
  const undecided = isUndecided(live) ? '; not decided between them' : ''
  return markup`${probabilities(`Causes as known ${sayTime(live.known)}, most probable first${undecided}`, 'Cause', namedCauses(live))}
${because.length === 0 ? undefined : markup`<h3>Because</h3>\n<ul>${because.map(reason => markup`<li>${sayReason(reason)}</li>`)}</ul>`}`
}

function hypotheses(explanation: Explanation): Markup | undefined {
  const shown = shownHypotheses(explanation)
  return shown.length === 0 ? undefined : probabilities('Explanations that were weighed', 'Explanation', shown)
}

function probabilities(caption: string, head: string, rows: readonly Weighed[]): Markup {
  return markup`<table class="narrow-table">
<caption>${caption}</caption>
<thead><tr><th scope="col">${head}</th><th scope="col" class="number">Probability</th></tr></thead>
<tbody>${rows.map(
    ({ text, probability }) =>
      markup`<tr><th scope="row">${text}</th><td class="number">${sayProbability(probability)}</td></tr>\n`,
  )}</tbody>
</table>`
}

/** Cells say their column themselves, so that on a telephone each line can stand as a block of its own. */
function linesTable({ lines, grabs }: Explanation): Markup {
  return markup`<table class="stacked" role="table">
<caption>Lines of evidence</caption>
<thead role="rowgroup"><tr role="row">${Object.values(LINE_HEADS).map(
    head => markup`<th scope="col" role="columnheader">${head}</th>`,
  )}</tr></thead>
<tbody role="rowgroup">${lines.map(view => lineRow(view, grabs))}</tbody>
</table>`
}

function lineRow(view: LineView, grabs: Explanation['grabs']): Markup {
  const cells = lineCells(view, grabs)
  const head = markup`<th scope="row" role="rowheader">${sayLine(view)}</th>`
  if (cells === undefined) {
    return markup`<tr role="row">${head}<td role="cell" colspan="5" data-label="Says nothing">${sayMissing(view)}</td></tr>\n`
  }
  return markup`<tr role="row">${head}${VALUE_COLUMNS.map(column => cell(column, cells[column]))}</tr>\n`
}

const VALUE_COLUMNS = ['values', 'differenceNtu', 'sum', 'falseSignal', 'leftOut'] as const

function cell(column: (typeof VALUE_COLUMNS)[number], text: string): Markup {
  return markup`<td role="cell" data-label="${LINE_HEADS[column]}">${text}</td>`
}
