import { formatInstant, sayInstant } from '../model/time.js'
import { type BlockLog, blockAt } from '../qualify/blockLog.js'
import { BLOCK_MS } from '../qualify/openBlock.js'
import { sayNtu } from '../recommend/summary.js'
import { median } from '../statistics/robust.js'
import type { PointContext } from './context.js'
import type { LoggedPair, PointState, UnitFold } from './pointState.js'
import type { Case } from '../recommend/case.js'

/** A bias this large, in tolerances, that is this small with the next sample has gone. */
const WAS = 1
const IS = 0.5
/** Share of the change that must have come at one block. */
const AT_ONCE = 0.5
/** Farther back nobody remembers what was done that hour. */
const MOST_BLOCKS = 192

/**
 * Asks for the record where an error that a request is about went at one block, as it does when somebody cleans or
 * adjusts. Only asks: the record has to come from those who did the work.
 * @param residual difference of a unit to the sample, in tolerances
 */
export function noteUnrecordedWork(
  context: PointContext,
  state: PointState,
  pair: LoggedPair,
  residual: (unit: number) => number,
): void {
  state.fold.units.forEach((unit, i) => {
    const analyzer = context.analyzers[i]
    const paired = pair.units[i]
    const log = state.analyzers[i]?.log
    if (analyzer === undefined || paired == null || log === undefined || !isAskedAbout(unit)) return
    const before = median(unit.grab.recentResiduals)
    const now = residual(i)
    if (Math.abs(before) < WAS || Math.abs(now) > IS) return
    const changeNtu = (now - before) * paired.toleranceNtu
    const step = largestStep(log, pair.dueMs, previousDueMs(state, pair))
    if (step === undefined || step.ntu * changeNtu <= 0 || Math.abs(step.ntu) < AT_ONCE * Math.abs(changeNtu)) return
    unit.case.recordAskedMs = pair.dueMs
    const sample = pair.sampleId === null ? 'the grab sample' : `grab sample ${pair.sampleId}`
    state.fold.notes.push({
      key: `unrecorded ${analyzer.id} ${String(step.atMs)}`,
      atMs: pair.dueMs,
      type: 'reference.suspect',
      data: {
        summary: `${analyzer.id} ${step.ntu < 0 ? 'fell' : 'rose'} by ${sayNtu(Math.abs(step.ntu))} NTU at about ${sayInstant(step.atMs)} and agrees with ${sample} since; no work is on record: if it was cleaned or adjusted, hand in the record with its own time.`,
        notify: 'shift_summary',
        reference: 'work_record',
        analyzer: analyzer.id,
        point: context.point.id,
        at: formatInstant(step.atMs),
        because: [
          `it read ${sayNtu(Math.abs(before) * paired.toleranceNtu)} NTU ${before < 0 ? 'low' : 'high'} by the grab samples before, ${sayNtu(Math.abs(now) * paired.toleranceNtu)} NTU ${now < 0 ? 'low' : 'high'} by ${sample}`,
        ],
        ask: 'hand in the record of what was done, with its own time; say so where nothing was done',
      },
    })
  })
}

function isAskedAbout(unit: UnitFold): unit is UnitFold & { case: Case } {
  return unit.case?.kind === 'bias' && unit.case.phase === 'open' && unit.grab.recentResiduals.length > 0
}

function previousDueMs(state: PointState, pair: LoggedPair): number {
  return state.pairs.findLast(one => one !== pair && one.use === 'used')?.dueMs ?? pair.dueMs
}

/** The largest difference between two blocks and the two before them, later than `fromMs`. */
function largestStep(log: BlockLog, untilMs: number, fromMs: number): { ntu: number; atMs: number } | undefined {
  let largest: { ntu: number; atMs: number } | undefined
  const firstMs = Math.max(fromMs, untilMs - MOST_BLOCKS * BLOCK_MS)
  for (let atMs = untilMs - 2 * BLOCK_MS; atMs > firstMs; atMs -= BLOCK_MS) {
    const [after, before] = [levelAt(log, atMs + 2 * BLOCK_MS), levelAt(log, atMs)]
    if (after === undefined || before === undefined) continue
    const ntu = after - before
    if (largest === undefined || Math.abs(ntu) > Math.abs(largest.ntu)) largest = { ntu, atMs }
  }
  return largest
}

/** Mean of the medians of two blocks, the later one ending at `endMs`. */
function levelAt(log: BlockLog, endMs: number): number | undefined {
  const [earlier, later] = [blockAt(log, endMs - BLOCK_MS), blockAt(log, endMs)]
  if (earlier === undefined || later === undefined || earlier.count === 0 || later.count === 0) return undefined
  return (earlier.medianNtu + later.medianNtu) / 2
}
