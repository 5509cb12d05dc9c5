import type { Analyzer, Plant } from '../../model/plant.js'
import { MINUTE_MS, SECOND_MS } from '../../model/time.js'
import { toleranceAt } from '../../model/tolerance.js'
import { type Block, type BlockLog, blockAt, FLAG, SLOTS } from '../../qualify/blockLog.js'
import { BLOCK_MS } from '../../qualify/openBlock.js'
import type { PlantState } from '../plantState.js'

/** Several analyzers lost their signal at one instant and came back with a step or settling. */
export interface PowerDip {
  /** Area of the plant, or null where the points have none. */
  readonly area: string | null
  readonly fromMs: number
  /** End of the block in which it began: from there the points are folded anew. */
  readonly blockMs: number
  /** Latest return of one of them. */
  readonly backMs: number
  readonly analyzers: readonly string[]
}

/** A dip is judged an hour after the block in which it began: it is short, and what came back has shown itself. */
export const JUDGED_AFTER_MS = 4 * BLOCK_MS
const LEAST_ANALYZERS = 3
const LEAST_POINTS = 2
/** Of those with a gap, so many must come back otherwise than they went: a gateway that was cut off does not do that. */
const LEAST_RESTARTED = 2
/** A block holds fewer readings than this share of what its interval promises. */
const GAP_SHARE = 0.85
const RAISED_SHARE = 0.02
/** Levels before a dip lie that close together, and a level after it that far off, in tolerances. */
const CALM = 0.3
const RESTART = 0.6

/** Dips that began in the block that ends at `blockMs`, by area, from the blocks alone. */
export function findDips(state: PlantState, plant: Plant, blockMs: number): PowerDip[] {
  if (!isWorthALook(state, plant, blockMs)) return []
  const byArea = new Map<string | null, { heard: number; disturbed: Disturbed[] }>()
  for (const point of state.points.values()) {
    const registered = plant.points.get(point.id)
    if (registered === undefined) continue
    const area = registered.area ?? null
    const found = byArea.get(area) ?? { heard: 0, disturbed: [] }
    byArea.set(area, found)
    registered.analyzers.forEach((id, i) => {
      const analyzer = plant.analyzers.get(id)
      const log = point.analyzers[i]?.log
      if (analyzer === undefined || log === undefined || blockAt(log, blockMs - BLOCK_MS) === undefined) return
      found.heard += 1
      const disturbed = disturbedAt(analyzer, log, blockMs)
      if (disturbed !== undefined) found.disturbed.push(disturbed)
    })
  }
  return [...byArea].flatMap(([area, { heard, disturbed }]) => {
    const points = new Set(disturbed.map(one => one.point))
    const gaps = disturbed.filter(one => one.gapMs !== null)
    const restarted = disturbed.filter(one => one.restarted)
    if (disturbed.length < Math.max(LEAST_ANALYZERS, heard / 2) || points.size < LEAST_POINTS) return []
    if (gaps.length * 2 < disturbed.length || restarted.length < LEAST_RESTARTED) return []
    return [
      {
        area,
        fromMs: Math.min(...gaps.map(one => one.gapMs ?? blockMs)),
        blockMs,
        backMs: Math.max(...disturbed.map(one => one.backMs)),
        analyzers: disturbed.map(one => one.analyzer).sort(),
      },
    ]
  })
}

/** Most blocks have no gap at all: nothing more is looked at then. */
function isWorthALook(state: PlantState, plant: Plant, blockMs: number): boolean {
  let gaps = 0
  for (const point of state.points.values()) {
    plant.points.get(point.id)?.analyzers.forEach((id, i) => {
      const analyzer = plant.analyzers.get(id)
      const log = point.analyzers[i]?.log
      if (analyzer !== undefined && log !== undefined && isGap(blockAt(log, blockMs), analyzer)) gaps += 1
    })
  }
  return gaps * 2 >= LEAST_ANALYZERS
}

interface Disturbed {
  readonly analyzer: string
  readonly point: string
  /** Begin of the first five minutes without a reading; null where only the level jumped. */
  readonly gapMs: number | null
  readonly backMs: number
  readonly restarted: boolean
}

