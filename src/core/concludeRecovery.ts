import { stopChart } from '../detect/chart.js'
import { effectiveU } from '../detect/grabChart.js'
import { recoveredByItself, type UnitResidual } from '../diagnose/recovery.js'
import { sayDay } from '../model/time.js'
import { sayNtu } from '../recommend/summary.js'
import type { PointContext } from './context.js'
import { endBias } from './endBias.js'
import type { PointState, UnitFold } from './pointState.js'
import { residualOf } from './residuals.js'

/**
 * Notices that the error a request is about went away without work. Explanations of what came before end there, and
 * the request is withdrawn: sending somebody to adjust what is right again would make a good analyzer worse.
 */
export function concludeRecovery(
  context: PointContext,
  state: PointState,
  unit: UnitFold,
  i: number,
  endMs: number,
): void {
  const { estimate } = unit
  if (unit.case?.kind !== 'bias' || unit.case.phase !== 'open' || estimate === null) return
  const recovery = recoveredByItself(residualsSince(context, state, unit, i))
  if (recovery === undefined) return
  unit.recoveredMs = [...unit.recoveredMs.slice(-(KEPT - 1)), recovery.untilMs]
  stopChart(unit.grab.chart)
  unit.opening = { held: 0, laboratoryWaitMs: null }
  const nowNtu = Math.abs(recovery.mean) * estimate.toleranceNtu
  endBias(unit, {
    atMs: endMs,
    how: 'withdrawn',
    reason: `gone without work since about ${sayDay(recovery.untilMs)}; ${String(recovery.n)} grab samples put it at ${sayNtu(nowNtu)} NTU ${recovery.mean < 0 ? 'low' : 'high'} (tolerance ${sayNtu(estimate.toleranceNtu)})`,
  })
}

const KEPT = 5
/** Newest samples that are looked at. */
const LOOK_BACK = 60

/** Since the last adjustment, cleaning or recovery. */
function residualsSince(context: PointContext, state: PointState, unit: UnitFold, i: number): UnitResidual[] {
  const sinceMs = Math.max(unit.adjustedMs, unit.cleaningsMs.at(-1) ?? 0, unit.recoveredMs.at(-1) ?? 0)
  const since = state.pairs.flatMap(pair => {
    const paired = pair.units[i]
    if (pair.use !== 'used' || paired == null || pair.qualifier !== null || pair.atMs <= sinceMs) return []
    const u = effectiveU(unit.grab, paired.uNtu / paired.toleranceNtu)
    return [{ atMs: pair.atMs, residual: residualOf(context, state, pair, paired), u }]
  })
  return since.slice(-LOOK_BACK)
}
