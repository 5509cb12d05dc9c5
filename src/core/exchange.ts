import { newUnitSigns } from '../diagnose/signs/unitSigns.js'
import type { Work } from '../model/messages.js'
import type { Analyzer } from '../model/plant.js'
import { formatInstant, sayInstant } from '../model/time.js'
import { ownSecondary } from '../recommend/standards.js'
import type { PointContext } from './context.js'
import type { PointState, UnitFold } from './pointState.js'

/**
 * Another instrument under the same tag: nothing learnt of the old one holds for it. What is on record stays, under the
 * serial it was written for.
 */
export function exchangeAnalyzer(
  context: PointContext,
  state: PointState,
  unit: UnitFold,
  analyzer: Analyzer,
  work: Work,
): void {
  const before = unit.work.serial ?? analyzer.serial
  const bound = ownSecondary(analyzer.id, context.plant, unit.work.standards)
  unit.works = unit.works.map(one =>
    one.atMs < work.atMs && one.serial === null ? { ...one, serial: before ?? null } : one,
  )
  unit.work.serial = work.serial ?? null
  unit.proof = null
  unit.estimate = null
  unit.failed = []
  unit.zeroWaterSuspect = false
  unit.recoveredMs = []
  Object.assign(unit.signs, newUnitSigns())
  const isBound = bound !== undefined && (bound.assignedMs ?? 0) < work.atMs
  if (isBound) noteStandard(context, state, analyzer, work, before, bound)
  if (unit.case === null) return
  unit.case = null
  const names =
    before === undefined || work.serial === undefined ? '' : ` (serial ${work.serial} in place of ${before})`
  unit.ended = {
    atMs: work.atMs,
    how: 'closed',
    reason: `the analyzer was replaced on ${sayInstant(work.atMs)}${names}; the new one is learning and needs 3 grab samples${isBound ? ' and a standard assigned on it' : ''}`,
  }
}

function noteStandard(
  context: PointContext,
  state: PointState,
  analyzer: Analyzer,
  work: Work,
  before: string | undefined,
  bound: { readonly id: string; readonly assignedNtu: number },
): void {
  const old = before === undefined ? 'the instrument that was taken away' : `serial ${before}, which was taken away`
  const now = work.serial === undefined ? 'the new instrument' : `serial ${work.serial}`
  state.fold.notes.push({
    key: `exchange ${analyzer.id} ${String(work.atMs)}`,
    atMs: work.atMs,
    type: 'reference.suspect',
    data: {
      summary: `${analyzer.id}: standard ${bound.id} (${String(bound.assignedNtu)} NTU) was assigned on ${old} on ${sayInstant(work.atMs)}; its value no longer holds: assign one on ${now} after its primary calibration.`,
      notify: 'shift_summary',
      reference: 'standard',
      analyzer: analyzer.id,
      point: context.point.id,
      standard: bound.id,
      at: formatInstant(work.atMs),
      because: ['A secondary standard is bound to the instrument it was assigned on.'],
      ask: `assign a standard on ${now} right after its primary calibration`,
    },
  })
}
