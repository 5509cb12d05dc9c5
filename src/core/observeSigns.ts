import { takeDaylight } from '../diagnose/signs/daylight.js'
import { takeDisplay } from '../diagnose/signs/display.js'
import { judgeFactor, judgeReturn, takeFactor } from '../diagnose/signs/exactFactor.js'
import { takeLag } from '../diagnose/signs/lag.js'
import { takeNoise } from '../diagnose/signs/noise.js'
import { addCount } from '../model/exclusionCounts.js'
import type { Work } from '../model/messages.js'
import type { Analyzer } from '../model/plant.js'
import { HOUR_MS } from '../model/time.js'
import { offsetMinutes } from '../model/timeZone.js'
import { toWholeUnit } from '../model/units.js'
import { blockAt, FLAG } from '../qualify/blockLog.js'
import { isInWork } from '../qualify/gate.js'
import { blockEnd } from '../qualify/openBlock.js'
import { median } from '../statistics/robust.js'
import type { PointContext } from './context.js'
import type { PointState, UnitFold } from './pointState.js'

/** Work this long before a change of scale explains it. */
const EXPLAINS_MS = 6 * HOUR_MS
/** Pairs before the change that the ones after it are held against. */
const PAIRS_BEFORE = 5

/**
 * Gathers what the causes of an error leave behind besides the error: by hour of the day, by rate of change, at one
 * block, on the display.
 * @param works records of the block, by unit; @param row medians of the block, null where it does not count
 */
export function observeSigns(
  context: PointContext,
  state: PointState,
  works: readonly (readonly Work[])[],
  row: readonly (number | null)[],
  endMs: number,
): void {
  noteReturn(state)
  const offsetMin = row.length > 1 ? offsetMinutes(context.plant.timeZone, endMs) : 0
  state.fold.units.forEach((unit, i) => {
    const analyzer = context.analyzers[i]
    if (analyzer === undefined) return
    const own = row[i] ?? null
    const others = row.filter((value, k): value is number => value !== null && k !== i)
    const othersNtu = others.length > 0 ? median(others) : null
    takeLag(unit.signs.lag, own, othersNtu)
    if (own !== null) takeNoise(unit.signs.noise, endMs, blockAt(state.analyzers[i]!.log, endMs)?.sigmaNtu ?? 0)
    if (own !== null && othersNtu !== null)
      takeDaylight(unit.signs.daylight, endMs, offsetMin, own - othersNtu, othersNtu)
    for (const work of works[i] ?? []) takeNoted(state, unit, i, analyzer, work, endMs)
    if (own !== null || unit.signs.factor.found !== null) lookForFactor(state, unit, i, analyzer, endMs)
    judgeByPairs(state, unit, i, endMs)
  })
}

const KEPT_RETURNS = 12

/** A filter comes back to service after a backwash. */
function noteReturn({ fold }: PointState): void {
  const { state, sinceMs } = fold.service
  if (state !== 'in_service' || sinceMs === 0 || fold.returnsMs.at(-1) === sinceMs) return
  fold.returnsMs = [...fold.returnsMs.slice(-(KEPT_RETURNS - 1)), sinceMs]
}

/** The display as somebody wrote it down, beside what was recorded round that time. */
function takeNoted(state: PointState, unit: UnitFold, i: number, analyzer: Analyzer, work: Work, endMs: number): void {
  const { atMs, displayed, action } = work
  // An exchange or a repair begins another history of the signal.
  if (action === 'replaced' || action === 'part_replaced') {
    unit.signs.factor.found = null
    unit.signs.display.noted = null
  }
  const block = blockAt(state.analyzers[i]!.log, endMs)
  if (displayed === undefined || block === undefined || Number.isNaN(block.medianNtu)) return
  // While it reads a reference the outputs are often held: then the record has to differ.
  if (isReadOnReference(work)) return
  takeDisplay(unit.signs.display, atMs, toWholeUnit(displayed, analyzer.unit), block.medianNtu, {
    spreadNtu: block.sigmaNtu,
    stepNtu: analyzer.resolutionNtu,
  })
  // Where both agree the analyzer itself shows the changed values.
  if (unit.signs.display.noted?.differs === false) unit.signs.factor.found = null
}

