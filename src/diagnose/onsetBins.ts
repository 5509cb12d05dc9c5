import { DAY_MS, HOUR_MS } from '../model/time.js'
import { PRIOR } from './prior.js'

/** An interval in which a change may have begun. */
export interface Onset {
  /** Its middle. */
  readonly atMs: number
  readonly before: boolean
  /** A step began somewhere in so wide a bin round it. */
  readonly widthMs: number
  readonly prior: number
}

/** Bins of this width or less are not split. */
export const FINE_MS = 6 * HOUR_MS

/** Six-hour bins for three days, days to a fortnight, then three days each; one stands for "before the evidence". */
export function onsetBins(fromMs: number, nowMs: number): Onset[] {
  const bins: { atMs: number; widthMs: number }[] = []
  let endMs = nowMs
  while (endMs > fromMs) {
    const age = nowMs - endMs
    const widthMs = age < 3 * DAY_MS ? FINE_MS : age < 14 * DAY_MS ? DAY_MS : 3 * DAY_MS
    // Bins are cut at whole six hours, so that the same evidence is cut alike whenever one looks.
    const startMs = Math.max(fromMs, Math.ceil((endMs - widthMs) / FINE_MS) * FINE_MS)
    const cutMs = startMs < endMs ? startMs : Math.max(fromMs, endMs - widthMs)
    bins.push({ atMs: (cutMs + endMs) / 2, widthMs: endMs - cutMs })
    endMs = cutMs
  }
  const total = Math.max(1, nowMs - fromMs)
  return [
    { atMs: fromMs - 1, before: true, widthMs: 0, prior: PRIOR.before },
    ...bins.map(bin => ({ ...bin, before: false, prior: ((1 - PRIOR.before) * bin.widthMs) / total })),
  ]
}

/** Cuts a bin into equal ones of six hours or less. */
export function splitBin({ atMs, widthMs, prior }: Onset): Onset[] {
  const parts = Math.ceil(widthMs / FINE_MS)
  const partMs = widthMs / parts
  return Array.from({ length: parts }, (_, k) => ({
    atMs: atMs - widthMs / 2 + (k + 0.5) * partMs,
    before: false,
    widthMs: partMs,
    prior: prior / parts,
  }))
}
