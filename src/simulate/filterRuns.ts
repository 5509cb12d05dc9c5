import { HOUR_MS, MINUTE_MS } from '../model/time.js'
import { FILTERS } from './hollinWeir.js'
import { randomStream } from './random.js'

/** One backwash and the restart after it. All times in ms. */
export interface Backwash {
  readonly filter: string
  readonly startMs: number
  /** End of the wash: the filter runs to waste from here … */
  readonly restartMs: number
  /** … and serves again from here. */
  readonly inServiceMs: number
  readonly stagnationNtu: number
  readonly ripeningNtu: number
  /** Peak of the dirty wash water at the waste analyzer. */
  readonly wastePeakNtu: number
}

/** Every filter is washed each 24 to 48 h. Sorted by time for each filter. */
export function drawBackwashes(seed: number, startMs: number, endMs: number): readonly Backwash[] {
  return FILTERS.flatMap(filter => {
    const random = randomStream(seed, `backwash:${filter}`)
    const washes: Backwash[] = []
    let at = startMs + wholeMinutes(random.between(4, 40))
    while (at < endMs) {
      const restartMs = at + Math.round(random.between(12, 16)) * MINUTE_MS
      washes.push({
        filter,
        startMs: at,
        restartMs,
        inServiceMs: restartMs + Math.round(random.between(35, 45)) * MINUTE_MS,
        stagnationNtu: random.between(0.1, 0.35),
        ripeningNtu: random.between(0.5, 1),
        wastePeakNtu: random.between(150, 380),
      })
      at += wholeMinutes(random.between(24, 48))
    }
    return washes
  })
}

/** True where a person would take a sample: in service and long enough after the last restart. */
export function servesAt(washes: readonly Backwash[], filter: string, atMs: number): boolean {
  return !washes.some(
    wash => wash.filter === filter && atMs >= wash.startMs - 10 * MINUTE_MS && atMs < wash.inServiceMs + 75 * MINUTE_MS,
  )
}

function wholeMinutes(hours: number): number {
  return Math.round((hours * HOUR_MS) / MINUTE_MS) * MINUTE_MS
}
