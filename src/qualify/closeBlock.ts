import { addCount } from '../model/exclusionCounts.js'
import type { Analyzer } from '../model/plant.js'
import { kept } from '../model/rounding.js'
import { HOUR_MS, MINUTE_MS } from '../model/time.js'
import type { Exclusion, ExclusionCounts } from '../model/vocabulary.js'
import { madSigma, median } from '../statistics/robust.js'
import { type Block, FLAG, SLOTS } from './blockLog.js'
import { judgeBubbles, UNRECOVERABLE_SHARE } from './bubbles.js'
import { BLOCK_MS, type OpenBlock } from './openBlock.js'
import { advanceStuck, newStuckState, type StuckState } from './stuck.js'

/** What condensing one analyzer carries from block to block. */
export interface CondenseState {
  /** Readings that counted in the last hour (at least the last 12), for the bubble test. */
  recentMs: number[]
  recentNtu: number[]
  readonly stuck: StuckState
}

export interface ClosedBlock {
  readonly block: Block
  readonly excluded: ExclusionCounts
  /** Median of the light source level, percent. */
  readonly lightPct: number | undefined
  /** Readings marked calibrating, one a minute at most: they tell whether a reference was read when it stood still. */
  readonly calibrating: readonly CalibratingReading[]
}

export interface CalibratingReading {
  readonly atMs: number
  readonly ntu: number
}

const WINDOW_READINGS = 13
/** Fast signals are thinned to this many readings an hour before the bubble test. */
const WINDOW_MOST = 120

export function newCondenseState(): CondenseState {
  return { recentMs: [], recentNtu: [], stuck: newStuckState() }
}

/** Sorts, removes conflicts, qualifies and condenses a block. Advances `state`. */
export function closeBlock(open: OpenBlock, analyzer: Analyzer, state: CondenseState): ClosedBlock {
  const excluded: ExclusionCounts = {}
  const entries = inOrder(open, excluded)
  let flags = flagsOf(entries)
  const counting = entries.filter(entry => entry.reason === '')
  let stuckReadings = 0
  for (const entry of counting) {
    if (analyzer.transmission.mode === 'periodic' && advanceStuck(state.stuck, entry.atMs, entry.valueNtu))
      stuckReadings += 1
  }
  if (stuckReadings > 0) flags |= FLAG.stuck
  const bubbles = judgeWithHour(counting, analyzer, state)
  if (bubbles.raisedShare > UNRECOVERABLE_SHARE) flags |= FLAG.levelNotRecoverable
  const used = counting.filter((_, i) => !bubbles.raised.has(i))
  addCount(excluded, 'bubble', counting.length - used.length)
  const values = used.map(entry => entry.valueNtu)
  // What it shows of a sample that stands still counts for nothing, but tells a filter at rest from a shut valve.
  const standing = entries.filter(entry => entry.reason === 'no_flow').map(entry => entry.valueNtu)
  const light = entries.map(entry => entry.lightPct).filter(level => level !== null)
  return {
    block: {
      endMs: open.endMs,
      medianNtu: medianOrNaN(values.length === 0 && (flags & FLAG.noFlow) !== 0 ? standing : values),
      sigmaNtu: values.length > 1 ? Math.fround(madSigma(values)) : 0,
      slotsNtu: slotMedians(used, open.endMs),
      count: values.length,
      bubbleShare: bubbles.raisedShare,
      flags,
    },
    excluded,
    lightPct: light.length > 0 ? median(light) : undefined,
    calibrating: calibratingReadings(entries),
  }
}

function calibratingReadings(entries: readonly Entry[]): CalibratingReading[] {
  const readings: CalibratingReading[] = []
  for (const { atMs, valueNtu, reason } of entries) {
    const last = readings.at(-1)
    if (reason !== 'state_calibrating' || (last !== undefined && atMs - last.atMs < MINUTE_MS)) continue
    readings.push({ atMs, ntu: kept(valueNtu) })
  }
  return readings
}

