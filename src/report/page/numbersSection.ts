import type { Explanation, LineView } from '../../core/explanation.js'
import type { RecommendationData } from '../../model/events.js'
import { factsOf } from '../facts.js'
import { type Markup, markup } from '../markup.js'
import { liveRecommendation, saySigned, sayProbability, sayStatistic } from '../say.js'
import { CAUSE_TEXT, EXCLUSION_TEXT, LINE_TEXT } from '../words.js'
import { entriesOf } from '../counts.js'

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

const LINE_COLUMNS = [
  'Line',
  'Compared with',
  'Values',
  'Difference, NTU',
  'Sum and limit',
  'One false signal in',
  'Left out',
] as const

/** Cells say their column themselves, so that on a telephone each line can stand as a block of its own. */
function linesTable(lines: readonly LineView[]): Markup {
  return markup`<table class="stacked" role="table">
<caption>Lines of evidence</caption>
<thead role="rowgroup"><tr role="row">${LINE_COLUMNS.map(
    column => markup`<th scope="col" role="columnheader">${column}</th>`,
  )}</tr></thead>
<tbody role="rowgroup">${lines.map(lineRow)}</tbody>
</table>`
}

function lineRow({ line, against, missing, evidence }: LineView): Markup {
  const head = markup`<th scope="row" role="rowheader">${LINE_TEXT[line]}</th>`
  if (evidence === undefined) {
    return markup`<tr role="row">${head}${cell(1, against)}<td role="cell" colspan="5" data-label="Says nothing">${missing ?? 'nothing to compare'}</td></tr>\n`
  }
  const { n, biasNtu, chart, excluded } = evidence
  return markup`<tr role="row">${head}${cell(1, against)}${cell(2, String(n))}${cell(
    3,
    biasNtu === undefined ? 'not told' : saySigned(biasNtu),
  )}${cell(
    4,
    chart === undefined
      ? 'no chart'
      : `${chart.side} side ${sayStatistic(chart.statistic)}, limit ${sayStatistic(chart.limit)}${chart.statistic > chart.limit ? ': signal' : ''}`,
  )}${cell(
    5,
    chart?.alarmFreeYears === undefined ? 'not told' : `${String(chart.alarmFreeYears)} analyzer-years`,
  )}${cell(
    6,
    entriesOf(excluded)
      .map(([reason, count]) => `${String(count)} × ${EXCLUSION_TEXT[reason]}`)
      .join('; ') || 'none',
  )}</tr>\n`
}

function cell(column: number, text: string): Markup {
  return markup`<td role="cell" data-label="${LINE_COLUMNS[column]}">${text}</td>`
}
