import type { RecommendationData, StatusData } from '../../model/events.js'
import { parseInstant, sayDay } from '../../model/time.js'
import { sayFinding, sayTime, sayTolerances } from '../say.js'
import { DEFERENCE_TEXT } from '../words.js'
import { openRecommendationsTable } from './openRecommendationsTable.js'
import { textTable } from './textTable.js'
import { COLUMNS, wrapText } from './wrap.js'

/** What `status` shows of a plant. */
export interface StatusView {
  /** Plant time, RFC 3339. */
  readonly at: string
  readonly analyzers: readonly StatusData[]
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
    `As of ${sayTime(at)}`,
    textTable(STATUS_COLUMNS, analyzers.map(statusRow), false),
    openRecommendationsTable(open),
    wrapText(DEFERENCE_TEXT, COLUMNS),
    '',
  ].join('\n')
}

function statusRow({ analyzer, assessment, bias, since, findings, missing }: StatusData): readonly string[] {
  const sinceMs = parseInstant(since)
  return [
    analyzer,
    assessment.replaceAll('_', ' '),
    bias === undefined
      ? 'not told'
      : `${sayTolerances(bias.ofTolerance)} (${sayTolerances(bias.ofToleranceCi95[0])} to ${sayTolerances(bias.ofToleranceCi95[1])})`,
    sinceMs === undefined ? since : sayDay(sinceMs),
    [...findings.map(sayFinding), ...missing].join('; ') || '–',
  ]
}
