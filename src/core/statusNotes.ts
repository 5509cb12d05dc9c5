import { roundTo } from '../model/rounding.js'
import { sayInstant } from '../model/time.js'
import { isInWork } from '../qualify/gate.js'
import { repeatShare } from '../qualify/stuck.js'
import { sayNtu } from '../recommend/summary.js'
import type { PointContext } from './context.js'
import type { PointState } from './pointState.js'

/** Share of repeats from which readings are called quantised. */
const QUANTISED = 0.7

/** What is taken care of at a unit without any work: said, so that nobody wonders. */
export function notesOf(context: PointContext, state: PointState, i: number): string[] {
  const unit = state.fold.units[i]
  const analyzer = context.analyzers[i]
  const condense = state.analyzers[i]?.condense
  if (unit === undefined || analyzer === undefined || condense === undefined) return []
  const { gate, against } = unit
  const notes: string[] = []
  const share = repeatShare(condense.stuck)
  if (share >= QUANTISED && unit.findings.stuck === undefined)
    notes.push(
      `quantised readings are provided for: ${String(roundTo(100 * share, 0))} % repeat the one before in steps of ${String(analyzer.resolutionNtu)} NTU; that is quiet water`,
    )
  if (gate.inWorkSinceMs !== null && gate.maintenanceSinceMs === null)
    notes.push(
      `maintenance inferred from the state of its readings since ${sayInstant(gate.inWorkSinceMs)}; no work record came`,
    )
  if (gate.settlingSinceMs !== null && against !== 'no_flow' && !isInWork(gate))
    notes.push(
      `settling since ${sayInstant(gate.settlingSinceMs)} (${gate.settlingAfter === 'work' ? 'put back' : 'sample flow back'}); not counted until it stands still`,
    )
  const { hold } = state.fold.inferred
  if (hold !== null)
    notes.push(
      `inferred out of service since ${sayInstant(hold.sinceMs)}: ${sayNtu(hold.peakNtu)} NTU against a usual ${sayNtu(hold.usualNtu)} NTU; the plant sends no process state`,
    )
  return notes
}
