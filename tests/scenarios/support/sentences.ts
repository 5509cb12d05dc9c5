import type { PlantEvent } from '../../../src/model/events.js'

/** What every sentence must fit. */
const LONGEST = 240
const NUMBER_WITH_UNIT =
  /\d(?:[\d.,]*\d)? ?(?:NTU|mNTU|FNU|%|L\/min|°C|h\b|hours?\b|min\b|minutes?\b|days?\b|tolerances?\b|grabs?\b|grab samples\b|points?\b|analyzers?\b|readings\b)/

const ASKING: ReadonlySet<PlantEvent['type']> = new Set([
  'recommendation.opened',
  'recommendation.revised',
  'recommendation.escalated',
  'recommendation.reopened',
  'reference.suspect',
  'work.not_confirmed',
  'work.undecided',
])

/** Events that ask somebody to do or to look at something: their sentence has a unit, a reason and a next step. */
function asks(event: PlantEvent): boolean {
  return ASKING.has(event.type) || (event.type === 'analyzer.finding' && event.data.phase === 'began')
}

/** What is wrong with the sentence of an event; empty where nothing is. */
export function sentenceFaults(event: PlantEvent): string[] {
  const { summary } = event.data
  const faults: string[] = []
  if (summary.length > LONGEST) faults.push(`has ${String(summary.length)} characters`)
  if (!summary.endsWith('.')) faults.push('has no full stop at its end')
  if (/\b(?:undefined|NaN|null|Infinity|\[object)/.test(summary)) faults.push('holds a value that is none')
  if (asks(event)) {
    if (!NUMBER_WITH_UNIT.test(summary)) faults.push('has no number with its unit')
    const clauses = summary.split(/[;:] /)
    if (clauses.length < 3) faults.push('lacks one of: what; why: what to do')
  }
  return faults.map(fault => `${event.type} ${event.subject} ${fault}: ${summary}`)
}

/** What was said to people, to be kept and read: without statuses and shift summaries. */
export function sentencesText(events: readonly PlantEvent[]): string {
  return events
    .filter(event => event.type !== 'analyzer.status' && event.type !== 'shift.summary')
    .map(
      event =>
        `${event.time.slice(0, 16)}Z ${event.type} ${event.subject}${detail(event)}\n    ${event.data.summary}\n`,
    )
    .join('')
}

function detail(event: PlantEvent): string {
  if ('action' in event.data) return ` (${event.data.action}, ${event.data.urgency})`
  if ('finding' in event.data) return ` (${event.data.finding} ${event.data.phase})`
  if ('reference' in event.data) return ` (${event.data.reference})`
  return ''
}
