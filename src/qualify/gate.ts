import type { Work } from '../model/messages.js'
import type { Analyzer } from '../model/plant.js'
import { toleranceAt } from '../model/tolerance.js'
import type { Exclusion } from '../model/vocabulary.js'
import { madSigma, median } from '../statistics/robust.js'
import { theilSen } from '../statistics/theilSen.js'
import { type Block, type BlockLog, blockAt, FLAG } from './blockLog.js'
import { isHeld } from './heldValue.js'
import { BLOCK_MS } from './openBlock.js'

/** Whether an analyzer's blocks count: nothing between the begin of work and the end of settling. */
export interface GateState {
  /** By work record; null while none is open. */
  maintenanceSinceMs: number | null
  /** By the state field of the readings. */
  inWorkSinceMs: number | null
  settlingSinceMs: number | null
  /** What it settles from. */
  settlingAfter: 'work' | 'no_flow' | 'restart'
  /** The cap passed before the reading settled; cleared when it does, or by the next work. */
  didNotSettleAtMs: number | null
}

export function newGateState(): GateState {
  return {
    maintenanceSinceMs: null,
    inWorkSinceMs: null,
    settlingSinceMs: null,
    settlingAfter: 'work',
    didNotSettleAtMs: null,
  }
}

/** By record or by the state of the readings. */
export function isInWork({ maintenanceSinceMs, inWorkSinceMs }: GateState): boolean {
  return maintenanceSinceMs !== null || inWorkSinceMs !== null
}

/** Blocks over which slope and spread are judged. */
export const SETTLE_BLOCKS = 3
/** Change over the window and spread about it, in tolerances, below which a reading is settled. */
const SETTLED_CHANGE = 0.4
const SETTLED_SPREAD = 0.3

/**
 * Takes the work records of a block and says why its readings do not count, or nothing where they do.
 * @param works records with a time inside the block, in order
 * @param endMs end of the block
 */
export function advanceGate(
  state: GateState,
  works: readonly Work[],
  endMs: number,
  log: BlockLog,
  analyzer: Analyzer,
  capMs: number,
): Exclusion | undefined {
  const touched = takeWorks(state, works)
  const block = blockAt(log, endMs)
  takeStateField(state, block, endMs)
  if (touched || isInWork(state)) return 'maintenance'
  const fault = block === undefined ? 'no_usable_reading' : faultOf(block)
  if (fault === 'no_flow') settleAfterFlow(state, endMs)
  if (state.settlingSinceMs === null) {
    if (state.didNotSettleAtMs !== null && isSettled(state.didNotSettleAtMs, endMs, log, analyzer))
      state.didNotSettleAtMs = null
    return fault
  }
  if (fault === undefined && isSettled(state.settlingSinceMs, endMs, log, analyzer)) {
    state.settlingSinceMs = null
    return undefined
  }
  if (endMs - state.settlingSinceMs > capMs) {
    state.didNotSettleAtMs = endMs
    state.settlingSinceMs = null
    return fault
  }
  return fault ?? 'settling'
}

/** A sample that stood in the cell has to be flushed out before its reading is the water's. */
function settleAfterFlow(state: GateState, endMs: number): void {
  if (state.settlingSinceMs === null) state.settlingAfter = 'no_flow'
  state.settlingSinceMs = endMs
}

/** What came back after a dip of the power warms up and fills anew. */
export function settleAfterRestart(state: GateState, atMs: number): void {
  if (state.settlingSinceMs === null) state.settlingAfter = 'restart'
  state.settlingSinceMs = Math.max(state.settlingSinceMs ?? 0, atMs)
}

function takeWorks(state: GateState, works: readonly Work[]): boolean {
  for (const work of works) {
    state.didNotSettleAtMs = null
    if (work.action === 'maintenance_on') state.maintenanceSinceMs = work.atMs
    else if (work.action === 'maintenance_off') state.maintenanceSinceMs = null
    state.settlingSinceMs = work.atMs
    state.settlingAfter = 'work'
  }
  return works.length > 0
}

function takeStateField(state: GateState, block: Block | undefined, endMs: number): void {
  if (block === undefined) return
  if ((block.flags & FLAG.inWork) !== 0) {
    state.inWorkSinceMs ??= endMs - BLOCK_MS
    state.settlingSinceMs = endMs
    state.settlingAfter = 'work'
  } else state.inWorkSinceMs = null
}

function faultOf(block: Block): Exclusion | undefined {
  if ((block.flags & FLAG.stuck) !== 0) return 'stuck'
  if ((block.flags & FLAG.fault) !== 0) return 'state_fault'
  if ((block.flags & FLAG.noFlow) !== 0) return 'no_flow'
  if ((block.flags & FLAG.beyondRange) !== 0) return 'beyond_range'
  if ((block.flags & FLAG.badQuality) !== 0) return 'quality_bad'
  if ((block.flags & FLAG.levelNotRecoverable) !== 0) return 'level_not_recoverable'
  return block.count === 0 && !isHeld(block) ? 'no_usable_reading' : undefined
}

/** Robust slope and spread of the five-minute medians since the work, over three blocks: not a fixed wait. */
function isSettled(sinceMs: number, endMs: number, log: BlockLog, analyzer: Analyzer): boolean {
  const hours: number[] = []
  const valuesNtu: number[] = []
  for (let k = SETTLE_BLOCKS - 1; k >= 0; k--) {
    const blockEndMs = endMs - k * BLOCK_MS
    const block = blockEndMs - BLOCK_MS >= sinceMs ? blockAt(log, blockEndMs) : undefined
    if (block === undefined) return false
    block.slotsNtu.forEach((ntu, slot) => {
      if (Number.isNaN(ntu)) return
      hours.push(slot / 12 + (SETTLE_BLOCKS - 1 - k) / 4)
      valuesNtu.push(ntu)
    })
  }
  if (valuesNtu.length < SETTLE_BLOCKS) return false
  const { slope, intercept } = theilSen(hours, valuesNtu)
  const toleranceNtu = toleranceAt(analyzer.tolerance, median(valuesNtu))
  const spreadNtu = madSigma(valuesNtu.map((ntu, i) => ntu - intercept - slope * (hours[i] ?? 0)))
  return Math.abs(slope) * 0.75 <= SETTLED_CHANGE * toleranceNtu && spreadNtu <= SETTLED_SPREAD * toleranceNtu
}
