import type { Analyzer, Plant } from '../model/plant.js'
import { parseInstant, SECOND_MS } from '../model/time.js'

/** What became certain with one reading. */
export interface Gaps {
  /** Places where the numbers of a sender jumped by more than one. */
  readonly sequenceGaps: number
  /** Readings that should have come, by the interval of the register. */
  readonly missingReadings: number
}

export interface FeedGaps {
  /**
   * @param message in its wire form, whatever its kind
   * @param receivedMs when it came; undefined where nobody's clock has a say
   */
  readonly heard: (message: unknown, receivedMs: number | undefined) => Gaps
}

interface Heard {
  readonly atMs: number
  readonly seq: number | undefined
}

interface AnalyzerGaps {
  /** In the order of their own times, until nothing that is on time can come between them. */
  readonly waiting: Heard[]
  /** The newest that no longer waits. */
  settled: Heard | undefined
  newestMs: number
}

const NONE: Gaps = { sequenceGaps: 0, missingReadings: 0 }
/** A pause is a gap from one and a half intervals on. */
const GAP_INTERVALS = 1.5
/** As for the core: a reading further ahead of its arrival is from the future, and moves nothing. */
const FUTURE_MS = 300 * SECOND_MS

/**
 * Counts what did not come, for metrics. A gap counts once the lateness allowed has passed, so that readings out of
 * order fill it before; repeats count for nothing; a number that falls is a sender that began anew. Where analyzers
 * send on change only, a pause says nothing. Memory begins with the process: what was lost while the service was away
 * is not counted. Pure but for its own memory.
 */
export function createFeedGaps({ analyzers, latenessMs }: Pick<Plant, 'analyzers' | 'latenessMs'>): FeedGaps {
  const states = new Map<string, AnalyzerGaps>()
  return {
    heard: (message, receivedMs) => {
      const { analyzer, atMs, seq } = readingOf(message)
      const registered = analyzers.get(analyzer)
      if (registered === undefined || atMs === undefined) return NONE
      if (receivedMs !== undefined && atMs > receivedMs + FUTURE_MS) return NONE
      let state = states.get(analyzer)
      if (state === undefined) {
        state = { waiting: [], settled: undefined, newestMs: atMs }
        states.set(analyzer, state)
      }
      if (state.settled !== undefined && atMs <= state.settled.atMs) return NONE
      if (!insert(state.waiting, { atMs, seq })) return NONE
      state.newestMs = Math.max(state.newestMs, atMs)
      return settle(state, registered, state.newestMs - latenessMs)
    },
  }
}

function readingOf(message: unknown): { analyzer: string; atMs: number | undefined; seq: number | undefined } {
  const { kind, analyzer, time, seq } = (message ?? {}) as Readonly<Record<string, unknown>>
  if (kind !== 'reading' || typeof analyzer !== 'string' || typeof time !== 'string') {
    return { analyzer: '', atMs: undefined, seq: undefined }
  }
  return { analyzer, atMs: parseInstant(time), seq: Number.isSafeInteger(seq) ? (seq as number) : undefined }
}

/** Keeps the order of time. @returns false for a reading of that time that is there already */
function insert(waiting: Heard[], heard: Heard): boolean {
  let at = waiting.length
  while (at > 0 && waiting[at - 1]!.atMs > heard.atMs) at--
  if (waiting[at - 1]?.atMs === heard.atMs) return false
  waiting.splice(at, 0, heard)
  return true
}

function settle(state: AnalyzerGaps, analyzer: Analyzer, untilMs: number): Gaps {
  let sequenceGaps = 0
  let missingReadings = 0
  while (state.waiting.length > 0 && state.waiting[0]!.atMs <= untilMs) {
    const next = state.waiting.shift()!
    if (state.settled !== undefined) {
      sequenceGaps += jumps(state.settled, next) ? 1 : 0
      missingReadings += missingBetween(state.settled, next, analyzer)
    }
    state.settled = next
  }
  return { sequenceGaps, missingReadings }
}

function jumps(before: Heard, next: Heard): boolean {
  return before.seq !== undefined && next.seq !== undefined && next.seq > before.seq + 1
}

function missingBetween(before: Heard, next: Heard, { intervalS, transmission }: Analyzer): number {
  if (transmission.mode === 'on_change') return 0
  const intervals = (next.atMs - before.atMs) / (intervalS * SECOND_MS)
  return intervals > GAP_INTERVALS ? Math.round(intervals) - 1 : 0
}