/** What an analyzer shows of a dip in a block; undefined where it reads on, was in work, or has not come back. */
function disturbedAt(analyzer: Analyzer, log: BlockLog, blockMs: number): Disturbed | undefined {
  const at = blockAt(log, blockMs)
  const before = [2, 1].map(k => blockAt(log, blockMs - k * BLOCK_MS))
  const [older, newer] = before
  if (older === undefined || newer === undefined || before.some(one => isGap(one, analyzer))) return undefined
  if (analyzer.transmission.mode === 'on_change' || isExcused(at) || before.some(isExcused)) return undefined
  const toleranceNtu = toleranceAt(analyzer.tolerance, newer.medianNtu)
  if (Math.abs(newer.medianNtu - older.medianNtu) > CALM * toleranceNtu) return undefined
  const after = [1, 2, 3, 4].flatMap(k => {
    const block = blockAt(log, blockMs + k * BLOCK_MS)
    return block === undefined || isGap(block, analyzer) ? [] : [block]
  })
  const [first] = after
  if (first === undefined) return undefined
  const shown = [...(at?.slotsNtu ?? []), ...after.flatMap(block => block.slotsNtu)].filter(ntu => !Number.isNaN(ntu))
  const restarted = shown.some(ntu => Math.abs(ntu - newer.medianNtu) > RESTART * toleranceNtu)
  const gapMs = isGap(at, analyzer) ? gapFrom(at, blockMs) : null
  if (gapMs === null && !restarted) return undefined
  return { analyzer: analyzer.id, point: analyzer.point, gapMs, backMs: first.endMs - BLOCK_MS, restarted }
}

/** Work and a feed that is known to be down explain themselves. */
function isExcused(block: Block | undefined): boolean {
  return block !== undefined && (block.flags & (FLAG.inWork | FLAG.feedDown)) !== 0
}

function isGap(block: Block | undefined, analyzer: Analyzer): boolean {
  if (block === undefined || (block.flags & (FLAG.fault | FLAG.badQuality)) !== 0) return true
  // What bubbles, or a steep rise taken for them, raised is not missing.
  if (block.bubbleShare > RAISED_SHARE) return false
  const expected = BLOCK_MS / (analyzer.intervalS * SECOND_MS)
  return expected >= 1 && block.count < GAP_SHARE * Math.floor(expected)
}

/** The first five minutes without a reading; where each has some, the gap goes over the block's end. */
function gapFrom(block: Block | undefined, blockMs: number): number {
  const empty = block === undefined ? 0 : block.slotsNtu.findIndex(Number.isNaN)
  return blockMs - BLOCK_MS + ((empty < 0 ? SLOTS - 1 : empty) * BLOCK_MS) / SLOTS
}

/** Over once none of them settles any more. */
export function isSettledAgain(state: PlantState, plant: Plant, dip: PowerDip): boolean {
  return dip.analyzers.every(id => {
    const point = plant.points.get(plant.analyzers.get(id)?.point ?? '')
    const unit = state.points.get(point?.id ?? '')?.fold.units[point?.analyzers.indexOf(id) ?? -1]
    return unit?.gate.settlingSinceMs == null
  })
}

export function dipEndSentence({ area, fromMs, analyzers }: PowerDip): string {
  return `The ${String(analyzers.length)} analyzers${area === null ? '' : ` of ${area}`} that lost their signal at about ${clockOf(fromMs)} UTC have settled; their readings count again.`
}

export function dipSentence({ area, fromMs, backMs, analyzers }: PowerDip): string {
  const minutes = Math.max(5, Math.round((backMs - fromMs) / MINUTE_MS / 5) * 5)
  return `${String(analyzers.length)} analyzers${area === null ? '' : ` of ${area}`} lost their signal together at about ${clockOf(fromMs)} UTC, back within ${String(minutes)} min with a step or settling: one cause, likely a dip of the power; look at supply and settings; steps that stay are judged one by one.`
}

function clockOf(atMs: number): string {
  return new Date(atMs).toISOString().slice(11, 16)
}
