import { roundTo } from '../model/rounding.js'
import { DAY_MS, sayInstant } from '../model/time.js'
import type { Correction, CorrectionPart } from './correction.js'
import { sayNtu } from './summary.js'

/** A correction as a formula a person can work out by hand; t is the time of the reading, up to the visit. */
export function sayFormula({ parts, visitMs }: Correction): string {
  return `proposed = original${parts.map(part => term(part, visitMs)).join('')}, t up to ${sayInstant(visitMs)}`
}

function term(part: CorrectionPart, visitMs: number): string {
  const { fromMs, shape, errorNtu } = part
  const line = part.low !== null && part.high !== null ? lineOf(part) : part.high === null ? undefined : shareOf(part)
  const size = line ?? `${sayNtu(Math.abs(errorNtu))} NTU`
  const sign = line !== undefined ? '+' : errorNtu < 0 ? '−' : '+'
  if (shape === 'step') return ` ${sign} ${size} from ${sayInstant(fromMs)}`
  const days = roundTo((visitMs - fromMs) / DAY_MS, 2)
  return ` ${sign} ${size} × (t − ${sayInstant(fromMs)}) / ${String(days)} d`
}

/** Straight line through the errors found in two references. */
function lineOf({ low, high }: CorrectionPart): string {
  if (low === null || high === null) return ''
  const lowNtu = low.assigned - low.cleanedReading
  const slope = (high.assigned - high.cleanedReading - lowNtu) / (high.cleanedReading - low.cleanedReading)
  return `(${sayNtu(lowNtu)} NTU + ${String(roundTo(slope, 5))} × (original − ${sayNtu(low.cleanedReading)} NTU))`
}

/** In one standard alone the error is a share of the reading, zero taken as right. */
function shareOf({ high }: CorrectionPart): string {
  if (high === null || high.cleanedReading === 0) return '0 NTU'
  return `${String(roundTo((high.assigned - high.cleanedReading) / high.cleanedReading, 5))} × original`
}