/** What was displayed is what the record says was read in the cell of a reference. */
function isReadOnReference({ reference, displayed, asFound, asFoundClean, asLeft }: Work): boolean {
  return reference !== undefined && [reference.assigned, asFound, asFoundClean, asLeft].some(read => read === displayed)
}

function lookForFactor(state: PointState, unit: UnitFold, i: number, analyzer: Analyzer, endMs: number): void {
  const { fold } = state
  const wasFound = unit.signs.factor.found !== null
  takeFactor(
    unit.signs.factor,
    {
      analyzer,
      log: state.analyzers[i]!.log,
      others: state.analyzers.filter((_, k) => k !== i).map(({ log }) => log),
      isExplained: (fromMs, toMs) =>
        fold.service.sinceMs > fromMs || unit.works.some(({ atMs }) => atMs > fromMs - EXPLAINS_MS && atMs <= toMs),
    },
    endMs,
  )
  // Back at its scale, a note of the display from before tells nothing any more.
  const { factor, display } = unit.signs
  if (wasFound && factor.found === null) display.noted = null
}

/** Grab samples since the change say whether the water changed, or the signal alone. */
function judgeByPairs(state: PointState, unit: UnitFold, i: number, endMs: number): void {
  const { found } = unit.signs.factor
  if (found === null || state.pairs.at(-1)?.dueMs !== endMs) return
  const ratios = state.pairs.flatMap(({ atMs, use, qualifier, grabNtu, units }) => {
    const own = units[i]
    if ((use !== 'used' && use !== 'suspect') || qualifier !== null || own == null || grabNtu <= 0 || own.ntu <= 0)
      return []
    return [{ atMs, ratio: own.ntu / grabNtu, uRel: own.uNtu / grabNtu }]
  })
  const before = ratios.filter(({ atMs }) => atMs < found.sinceMs).slice(-PAIRS_BEFORE)
  const ratioBefore = before.length === 0 ? undefined : median(before.map(({ ratio }) => ratio))
  if (found.borneOut) {
    // A unit that was right reads what the laboratory does.
    judgeReturn(unit.signs.factor, ratioBefore ?? 1, ratioLeftOut(state, unit, i))
    return
  }
  const after = ratios.filter(({ atMs }) => atMs > found.sinceMs)
  if (ratioBefore === undefined || after.length === 0) return
  judgeFactor(
    unit.signs.factor,
    ratioBefore,
    median(after.map(({ ratio }) => ratio)),
    median(after.map(({ uRel }) => uRel)) / Math.sqrt(after.length),
  )
  if (unit.signs.factor.found?.borneOut === true) clearSample(state, unit)
}

/** The sample that bore it out waits for no other: it was right where the signal was not. */
function clearSample({ fold, pairs }: PointState, unit: UnitFold): void {
  const pair = pairs.at(-1)
  if (fold.units.length > 1 || pair?.use !== 'suspect') return
  pair.use = 'wrong_scale'
  fold.suspectMs = null
  addCount(unit.pairsExcluded, pair.use, 1)
}

/** Reading over grab sample of the newest pair, for a unit whose values are left out; 0 where it has none. */
function ratioLeftOut(state: PointState, { gate }: UnitFold, i: number): number {
  const pair = state.pairs.at(-1)
  if (pair?.qualifier !== null || pair.byMethod !== undefined || isInWork(gate)) return 0
  if (pair.use !== 'used' && pair.use !== 'suspect' && pair.use !== 'no_usable_reading') return 0
  const block = blockAt(state.analyzers[i]!.log, blockEnd(pair.atMs))
  if (block === undefined || (block.flags & ~FLAG.stuck) !== 0 || Number.isNaN(block.medianNtu)) return 0
  return pair.grabNtu > 0 ? block.medianNtu / pair.grabNtu : 0
}
