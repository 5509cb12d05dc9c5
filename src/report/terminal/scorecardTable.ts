import type { ScoreRow } from '../../core/scorecard.js'
import { CAUSE_WORDS } from '../../recommend/summary.js'
import { LINE_TEXT } from '../words.js'
import { textTable } from './textTable.js'
import { COLUMNS, wrapText } from './wrap.js'

const SCORE_COLUMNS = [
  { head: 'Class', width: 10 },
  { head: 'Line', width: 14 },
  { head: 'Cause', width: 18 },
  { head: 'Work confirmed it', width: 9 },
  { head: 'Work did not help', width: 8 },
  { head: 'Found within limits', width: 12 },
  { head: 'Not decided', width: 7 },
]

const REMARK =
  'Each request counts once for every line that carried it. This is a record of what was said and how it ended; it ' +
  'changes no weight of any line and says nothing about people.'

/** How requests ended. At most 100 columns wide. */
export function renderScorecard(rows: readonly ScoreRow[]): string {
  if (rows.length === 0) return 'No request has ended with a verdict yet.\n'
  return `${textTable(SCORE_COLUMNS, rows.map(scoreCells), false)}\n${wrapText(REMARK, COLUMNS)}\n`
}

function scoreCells({ class: className, line, cause, outcomes }: ScoreRow): readonly string[] {
  return [
    className,
    LINE_TEXT[line],
    CAUSE_WORDS[cause],
    String(outcomes.confirmed),
    String(outcomes.not_confirmed),
    String(outcomes.found_within_limits),
    String(outcomes.undecided),
  ]
}
