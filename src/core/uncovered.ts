import type { SignOf } from '../diagnose/signs/sign.js'
import { DAY_MS } from '../model/time.js'
import { filmErrorOf } from '../recommend/visit.js'
import type { UnitFold } from './pointState.js'

/** An error that begins longer after a cleaning was not hidden before it. */
const HIDDEN_MS = 2 * DAY_MS

/**
 * What a cleaning took off had hidden an error of the other sign: by the readings before and after it, and by the error
 * that shows since. Undefined where the newest visit tells no such thing.
 */
export function uncoveredSign(unit: UnitFold): SignOf<'uncovered'> | undefined {
  const { estimate, adjustedMs } = unit
  const { visit } = unit.work
  const error = visit === null ? undefined : filmErrorOf(visit)
  if (estimate === null || visit?.film == null || error === undefined) return undefined
  const { atMs: cleanedMs } = visit.film
  const beganMs = estimate.onset?.estimateMs ?? 0
  if (cleanedMs < adjustedMs || beganMs > cleanedMs + HIDDEN_MS) return undefined
  const biasNtu = estimate.biasNtu.value
  const filmNtu = -error.errorNtu
  const half = estimate.toleranceNtu / 2
  const isHidden = filmNtu * biasNtu < 0 && Math.abs(filmNtu) > half && Math.abs(biasNtu) > half
  return isHidden ? { kind: 'uncovered', cleanedMs, filmNtu } : undefined
}
