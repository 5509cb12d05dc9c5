import { describe, expect, it } from 'vitest'
import type { Work } from '../../src/model/messages.js'
import { HOUR_MS } from '../../src/model/time.js'
import type { Exclusion } from '../../src/model/vocabulary.js'
import { type Block, FLAG, newBlockLog, putBlock } from '../../src/qualify/blockLog.js'
import { advanceGate, type GateState, newGateState } from '../../src/qualify/gate.js'
import { BLOCK_MS } from '../../src/qualify/openBlock.js'
import { analyzerOf, START_MS, work } from '../model/plantFixture.js'
import { normalSource } from '../statistics/random.js'
import { blockEnding, logOf } from './blocks.js'

const ANALYZER = analyzerOf()
const CAP_MS = 6 * HOUR_MS
const at = (hours: number) => START_MS + hours * HOUR_MS
const flat = () => 0.06

interface Run {
  readonly level?: (atMs: number) => number
  readonly works?: readonly Work[]
  readonly hours: number
  readonly capMs?: number
  readonly change?: (endMs: number) => Partial<Block>
}

/** Runs the gate over the hours. @returns state and, by hour of the block's end, why it does not count */
function run({ level = flat, works = [], hours, capMs = CAP_MS, change }: Run) {
  const log = logOf(START_MS, at(hours), level)
  const state: GateState = newGateState()
  const reasons = new Map<number, Exclusion | undefined>()
  for (let endMs = START_MS + BLOCK_MS; endMs <= at(hours); endMs += BLOCK_MS) {
    if (change !== undefined) putBlock(log, blockEnding(endMs, { medianNtu: level(endMs), ...change(endMs) }))
    const own = works.filter(one => one.atMs >= endMs - BLOCK_MS && one.atMs < endMs)
    reasons.set((endMs - START_MS) / HOUR_MS, advanceGate(state, own, endMs, log, ANALYZER, capMs))
  }
  const counted = [...reasons].filter(([, reason]) => reason === undefined).map(([hour]) => hour)
  return { state, reasons, counted }
}

