import type { PointContext } from '../core/context.js'
import { evidenceData } from '../core/evidenceData.js'
import type { PointState } from '../core/pointState.js'
import type { StatusData } from '../model/events.js'
import { DIGITS, roundTo } from '../model/rounding.js'
import type { Line } from '../model/vocabulary.js'
import type { Proof } from './visitPlan.js'

/** Chance that the tolerance is passed within a week above which nobody is left alone. */
const PASSES_SOON = 0.1
/** Lines that compare with something outside the analyzer's own water; the others bear out and prove nothing alone. */
const STRONG: ReadonlySet<Line> = new Set(['grab', 'redundant', 'verification'])
const LEAST_GRABS = 3

/**
 * The independent evidence that a unit is right; undefined where it is not good enough to leave it alone: an assessment
 * other than consistent, anything found, asked or awaited, or a 95 % interval of the bias that reaches the tolerance.
 */
export function proofOf(
  context: PointContext,
  state: PointState,
  i: number,
  status: StatusData | undefined,
): Proof | undefined {
  const unit = state.fold.units[i]
  if (unit === undefined || status?.assessment !== 'consistent' || status.findings.length > 0) return undefined
  const { estimate } = unit
  if (estimate === null || unit.case !== null || unit.proof !== null || state.fold.pointCase !== null) return undefined
  const { low, high, value } = estimate.biasNtu
  if (low <= -estimate.toleranceNtu || high >= estimate.toleranceNtu) return undefined
  if (estimate.pPassesIn7Days >= PASSES_SOON || estimate.forecast !== null) return undefined
  const lines = evidenceData(context, state, i)
    .filter(one => one.n > 0)
    .map(({ line, against, n, points }) => {
      const newest = points.at(-1)?.[0]
      return { line, against, n, ...(newest === undefined ? {} : { newest }) }
    })
  if (!lines.some(({ line, n }) => STRONG.has(line) && (line !== 'grab' || n >= LEAST_GRABS))) return undefined
  return {
    lines,
    biasNtu: roundTo(value, DIGITS.ntu),
    ci95: [roundTo(low, DIGITS.ntu), roundTo(high, DIGITS.ntu)],
    toleranceNtu: roundTo(estimate.toleranceNtu, DIGITS.ntu),
  }
}
