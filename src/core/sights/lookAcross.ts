import type { Plant } from '../../model/plant.js'
import { DAY_MS, HOUR_MS } from '../../model/time.js'
import { BLOCK_MS } from '../../qualify/openBlock.js'
import type { PlantState } from '../plantState.js'
import { exchangedNote, type ExchangedBottles, findExchanged, ROUND_MS } from './exchangedBottles.js'
import { findDips, JUDGED_AFTER_MS, type PowerDip } from './powerDip.js'
import { followProcess } from './processChange.js'

/** As long as a rebuild may reach back, and some days. */
const KEPT_MS = 14 * DAY_MS

/** From where pairs and blocks are others than at the last look. */
export interface Changed {
  readonly pairsFromMs: number
  readonly blocksFromMs: number
}

/**
 * Looks across all points of the plant with what was observed up to `endMs`. What was seen before stays as long as it
 * still follows from the pairs and blocks; where late records change them, it is looked at anew from there.
 * @returns by point, the block from which it must be folded anew
 */
export function lookAcross(state: PlantState, plant: Plant, changed: Changed, endMs: number): Map<string, number> {
  const touched = new Map<string, number>()
  const touch = (point: string, fromMs: number): void => {
    touched.set(point, Math.min(touched.get(point) ?? Infinity, fromMs))
  }
  lookForExchanged(state, plant, changed.pairsFromMs, endMs, touch)
  lookForDips(state, plant, changed.blocksFromMs, endMs, touch)
  if (endMs % HOUR_MS === 0) {
    const { sights } = state
    sights.processChanges = followProcess(sights.processChanges, state, plant, endMs).filter(
      one => one.untilMs === null || one.untilMs > endMs - KEPT_MS,
    )
  }
  return touched
}

type Touch = (point: string, fromMs: number) => void

function lookForExchanged(state: PlantState, plant: Plant, changedMs: number, endMs: number, touch: Touch): void {
  if (changedMs === Infinity) return
  const { sights } = state
  // A pair speaks for or against those of its round, and these for those of theirs.
  const fromMs = changedMs - 2 * ROUND_MS
  const isOld = ({ bottles }: ExchangedBottles): boolean => bottles.every(bottle => bottle.dueMs < fromMs)
  const known = new Set(sights.exchanged.map(keyOf))
  const found = findExchanged(state, plant, fromMs - 2 * ROUND_MS).filter(one => !isOld(one))
  const all = [
    ...sights.exchanged.filter(one => isOld(one) && one.bottles.some(bottle => bottle.dueMs > endMs - KEPT_MS)),
    ...found,
  ]
  const now = new Set(all.map(keyOf))
  for (const one of [...sights.exchanged, ...all]) {
    if (known.has(keyOf(one)) && now.has(keyOf(one))) continue
    if (one.bottles.every(bottle => bottle.dueMs > endMs - KEPT_MS))
      for (const bottle of one.bottles) touch(bottle.point, bottle.dueMs)
  }
  for (const one of all) if (!known.has(keyOf(one))) sights.notes.push(exchangedNote(one, endMs))
  sights.exchanged = all
}

function keyOf({ bottles: [one, other] }: ExchangedBottles): string {
  return `${one.point} ${one.key} ${other.point} ${other.key}`
}

function lookForDips(state: PlantState, plant: Plant, changedMs: number, endMs: number, touch: Touch): void {
  const { sights } = state
  const firstMs = Math.max(state.startedMs, Math.min(endMs, changedMs) - JUDGED_AFTER_MS)
  const before = sights.dips.filter(dip => dip.blockMs > endMs - KEPT_MS)
  const dips = before.filter(dip => dip.blockMs < firstMs)
  for (let blockMs = firstMs; blockMs <= endMs - JUDGED_AFTER_MS; blockMs += BLOCK_MS)
    dips.push(...findDips(state, plant, blockMs))
  const was = new Set(before.map(dipKey))
  const is = new Set(dips.map(dipKey))
  for (const dip of [...before, ...dips]) {
    if (was.has(dipKey(dip)) && is.has(dipKey(dip))) continue
    for (const analyzer of dip.analyzers) {
      const point = plant.analyzers.get(analyzer)?.point
      if (point !== undefined) touch(point, dip.blockMs)
    }
  }
  sights.dips = dips
}

function dipKey({ area, fromMs, analyzers }: PowerDip): string {
  return `${area ?? ''} ${String(fromMs)} ${analyzers.join()}`
}