describe('the gate', () => {
  it('lets everything through where nobody works', () => {
    expect(run({ hours: 3 }).counted).toHaveLength(12)
  })

  it('counts nothing from maintenance on to settled after maintenance off', () => {
    const { reasons, counted, state } = run({
      hours: 8,
      works: [work(at(2), 'maintenance_on'), work(at(4), 'maintenance_off')],
    })
    expect(counted.filter(hour => hour > 2 && hour <= 5)).toEqual([4.75, 5])
    expect([reasons.get(2.25), reasons.get(4), reasons.get(4.25), reasons.get(4.5), reasons.get(4.75)]).toEqual([
      'maintenance',
      'maintenance',
      'maintenance',
      'settling',
      undefined,
    ])
    expect(state.maintenanceSinceMs).toBeNull()
  })

  it('any work asks for settling, without a maintenance flag too', () => {
    const { counted } = run({ hours: 6, works: [work(at(2.1), 'cleaned')] })
    expect(counted.filter(hour => hour > 2 && hour < 3.25)).toEqual([3])
  })

  it('stays closed while nobody ends the maintenance', () => {
    const { counted, state } = run({ hours: 48, works: [work(at(2), 'maintenance_on')] })
    expect(Math.max(...counted)).toBe(2)
    expect(state.maintenanceSinceMs).toBe(at(2))
  })

  // Scenario S34: maintenance off at 10:00, sinking from 0.30 to 0.06 NTU until 13:00.
  const sinking = (atMs: number) => Math.max(0.06, 0.3 - (0.08 * (atMs - at(10))) / HOUR_MS)
  const s34 = { level: sinking, hours: 20, works: [work(at(8), 'maintenance_on'), work(at(10), 'maintenance_off')] }

  it('scenario S34: counts again when the reading stands still, not after a fixed wait', () => {
    const { counted, state } = run(s34)
    const first = counted.find(hour => hour > 10)
    expect(first).toBeGreaterThanOrEqual(13)
    expect(first).toBeLessThanOrEqual(13.75)
    expect(state.didNotSettleAtMs).toBeNull()
  })

  it('scenario S34: past the cap it says that the reading did not settle', () => {
    const { state, reasons } = run({ ...s34, hours: 12.5, capMs: 2 * HOUR_MS })
    expect(state.didNotSettleAtMs).toBe(at(12.25))
    expect(state.settlingSinceMs).toBeNull()
    expect(reasons.get(12)).toBe('settling')
  })

  it('"did not settle" is taken back when the reading stands still after all', () => {
    expect(run({ ...s34, capMs: 2 * HOUR_MS }).state.didNotSettleAtMs).toBeNull()
  })

  it('the next work takes "did not settle" back', () => {
    const works = [...s34.works, work(at(15), 'cleaned')]
    expect(run({ ...s34, works, capMs: 2 * HOUR_MS }).state.didNotSettleAtMs).toBeNull()
  })

  it('a restless reading is not settled however flat its mean', () => {
    const normal = normalSource(34)
    const restless = () => 0.06 + 0.05 * normal()
    const { counted } = run({ level: restless, hours: 8, works: [work(at(1), 'maintenance_off')] })
    expect(counted.filter(hour => hour > 1 && hour <= 7)).toEqual([])
  })

  it('takes the state field of the readings as work too', () => {
    const inWork = (endMs: number) => ({ flags: endMs > at(2) && endMs <= at(3) ? FLAG.inWork : 0 })
    const { reasons, counted, state } = run({ hours: 6, change: inWork })
    expect([reasons.get(2), reasons.get(2.25), reasons.get(3), reasons.get(3.25)]).toEqual([
      undefined,
      'maintenance',
      'maintenance',
      'settling',
    ])
    expect(counted.find(hour => hour > 3)).toBe(3.75)
    expect(state.inWorkSinceMs).toBeNull()
  })

  it.each([
    [FLAG.stuck, 'stuck'],
    [FLAG.fault, 'state_fault'],
    [FLAG.noFlow, 'no_flow'],
    [FLAG.beyondRange, 'beyond_range'],
    [FLAG.badQuality, 'quality_bad'],
    [FLAG.levelNotRecoverable, 'level_not_recoverable'],
    [FLAG.stuck | FLAG.noFlow | FLAG.badQuality, 'stuck'],
  ])('flags %d close it as %s', (flags, reason) => {
    expect(run({ hours: 1, change: () => ({ flags }) }).reasons.get(1)).toBe(reason)
  })

  it('after a time without sample flow counts again when the reading stands still', () => {
    // Shut from two to four; what lay in the line washes out until five.
    const flushing = (atMs: number) => 0.06 + 0.2 * Math.max(0, Math.min(1, 1 - (atMs - at(4)) / HOUR_MS))
    const change = (endMs: number): Partial<Block> => ({
      slotsNtu: [flushing(endMs - BLOCK_MS), flushing(endMs - BLOCK_MS / 2), flushing(endMs)],
      flags: endMs > at(2) && endMs <= at(4) ? FLAG.noFlow : 0,
    })
    const { reasons, counted, state } = run({ hours: 8, level: flushing, change })
    expect([reasons.get(2), reasons.get(2.25), reasons.get(4), reasons.get(4.25)]).toEqual([
      undefined,
      'no_flow',
      'no_flow',
      'settling',
    ])
    expect(counted.find(hour => hour > 4)).toBeGreaterThanOrEqual(5)
    expect(counted.find(hour => hour > 4)).toBeLessThanOrEqual(5.75)
    expect(state.settlingAfter).toBe('no_flow')
  })

  it('has no usable reading where no block or no count is', () => {
    expect(run({ hours: 1, change: () => ({ count: 0, medianNtu: NaN }) }).reasons.get(1)).toBe('no_usable_reading')
    expect(advanceGate(newGateState(), [], at(1), newBlockLog(), ANALYZER, CAP_MS)).toBe('no_usable_reading')
  })
})