interface Entry {
  readonly atMs: number
  readonly valueNtu: number
  readonly reason: Exclusion | ''
  readonly lightPct: number | null
}

/** By time, value, reason and light; of two entries for one time the first wins, whichever came first. */
function inOrder(open: OpenBlock, excluded: ExclusionCounts): Entry[] {
  const entries = open.timesMs.map((atMs, i): Entry => {
    return {
      atMs,
      valueNtu: open.valuesNtu[i] ?? NaN,
      reason: open.reasons[i] ?? '',
      lightPct: open.lightPct[i] ?? null,
    }
  })
  entries.sort(
    (a, b) =>
      a.atMs - b.atMs ||
      a.valueNtu - b.valueNtu ||
      (a.reason < b.reason ? -1 : a.reason > b.reason ? 1 : 0) ||
      (a.lightPct ?? -1) - (b.lightPct ?? -1),
  )
  return entries.filter((entry, i) => {
    if (entry.atMs === entries[i - 1]?.atMs) {
      addCount(excluded, 'conflict', 1)
      return false
    }
    if (entry.reason !== '') addCount(excluded, entry.reason, 1)
    return true
  })
}

function flagsOf(entries: readonly Entry[]): number {
  let flags = 0
  const majority = (reason: Exclusion): boolean =>
    entries.filter(entry => entry.reason === reason).length * 2 > entries.length
  if (entries.some(entry => entry.reason === 'state_maintenance' || entry.reason === 'state_calibrating'))
    flags |= FLAG.inWork
  if (majority('no_flow')) flags |= FLAG.noFlow
  if (majority('beyond_range')) flags |= FLAG.beyondRange
  if (majority('quality_bad')) flags |= FLAG.badQuality
  if (majority('state_fault')) flags |= FLAG.fault
  return flags
}

function judgeWithHour(
  counting: readonly Entry[],
  analyzer: Analyzer,
  state: CondenseState,
): { raised: Set<number>; raisedShare: number } {
  const timesMs = [...state.recentMs, ...counting.map(entry => entry.atMs)]
  const valuesNtu = [...state.recentNtu, ...counting.map(entry => entry.valueNtu)]
  const endMs = timesMs.at(-1) ?? 0
  let first = timesMs.findIndex(atMs => atMs > endMs - HOUR_MS)
  first = Math.max(0, Math.min(first, timesMs.length - WINDOW_READINGS))
  const step = Math.max(1, Math.ceil((timesMs.length - first) / WINDOW_MOST))
  const kept = timesMs
    .map((_, i) => i)
    .filter(i => i >= timesMs.length - counting.length || (i >= first && (timesMs.length - 1 - i) % step === 0))
  const judgement = judgeBubbles(
    kept.map(i => valuesNtu[i] ?? NaN),
    kept.map(i => timesMs[i] ?? 0),
    analyzer.resolutionNtu,
  )
  const offset = timesMs.length - counting.length
  const raised = new Set(judgement.raised.map(k => (kept[k] ?? -1) - offset).filter(i => i >= 0))
  const carried = kept.slice(-Math.max(WINDOW_READINGS - 1, Math.min(WINDOW_MOST, kept.length)))
  state.recentMs = carried.map(i => timesMs[i] ?? 0)
  state.recentNtu = carried.map(i => valuesNtu[i] ?? 0)
  return { raised, raisedShare: judgement.raisedShare }
}

function slotMedians(used: readonly Entry[], endMs: number): readonly [number, number, number] {
  const slots: number[][] = Array.from({ length: SLOTS }, () => [])
  for (const entry of used) {
    const slot = Math.floor(((entry.atMs - (endMs - BLOCK_MS)) / BLOCK_MS) * SLOTS)
    slots[Math.max(0, Math.min(SLOTS - 1, slot))]?.push(entry.valueNtu)
  }
  const [a = [], b = [], c = []] = slots
  return [medianOrNaN(a), medianOrNaN(b), medianOrNaN(c)]
}

function medianOrNaN(values: readonly number[]): number {
  return values.length === 0 ? NaN : Math.fround(median(values))
}
