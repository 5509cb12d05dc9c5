import type { Explanation } from '../../core/explanation.js'
import type { RecommendationData } from '../../model/events.js'
import { isUndecided, namedCauses, shownHypotheses, signsBesides, type Weighed } from '../causes.js'
import { COMPARISON_TITLE, comparisonFacts, comparisonRemarks } from '../comparison.js'
import { entriesOf } from '../counts.js'
import { CRITERIA_TEXT, CRITERIA_TITLE, OUTCOME_TEXT, sayCompared, saySource } from '../criteria.js'
import { type Fact, factsOf } from '../facts.js'
import { LINE_HEADS, lineCells, sayMissing } from '../lineCells.js'
import {
  headline,
  isNotWorked,
  liveRecommendation,
  sayClock,
  sayGround,
  sayLine,
  sayOtherSubject,
  sayProbability,
  sayReason,
  sayRespondBy,
  sayStandard,
  sayTarget,
  sayTime,
  sayUrgency,
  whereAndWhen,
} from '../say.js'
import { sayNtu } from '../../recommend/summary.js'
import { ACTION_TEXT, DEFERENCE_TEXT, EXCLUSION_TEXT, NOT_ASSESSED_TEXT } from '../words.js'
import { renderScorecard } from './scorecardTable.js'
import { textTable } from './textTable.js'
import { COLUMNS, wrapText } from './wrap.js'

/** An explanation for a terminal, in the order of the page, without its pictures. At most 100 columns wide. */
export function renderExplanationText(explanation: Explanation): string {
  const live = liveRecommendation(explanation)
  const { comparison } = explanation
  const ground = sayGround(explanation)
  const reasons = section(
    live === undefined ? 'Why nothing is asked' : 'Why it is asked',
    ground === undefined ? [] : [paragraph(ground)],
    explanation.conditions.map(({ text, met }) => item(met ? 'met:    ' : 'not met:', text)),
    [paragraph(`Nearest to changing the answer: ${explanation.nearest}`)],
  )
  return `${[
    paragraph(headline(explanation)),
    ...otherSubject(explanation),
    paragraph(whereAndWhen(explanation).join(', ')),
    section('What to do', live === undefined ? nothingAsked(explanation) : advice(live, explanation)),
    ...(live === undefined ? [reasons] : []),
    section('Numbers', facts(factsOf(explanation)), causes(explanation)),
    section('Lines of evidence', [lines(explanation)]),
    section(COMPARISON_TITLE, facts(comparisonFacts(comparison)), comparisonRemarks(comparison).map(paragraph)),
    ...criteria(explanation),
    section('Left out', excluded(explanation)),
    ...recordBefore(explanation),
    ...trackRecord(explanation),
    ...(live === undefined ? [] : [reasons]),
    paragraph(`${sayClock(explanation)} With pictures: turbidrift explain ${explanation.analyzer} --html FILE`),
    paragraph(DEFERENCE_TEXT),
  ].join('\n\n')}\n`
}

function otherSubject(explanation: Explanation): readonly string[] {
  const other = sayOtherSubject(explanation)
  return other === undefined ? [] : [paragraph(`${other} ${explanation.status.summary}`)]
}

function advice(live: RecommendationData, explanation: Explanation): readonly string[] {
  const { atMs, status } = explanation
  const { steps, cautions, standard } = live.procedure
  if (live.phase === 'awaiting_proof') {
    return [
      paragraph('The work is on record; no further step is asked until its proof is in.'),
      ...missing(status.missing),
    ]
  }
  return [
    paragraph(`${ACTION_TEXT[live.action]}: ${sayTarget(live.target)}`),
    paragraph(`${sayRespondBy(live, explanation)} ${sayUrgency(live)}`),
    ...cautions.map(caution => item('Caution:', caution)),
    ...(standard === undefined ? [] : [paragraph(`${sayStandard(standard, atMs)}.`)]),
    ...steps.map((step, index) => item(`${String(index + 1).padStart(2)}.`, step)),
  ]
}

function nothingAsked({ status }: Explanation): readonly string[] {
  const text = isNotWorked(status) ? NOT_ASSESSED_TEXT : 'Nothing is asked for this analyzer now.'
  return [paragraph(text), ...missing(status.missing)]
}

function missing(sentences: readonly string[]): readonly string[] {
  return sentences.map(sentence => item('Missing:', sentence))
}

function facts(all: readonly Fact[]): readonly string[] {
  const longest = all.reduce((most, { label }) => Math.max(most, label.length), 0)
  return all.map(({ label, value }) => item(label.padEnd(longest + 1), value))
}

function causes(explanation: Explanation): readonly string[] {
  const live = liveRecommendation(explanation)
  const named = live === undefined ? '' : namedCauses(live).map(sayWeighed).join(', ')
  return [
    ...(live === undefined
      ? []
      : [item('Causes:', `${named}${isUndecided(live) ? '; not decided between them' : ''}`)]),
    ...(live?.cause.because ?? []).map(reason => item('Because:', sayReason(reason))),
    ...signsBesides(explanation).map(sign => item('Seen:', sign)),
    ...shownHypotheses(explanation).map(one => item('Weighed:', sayWeighed(one))),
  ]
}

function sayWeighed({ text, probability }: Weighed): string {
  return `${text} ${sayProbability(probability)}`
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
      const cells = lineCells(view, explanation.grabs)
      if (cells === undefined) return `${sayLine(view)}: ${sayMissing(view)}`
      return [cells.line, cells.values, cells.differenceNtu, cells.sum, cells.leftOut]
    }),
  )
}

function criteria({ criteria: compared }: Explanation): readonly string[] {
  if (compared === undefined) return []
  const items = compared.map(one =>
    item(`${OUTCOME_TEXT[one.outcome]}:`, `${saySource(one)}: ${one.summary}. Compared: ${sayCompared(one)}.`),
  )
  return [section(CRITERIA_TITLE, [paragraph(CRITERIA_TEXT)], items)]
}

function excluded(explanation: Explanation): readonly string[] {
  const entries = entriesOf(explanation.excluded)
  if (entries.length === 0) return ['Nothing.']
  return entries.map(([reason, count]) => item(String(count).padStart(7), EXCLUSION_TEXT[reason]))
}

function recordBefore({ corrections = [], analyzer }: Explanation): readonly string[] {
  if (corrections.length === 0) return []
  return [
    section(
      'The record before the visits',
      corrections.map(({ from, to, formula, atVisitNtu, ci95, rating }) =>
        item(
          `${sayTime(from)} to ${sayTime(to)}:`,
          `${formula}; at the visit ${sayNtu(atVisitNtu)} NTU (95 % ${sayNtu(ci95[0])} to ${sayNtu(ci95[1])}), rated ${rating}`,
        ),
      ),
      [paragraph(`Advice; the record is not touched. Block by block: turbidrift correction ${analyzer}`)],
    ),
  ]
}

function trackRecord({ trackRecord: rows = [] }: Explanation): readonly string[] {
  if (rows.length === 0) return []
  return [section('How requests at points of this class ended', [renderScorecard(rows).trimEnd()])]
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
