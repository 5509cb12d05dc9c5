import { addCount } from '../model/exclusionCounts.js'
import type { Work } from '../model/messages.js'
import type { Exclusion } from '../model/vocabulary.js'
import { type Block, blockAt, FLAG } from '../qualify/blockLog.js'
import { advanceGate, settleAfterRestart } from '../qualify/gate.js'
import { advanceInferred } from '../qualify/inferredService.js'
import { blockEnd } from '../qualify/openBlock.js'
import type { PointContext } from './context.js'
import { takeWork } from './observeWork.js'
import type { PointState, UnitFold } from './pointState.js'

const KEPT_USABLE = 12

/** What the units show in the block that ends at an instant. */
export interface Row {
  /** Medians by unit, null where the block does not count. */
  readonly ntu: (number | null)[]
  /** Whether the point serves: by process states, or by what the readings say where none come. */
  readonly inService: boolean
}

/**
 * Judges the block of every unit: work and settling first, then the service of the point, told or inferred.
 * @param works records of the block, by unit
 * @param toldInService by process states; true while the plant sends none
 */
export function observeUnits(
  context: PointContext,
  state: PointState,
  works: readonly (readonly Work[])[],
  toldInService: boolean,
  endMs: number,
): Row {
  const { fold } = state
  const judged = fold.units.map((unit, i) => judgeUnit(context, state, unit, i, works[i] ?? [], endMs))
  const inferredOut = inferredOutOfService(context, state, judged, endMs)
  const notServing = toldInService ? (inferredOut ? 'not_in_service_inferred' : undefined) : 'not_in_service'
  const ntu = fold.units.map((unit, i) => {
    const { block, reason } = judged[i] ?? { block: undefined, reason: 'no_usable_reading' }
    return count(unit, block, reason ?? notServing, endMs)
  })
  return { ntu, inService: notServing === undefined }
}

interface Judged {
  readonly block: Block | undefined
  /** Why the unit's own gate leaves it out. */
  readonly reason: Exclusion | undefined
}

function judgeUnit(
  context: PointContext,
  state: PointState,
  unit: UnitFold,
  i: number,
  works: readonly Work[],
  endMs: number,
): Judged {
  const analyzer = context.analyzers[i]
  const log = state.analyzers[i]?.log
  if (analyzer === undefined || log === undefined) return { block: undefined, reason: 'no_usable_reading' }
  const restart = context.sights.restarts.find(one => one.analyzer === analyzer.id && blockEnd(one.atMs) === endMs)
  if (restart !== undefined) settleAfterRestart(unit.gate, restart.atMs)
  const reason = advanceGate(unit.gate, works, endMs, log, analyzer, context.plant.settlingCapMs)
  for (const work of works) takeWork(context, state, unit, i, work)
  const block = blockAt(log, endMs)
  // Values that the signal path has scaled are none of the analyzer's.
  return { block, reason: reason ?? (unit.findings.exact_factor === undefined ? undefined : 'wrong_scale') }
}

function inferredOutOfService(
  context: PointContext,
  { fold }: PointState,
  judged: readonly Judged[],
  endMs: number,
): boolean {
  if (fold.service.state !== null) {
    fold.inferred.hold = null
    return false
  }
  const levels = judged.map(({ block, reason }) => ({
    countedNtu: reason === undefined && block !== undefined ? block.medianNtu : null,
    noFlowNtu:
      reason === 'no_flow' && block !== undefined && !Number.isNaN(block.medianNtu) && (block.flags & FLAG.stuck) === 0
        ? block.medianNtu
        : null,
  }))
  return advanceInferred(fold.inferred, levels, context.point.tolerance, endMs)
}

/** @returns the block's median where it counts, else null */
function count(unit: UnitFold, block: Block | undefined, reason: Exclusion | undefined, endMs: number): number | null {
  const against = reason ?? (block === undefined ? 'no_usable_reading' : undefined)
  if (against !== undefined) {
    if (against !== 'no_usable_reading') addCount(unit.excluded, against, block?.count ?? 0)
    unit.against = against
    return null
  }
  const medianNtu = block?.medianNtu ?? NaN
  unit.against = null
  unit.lastUsableMs = endMs
  unit.levelNtu = smoothLevel(unit.levelNtu, medianNtu)
  unit.usableEnds = [...unit.usableEnds.slice(-(KEPT_USABLE - 1)), endMs]
  return medianNtu
}

/** Present level with a memory of some six hours: one block must not move what a tolerance is taken at. */
function smoothLevel(levelNtu: number | null, medianNtu: number): number {
  return levelNtu === null ? medianNtu : levelNtu + (medianNtu - levelNtu) / 24
}
