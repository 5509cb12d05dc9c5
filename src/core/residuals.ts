import { sharedOffset } from '../compare/laboratoryOffset.js'
import { pairResidualNtu, type PairUnit } from '../compare/pair.js'
import type { LaboratoryInterval } from '../diagnose/evidence.js'
import type { PointResiduals } from '../diagnose/laboratory.js'
import { DAY_MS } from '../model/time.js'
import type { PointContext } from './context.js'
import type { LoggedPair, PointState } from './pointState.js'
import { referenceLevel } from './sights/longShift.js'

/** No question looks further back: 7 days since an onset, 21 before it, and an onset within the memory of a chart. */
const LOOK_BACK_MS = 50 * DAY_MS

/**
 * What a point's grabs have said up to an instant, one value a pair: of its units the value nearest zero. A pair that
 * waits as suspect counts, and so does one inside the interval of the laboratory in force; one inside an interval that
 * has ended tells nothing of the analyzers.
 */
export function residualsOf(
  state: PointState,
  untilMs: number,
  intervals: readonly LaboratoryInterval[],
): PointResiduals {
  const offsetNtu = sharedOffset(state.fold.units.map(unit => unit.offset)).ntu
  let [levelNtu, toleranceNtu] = [0, 1]
  const values = state.pairs.flatMap(pair => {
    if (
      pair.dueMs > untilMs ||
      pair.atMs < untilMs - LOOK_BACK_MS ||
      pair.qualifier !== null ||
      pair.byMethod !== undefined
    )
      return []
    if (pair.use !== 'used' && pair.use !== 'suspect' && pair.use !== 'laboratory_interval') return []
    if (intervals.some(one => one.untilMs !== null && pair.atMs >= one.fromMs && pair.atMs < one.untilMs)) return []
    let nearest: { residual: number; u: number } | undefined
    for (const unit of pair.units) {
      if (unit === null) continue
      const residual = pairResidualNtu(pair, unit, offsetNtu) / unit.toleranceNtu
      levelNtu = pair.grabNtu
      toleranceNtu = unit.toleranceNtu
      if (nearest === undefined || Math.abs(residual) < Math.abs(nearest.residual))
        nearest = { residual, u: unit.uNtu / unit.toleranceNtu }
    }
    return nearest === undefined ? [] : [{ atMs: pair.atMs, ...nearest }]
  })
  return { point: state.id, levelNtu, toleranceNtu, values }
}

/** Residual of a unit in tolerances, net of the laboratory's offset at the point and of a long shift. */
export function residualOf(context: PointContext, state: PointState, pair: LoggedPair, unit: PairUnit): number {
  const offsetNtu = sharedOffset(state.fold.units.map(one => one.offset)).ntu
  const shiftNtu = referenceLevel(context.laboratoryIntervals, state.id, pair.atMs) ?? 0
  return pairResidualNtu(pair, unit, offsetNtu + shiftNtu) / unit.toleranceNtu
}
