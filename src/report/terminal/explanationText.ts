import type { Explanation } from '../../core/explanation.js'
import type { RecommendationData } from '../../model/events.js'
import { sayInstant } from '../../model/time.js'
import { entriesOf } from '../counts.js'
import { factsOf } from '../facts.js'
import { LINE_HEADS, lineCells, sayMissing } from '../lineCells.js'
import { headline, liveRecommendation, sayLine, sayProbability, sayStandard, sayTarget, sayTime } from '../say.js'
import { ACTION_TEXT, CAUSE_TEXT, DEFERENCE_TEXT, EXCLUSION_TEXT, URGENCY_TEXT } from '../words.js'
import { textTable } from './textTable.js'
import { COLUMNS, wrapText } from './wrap.js'

/** An explanation for a terminal, in the order of the page, without its pictures. At most 100 columns wide. */
export function renderExplanationText(explanation: Explanation): string {
  const live = liveRecommendation(explanation)
  const reasons = section(
    live === undefined ? 'Why nothing is asked' : 'Why it is asked',
    explanation.conditions.map(({ text, met }) => item(met ? 'met:    ' : 'not met:', text)),
    [paragraph(`Nearest to changing the answer: ${explanation.nearest}`)],
  )
  const { analyzer, pointName, point, plant, atMs } = explanation
  return `${[
    paragraph(headline(explanation)),
    paragraph(`${analyzer}, ${pointName} (${point}), ${plant}, as of ${sayInstant(atMs)}`),
    section('What to do', live === undefined ? nothingAsked(explanation) : advice(live, explanation)),
    ...(live === undefined ? [reasons] : []),
    section('Numbers', facts(explanation), causes(explanation)),
    section('Lines of evidence', [lines(explanation)]),
    section('Left out', excluded(explanation)),
    ...(live === undefined ? [] : [reasons]),
    paragraph(`With pictures: turbidrift explain ${analyzer} --html FILE. All times are UTC.`),
  ].join('\n\n')}\n`
}

function advice(live: RecommendationData, { atMs, status }: Explanation): readonly string[] {
  const { steps, cautions, standard } = live.procedure
  const head = [
    paragraph(`${ACTION_TEXT[live.action]}: ${sayTarget(live.target)}`),
    paragraph(`Respond by ${sayTime(live.respondBy)}. ${URGENCY_TEXT[live.urgency]}.`),
    paragraph(DEFERENCE_TEXT),
  ]
  if (live.phase === 'awaiting_proof') {
    return [
      ...head,
      paragraph('The work is on record; no further step is asked until its proof is in.'),
      ...missing(status.missing),
    ]
  }
  return [
    ...head,
    ...cautions.map(caution => item('Caution:', caution)),
    ...(standard === undefined ? [] : [paragraph(`${sayStandard(standard, atMs)}.`)]),
    ...steps.map((step, index) => item(`${String(index + 1).padStart(2)}.`, step)),
  ]
}

function nothingAsked({ status }: Explanation): readonly string[] {
  return [paragraph('Nothing is asked for this analyzer now.'), ...missing(status.missing), paragraph(DEFERENCE_TEXT)]
}

function missing(sentences: readonly string[]): readonly string[] {
  return sentences.map(sentence => item('Missing:', sentence))
}

function facts(explanation: Explanation): readonly string[] {
  const all = factsOf(explanation)
  const longest = all.reduce((most, { label }) => Math.max(most, label.length), 0)
  return all.map(({ label, value }) => item(label.padEnd(longest + 1), value))
}

function causes(explanation: Explanation): readonly string[] {
  const live = liveRecommendation(explanation)
  const ranked = live?.cause.ranked.map(
    ({ cause, probability }) => `${CAUSE_TEXT[cause]} ${sayProbability(probability)}`,
  )
  return [
    ...(ranked === undefined ? [] : [item('Causes:', ranked.join(', '))]),
    ...(live?.cause.because ?? []).map(reason => item('Because:', reason)),
    ...explanation.hypotheses.map(({ text, probability }) =>
      item('Weighed:', `${text}, ${sayProbability(probability)}`),
    ),
  ]
}

const LINE_COLUMNS = [
  { head: LINE_HEADS.line, width: 24 },
  { head: LINE_HEADS.values, width: 6 },
  { head: LINE_HEADS.differenceNtu, width: 11 },
  { head: LINE_HEADS.sum, width: 21 },
  { head: LINE_HEADS.leftOut, width: 22 },
]

function lines(explanation: Explanation): string {
  return textTable(
    LINE_COLUMNS,
    explanation.lines.map(view => {
      const cells = lineCells(view)
      if (cells === undefined) return `${sayLine(view)}: ${sayMissing(view)}`
      return [sayLine(view), cells.values, cells.differenceNtu, cells.sum, cells.leftOut]
    }),
  )
}

function excluded(explanation: Explanation): readonly string[] {
  const entries = entriesOf(explanation.excluded)
  if (entries.length === 0) return ['Nothing.']
  return entries.map(([reason, count]) => item(String(count).padStart(7), EXCLUSION_TEXT[reason]))
}

function section(title: string, ...parts: readonly (readonly string[])[]): string {
  return [title.toUpperCase(), ...parts.flat()].join('\n')
}

function paragraph(text: string): string {
  return wrapText(text, COLUMNS)
}

/** A label with its text hanging beside it. */
function item(label: string, text: string): string {
  const indent = ' '.repeat(label.length + 1)
  return `${label} ${wrapText(text, COLUMNS - indent.length).replaceAll('\n', `\n${indent}`)}`
}
