import { verificationOf } from '../compare/verification.js'
import { addCount } from '../model/exclusionCounts.js'
import type { Work } from '../model/messages.js'
import type { Analyzer } from '../model/plant.js'
import { toWholeUnit } from '../model/units.js'
import type { Contradiction } from '../recommend/contradiction.js'
import { asLeftLimitNtu } from '../recommend/limits.js'
import { standardInForce } from '../recommend/standards.js'
import type { PointContext } from './context.js'
import type { PointState, UnitFold } from './pointState.js'

const KEPT_VERIFICATIONS = 24

/** Keeps what an analyzer read on a reference before it was adjusted; a contradicted one is kept and counts for nothing. */
export function takeVerification(
  context: PointContext,
  state: PointState,
  unit: UnitFold,
  analyzer: Analyzer,
  work: Work,
  contradictions: readonly Contradiction[],
): void {
  const { reference } = work
  if (reference === undefined) return
  const inForce =
    reference.id === undefined
      ? undefined
      : standardInForce(reference.id, analyzer.id, context.plant, unit.work.standards)
  const known = {
    assignedMs: inForce?.assignedMs,
    standardUncertaintyNtu: inForce?.standardUncertaintyNtu,
    limitNtu: asLeftLimitNtu(analyzer, reference.type, Math.max(0, toWholeUnit(reference.assigned, analyzer.unit))),
  }
  // A result that was accepted too early says nothing against what was found before.
  const isContradicted = contradictions.some(one => one.effect === 'no_proof')
  const found = verificationOf(work, analyzer, known, isContradicted ? 'reference_contradicted' : undefined)
  if (found === undefined) return
  unit.verifications = [...unit.verifications.slice(-(KEPT_VERIFICATIONS - 1)), found]
  if (found.use === 'used') state.fold.evidenceSinceEstimate = true
  else addCount(unit.excluded, found.use, 1)
}
