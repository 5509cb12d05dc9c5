import { formatInstant, sayInstant } from '../model/time.js'
import { toleranceAt } from '../model/tolerance.js'
import type { Judgement, Proof } from '../recommend/proof.js'
import { sayNtu } from '../recommend/summary.js'
import type { PointContext } from './context.js'
import type { PointState, UnitFold } from './pointState.js'

/** An analyzer no farther off than this before its zero was right, tolerances. */
const WAS_RIGHT = 0.5

/** A zero that made a right analyzer read low: the water it was set on was not zero. */
export function noteZeroWater(
  context: PointContext,
  state: PointState,
  unit: UnitFold,
  i: number,
  proof: Proof,
  judged: Judgement,
  endMs: number,
): void {
  const analyzer = context.analyzers[i]
  const before = proof.lastPairs
  if (analyzer === undefined || before === null || Math.abs(before) > WAS_RIGHT) return
  unit.zeroWaterSuspect = true
  const toleranceNtu = toleranceAt(analyzer.tolerance, unit.levelNtu ?? 0)
  const shift = sayNtu(Math.abs(judged.mean - before) * toleranceNtu)
  const moved = judged.mean < before ? 'fell' : 'rose'
  state.fold.notes.push({
    key: `zero water ${analyzer.id} ${String(proof.workMs)}`,
    atMs: endMs,
    type: 'reference.suspect',
    data: {
      summary: `${analyzer.id}: its floor ${moved} by about ${shift} NTU with the zero of ${sayInstant(proof.workMs)}; it was right before, so the zero water was not zero: prove the water, then repeat the zero.`,
      notify: 'shift_summary',
      reference: 'zero_water',
      analyzer: analyzer.id,
      point: context.point.id,
      at: formatInstant(proof.workMs),
      because: [`the difference to the grab samples moved by about ${shift} NTU at the visit, the water did not`],
      ask: 'prove the zero water on another analyzer or against fresh filtered water, then repeat the zero',
    },
  })
}
