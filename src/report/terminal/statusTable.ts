import type { StandingData } from '../../core/explanation.js'
import type { RecommendationData } from '../../model/events.js'
import { parseInstant, sayDay } from '../../model/time.js'
import { isNotWorked, sayFinding, sayTime, sayTolerances } from '../say.js'
import { DEFERENCE_TEXT, NOT_ASSESSED_TEXT } from '../words.js'
import { openRecommendationsTable } from './openRecommendationsTable.js'
import { textTable } from './textTable.js'
import { COLUMNS, wrapText } from './wrap.js'

/** What `status` shows of a plant. */
export interface StatusView {
  /** Plant time, RFC 3339; null before the first tick. */
  readonly at: string | null
  readonly analyzers: readonly StandingData[]
  readonly open: readonly RecommendationData[]
}

const STATUS_COLUMNS = [
  { head: 'Analyzer', width: 18 },
  { head: 'Assessment', width: 12 },
  { head: 'Bias in tolerances (95 % interval)', width: 22 },
  { head: 'Since', width: 11 },
  { head: 'Findings, and what is missing', width: 21 },
]

/** Every analyzer in one row, then what is asked. At most 100 columns wide. */
export function renderStatusTable({ at, analyzers, open }: StatusView): string {
  return [
    at === null ? 'No plant time yet' : `As of ${sayTime(at)}`,
    textTable(STATUS_COLUMNS, analyzers.map(statusRow), false),
    open.length === 0 && analyzers.every(isNotWorked) ? NOT_ASSESSED_TEXT : openRecommendationsTable(open),
    wrapText(DEFERENCE_TEXT, COLUMNS),
    '',
  ].join('\n')
}

function statusRow({
  analyzer,
  assessment,
  bias,
  since,
  findings,
  missing,
  notes = [],
}: StandingData): readonly string[] {
  const sinceMs = since === undefined ? undefined : parseInstant(since)
  return [
    analyzer,
    assessment.replaceAll('_', ' '),
    bias === undefined
      ? 'not told'
      : `${sayTolerances(bias.ofTolerance)} (${sayTolerances(bias.ofToleranceCi95[0])} to ${sayTolerances(bias.ofToleranceCi95[1])})`,
    sinceMs === undefined ? (since ?? '–') : sayDay(sinceMs),
    [...findings.map(sayFinding), ...missing, ...notes].join('; ') || '–',
  ]
}
