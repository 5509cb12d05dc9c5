import type { Verification } from '../compare/verification.js'
import type { EvidenceInput } from './evidence.js'
import { loadingOf, type OffsetPlan, standardKey } from './offsets.js'
import { type EvidenceRows, newRows, type Rows } from './rows.js'

/** Of the reading that a secondary standard's value was taken from, which says nothing by itself: no weight. */
const NO_WEIGHT = 1e12

/**
 * As found on references, at the level of the assigned value and without the laboratory: zero water shows a zero error
 * alone, a standard of 30 NTU the span. What was found at an adjustment, or before it, is of another state and not in it.
 */
export function verificationSeries(input: EvidenceInput, plan: OffsetPlan): EvidenceRows[] {
  return input.verifications.flatMap((ofUnit, unit) =>
    ofUnit.flatMap(one => {
      if (one.use !== 'used' || one.atMs < input.fromMs || one.atMs <= (input.sinceMs[unit] ?? 0)) return []
      return [rowsOf(one, unit, input, plan)]
    }),
  )
}

function rowsOf(found: Verification, unit: number, input: EvidenceInput, plan: OffsetPlan): EvidenceRows {
  const weights = Array.from({ length: input.units }, (_, i) => (i === unit ? 1 : 0))
  const { anchoredMs } = found
  const rows = newRows()
  // Whatever began before the value was assigned was in the assigned value too: the difference to that day is evidence.
  const anchoredInside = anchoredMs !== null && anchoredMs > Math.max(input.fromMs, input.sinceMs[unit] ?? 0)
  if (anchoredInside) pushRow(rows, found, weights, { atMs: anchoredMs, y: 0, variance: NO_WEIGHT, g: 0, phi: 0 })
  const own = found.uNtu / found.toleranceNtu
  pushRow(rows, found, weights, {
    atMs: found.atMs,
    y: (found.foundNtu - found.assignedNtu) / found.toleranceNtu,
    variance: own * own,
    g: 1,
    phi: anchoredInside ? 1 : 0,
  })
  // A secondary standard was assigned on this very analyzer: the offset that stands is in its value.
  const mix = { weights: anchoredMs === null ? weights : undefined, standard: standardKey(found.standard, found.type) }
  return { ...rows, loading: loadingOf(plan, mix), line: 'verification', isClean: found.isClean }
}

function pushRow(
  rows: Rows,
  { assignedNtu, toleranceNtu }: Verification,
  weights: number[],
  value: { atMs: number; y: number; variance: number; g: number; phi: number },
): void {
  rows.timesMs.push(value.atMs)
  rows.y.push(value.y)
  rows.variance.push(value.variance)
  rows.g.push(value.g)
  rows.phi.push(value.phi)
  rows.levelsNtu.push(assignedNtu)
  rows.tolerancesNtu.push(toleranceNtu)
  rows.weights.push(weights)
}
