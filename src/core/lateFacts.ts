import { HOUR_MS, sayInstant } from '../model/time.js'
import { listWords, WORK_WORDS } from '../recommend/summary.js'
import type { Fact } from './facts.js'

/** What comes within a shift of its own time is no news: laboratories take hours. */
const SHIFT_MS = 8 * HOUR_MS
/** What comes later than this is told about an open request even where it moves nothing. */
const DAY_LATE_MS = 24 * HOUR_MS
const NAMED = 2

export interface LateFacts {
  /** "result came late: grab sample FE3-81 of 4 May 2026, 07:30 UTC, known since 7 May 2026, 09:02 UTC". */
  readonly reason: string
  /** "16 late results". */
  readonly brief: string
  readonly isDayLate: boolean
}

/** The facts that were taken with the block that ends at `endMs` though their own time lies shifts back. */
export function lateFactsAt(facts: readonly Fact[], endMs: number, latenessMs: number): LateFacts | undefined {
  const late = facts
    .filter(fact => fact.takenMs === endMs && lagOf(fact) > SHIFT_MS)
    .sort((a, b) => weightOf(a) - weightOf(b))
  if (late.length === 0) return undefined
  const named = late.slice(0, NAMED).map(nameOf)
  const more = late.length - named.length
  const hasWork = late.some(({ message }) => message.kind === 'work')
  return {
    reason: `${hasWork ? 'record' : 'result'} came late: ${listWords([...named, ...(more > 0 ? [`${String(more)} more`] : [])])}, known since ${sayInstant(endMs + latenessMs)}`,
    brief: `${String(late.length)} late ${hasWork ? 'record' : 'result'}${late.length === 1 ? '' : 's'}`,
    isDayLate: late.some(fact => lagOf(fact) > DAY_LATE_MS),
  }
}

/** Facts since an instant that became known late, each with both times: for the reasons of a request. */
export function lateSince(facts: readonly Fact[], sinceMs: number, latenessMs: number): string[] {
  return facts
    .filter(fact => lagOf(fact) > SHIFT_MS && timeOf(fact) >= sinceMs)
    .slice(-NAMED)
    .map(fact => `${nameOf(fact)} became known on ${sayInstant((fact.takenMs ?? 0) + latenessMs)}`)
}

/** Work changes more than a result, and that more than a state. */
function weightOf({ message }: Fact): number {
  if (message.kind === 'process') return 2
  if (message.kind === 'grab') return 1
  return message.action.startsWith('maintenance') ? 2 : 0
}

function lagOf(fact: Fact): number {
  return fact.takenMs === undefined ? 0 : fact.takenMs - timeOf(fact)
}

function timeOf({ message }: Fact): number {
  return message.kind === 'grab' ? message.sampledMs : message.atMs
}

function nameOf(fact: Fact): string {
  const { message } = fact
  const at = sayInstant(timeOf(fact))
  if (message.kind === 'process') return `state of ${message.point} of ${at}`
  if (message.kind === 'work') return `${WORK_WORDS[message.action]} of ${message.analyzer} of ${at}`
  const id = message.sampleId === undefined ? '' : ` ${message.sampleId}`
  return `${message.corrects === undefined ? '' : 'correction of '}grab sample${id} of ${at}`
}
