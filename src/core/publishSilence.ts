import type { PlantEvent } from '../model/events.js'
import type { Plant } from '../model/plant.js'
import { SECOND_MS } from '../model/time.js'
import { blockAt } from '../qualify/blockLog.js'
import { BLOCK_MS } from '../qualify/openBlock.js'
import { emit } from './emit.js'
import { findingData } from './findingData.js'
import type { PlantState, ToldFinding } from './plantState.js'

/** So many analyzers that fall silent within a block of each other have one cause. */
const MANY = 3
/** Those of a common cause come back within this of each other, or their silence is told as their own. */
const BACK_TOGETHER_MS = 2 * BLOCK_MS

export interface Silence {
  readonly events: PlantEvent[]
  /** Analyzers whose silence is told, or about to be told, by its common cause. */
  readonly hushed: ReadonlySet<string>
}

/**
 * Analyzers that fall silent together are told as one finding about the plant, as a network that is cut would have it,
 * and so is their return.
 */
export function publishSilence(state: PlantState, plant: Plant, nowMs: number): Silence {
  const endMs = nowMs - plant.latenessMs
  const silent = silentUnits(state, plant)
  const hushed = new Set<string>()
  const events: PlantEvent[] = []
  const tell = (one: ToldFinding, phase: 'began' | 'ended'): void => {
    events.push(
      emit(state, 'analyzer.finding', plant.plant, nowMs, findingData(state, plant, plant.plant, one, phase, nowMs)),
    )
  }
  for (const [key, one] of commonOnes(state)) {
    const joined = joinedBy(state, one, silent)
    const still = joined.filter(id => silent.has(id))
    const backSinceMs = still.length < joined.length ? (one.backSinceMs ?? nowMs) : undefined
    if (still.length > 0 && (backSinceMs === undefined || nowMs - backSinceMs < BACK_TOGETHER_MS)) {
      still.forEach(id => hushed.add(id))
      const { backSinceMs: _before, ...rest } = one
      state.published.findings.set(key, {
        ...rest,
        analyzers: joined,
        ...(backSinceMs === undefined ? {} : { backSinceMs }),
      })
      continue
    }
    state.published.findings.delete(key)
    tell({ ...one, analyzers: joined }, 'ended')
  }
  const untold = [...silent].filter(([id]) => !hushed.has(id) && !isTold(state, id)).sort(([, a], [, b]) => a - b)
  for (let first = untold[0]; first !== undefined; first = untold[0]) {
    const sinceMs = first[1]
    const together = untold
      .splice(0, untold.findLastIndex(([, atMs]) => atMs - sinceMs <= BLOCK_MS) + 1)
      .map(([id]) => id)
    if (together.length >= MANY) {
      const one: ToldFinding = {
        finding: 'many_silent',
        sinceMs,
        analyzer: null,
        point: null,
        analyzers: together.sort(),
      }
      state.published.findings.set(`${plant.plant} many_silent ${String(sinceMs)}`, one)
      tell(one, 'began')
    } else if (together.length + fallingSilent(state, plant, endMs) < MANY) continue
    // Others have just missed their first block: in another block one knows whether it is a common cause.
    together.forEach(id => hushed.add(id))
  }
  return { events, hushed }
}

function commonOnes(state: PlantState): [string, ToldFinding][] {
  return [...state.published.findings]
    .filter(([, one]) => one.finding === 'many_silent')
    .sort(([a], [b]) => (a < b ? -1 : 1))
}

/** Those concerned, with whoever is found later to have fallen silent at the same time. */
function joinedBy(state: PlantState, one: ToldFinding, silent: ReadonlyMap<string, number>): string[] {
  const known = one.analyzers ?? []
  const late = [...silent].flatMap(([id, sinceMs]) =>
    !known.includes(id) && !isTold(state, id) && Math.abs(sinceMs - one.sinceMs) <= BLOCK_MS ? [id] : [],
  )
  return [...known, ...late].sort()
}

function isTold(state: PlantState, analyzer: string): boolean {
  return state.published.findings.has(`${analyzer} silent`)
}

function silentUnits(state: PlantState, plant: Plant): Map<string, number> {
  const silent = new Map<string, number>()
  for (const point of state.points.values()) {
    plant.points.get(point.id)?.analyzers.forEach((id, i) => {
      const sinceMs = point.fold.units[i]?.findings.silent
      if (sinceMs !== undefined) silent.set(id, sinceMs)
    })
  }
  return silent
}

/** Analyzers that send in every block and were heard in the block before the newest and not in the newest. */
function fallingSilent(state: PlantState, plant: Plant, endMs: number): number {
  let n = 0
  for (const point of state.points.values()) {
    plant.points.get(point.id)?.analyzers.forEach((id, i) => {
      const log = point.analyzers[i]?.log
      const analyzer = plant.analyzers.get(id)
      const sendsAlways = analyzer?.transmission.mode === 'periodic' && analyzer.intervalS * SECOND_MS <= BLOCK_MS
      if (log === undefined || !sendsAlways) return
      if (blockAt(log, endMs) === undefined && blockAt(log, endMs - BLOCK_MS) !== undefined) n += 1
    })
  }
  return n
}
