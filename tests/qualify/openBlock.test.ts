import fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import { closeBlock, newCondenseState } from '../../src/qualify/closeBlock.js'
import { FLAG } from '../../src/qualify/blockLog.js'
import { addReading, BLOCK_MS, blockEnd, openBlock } from '../../src/qualify/openBlock.js'
import type { Reading } from '../../src/model/messages.js'
import { analyzerOf, reading, START_MS } from '../model/plantFixture.js'

const ANALYZER = analyzerOf({ minFlowLMin: 0.2 })
const MINUTE = 60_000

function closed(readings: readonly Reading[], analyzer = ANALYZER) {
  const open = openBlock(START_MS + BLOCK_MS)
  const repeats = readings.filter(one => !addReading(open, one, analyzer)).length
  return { ...closeBlock(open, analyzer, newCondenseState()), repeats }
}

/** Few times and values, so that repeats and conflicts are the rule. */
const anyReading = fc
  .record({
    minute: fc.integer({ min: 0, max: 14 }),
    value: fc.constantFrom(0.03, 0.031, 0.032, 0.5, 2_000, -1),
    state: fc.constantFrom(undefined, 'measuring', 'maintenance', 'fault'),
    quality: fc.constantFrom(undefined, 'good', 'bad'),
    flowLMin: fc.constantFrom(undefined, 0.1, 0.5),
    lightSourcePct: fc.constantFrom(undefined, 98, 99),
    unit: fc.constantFrom('NTU', 'FNU'),
  })
  .map(({ minute, value, ...more }) => reading(START_MS + minute * MINUTE, value, more))

describe('an open block', () => {
  it('closes to the same block in whatever order its readings came, repeats and conflicts included', () => {
    fc.assert(
      fc.property(
        fc
          .array(anyReading, { maxLength: 40 })
          .chain(readings =>
            fc.tuple(fc.constant(readings), fc.shuffledSubarray(readings, { minLength: readings.length })),
          ),
        ([readings, shuffled]) => {
          expect(closed(shuffled)).toEqual(closed(readings))
        },
      ),
      { seed: 20_260_302, numRuns: 500 },
    )
  })

  it('counts every reading once: as used, excluded or repeated', () => {
    fc.assert(
      fc.property(fc.array(anyReading, { maxLength: 40 }), readings => {
        const { block, excluded, repeats } = closed(readings)
        const left = Object.values(excluded).reduce((sum, n) => sum + n, 0)
        expect(block.count + left + repeats).toBe(readings.length)
      }),
      { seed: 20_260_303, numRuns: 300 },
    )
  })

  it('is the same with any number of repeats', () => {
    const readings = [0.03, 0.031, 0.03, 0.032].map((value, i) => reading(START_MS + i * MINUTE, value))
    const once = closed(readings)
    const thrice = closed([...readings, ...readings, ...readings])
    expect({ ...thrice, repeats: 0 }).toEqual(once)
    expect(thrice.repeats).toBe(8)
  })

  it.each([
    ['another method', { unit: 'FNU' }, 'method_differs'],
    ['maintenance', { state: 'maintenance' }, 'state_maintenance'],
    ['calibrating', { state: 'calibrating' }, 'state_calibrating'],
    ['a fault', { state: 'fault' }, 'state_fault'],
    ['bad quality', { quality: 'bad' }, 'quality_bad'],
    ['no flow', { flowLMin: 0.1 }, 'no_flow'],
    ['the end of the range', { value: 1_000 }, 'beyond_range'],
    ['far below zero', { value: -20 }, 'beyond_range'],
  ])('leaves %s out and counts it', (_, change, reason) => {
    const { block, excluded } = closed([reading(START_MS, 0.03, change), reading(START_MS + MINUTE, 0.03)])
    expect(excluded).toEqual({ [reason]: 1 })
    expect(block.count).toBe(1)
  })

  it.each([
    ['a small negative value, which is an honest zero error', { value: -0.03 }],
    ['uncertain quality', { quality: 'uncertain' }],
    ['thousandths of a unit', { value: 30, unit: 'mNTU' }],
    ['zero', { value: 0 }],
  ])('keeps %s', (_, change) => {
    expect(closed([reading(START_MS, 0.03, change)])).toMatchObject({ block: { count: 1 }, excluded: {} })
  })

  it('marks work where any reading says so, and the rest by the majority', () => {
    const at = (i: number, more: object) => reading(START_MS + i * MINUTE, 0.03, { ...more })
    const flags = (...states: object[]) => closed(states.map((more, i) => at(i, more))).block.flags
    expect(flags({ state: 'maintenance' }, {}, {}, {})).toBe(FLAG.inWork)
    expect(flags({ state: 'fault' }, {}, {}, {})).toBe(0)
    expect(flags({ state: 'fault' }, { state: 'fault' }, {})).toBe(FLAG.fault)
    expect(flags({ flowLMin: 0 }, { flowLMin: 0 }, {})).toBe(FLAG.noFlow)
  })

  it('knows a flow of nothing for what it is where the register names no least flow, and keeps what it shows', () => {
    const open = openBlock(START_MS + BLOCK_MS)
    for (let i = 0; i < 3; i++)
      addReading(open, reading(START_MS + i * MINUTE, 0.03 + 0.01 * i, { flowLMin: 0 }), analyzerOf())
    const { block } = closeBlock(open, analyzerOf(), newCondenseState())
    expect([block.flags, block.count]).toEqual([FLAG.noFlow, 0])
    expect(block.medianNtu).toBeCloseTo(0.04, 6)
    expect(block.slotsNtu).toEqual([NaN, NaN, NaN])
  })

  it('gives median, five-minute medians and light level', () => {
    const readings = [0, 1, 6, 11, 12].map((minute, i) =>
      reading(START_MS + minute * MINUTE, 0.03 + 0.001 * i, { lightSourcePct: 90 + i }),
    )
    const { block, lightPct } = closed(readings)
    expect(block.medianNtu).toBeCloseTo(0.032, 7)
    expect(block.slotsNtu.map(ntu => Math.round(ntu * 1e4) / 1e4)).toEqual([0.0305, 0.032, 0.0335])
    expect(lightPct).toBe(92)
  })

  it('has no value where nothing counts', () => {
    const { block } = closed([reading(START_MS, 0.03, { quality: 'bad' })])
    expect(block).toMatchObject({ count: 0, medianNtu: NaN, slotsNtu: [NaN, NaN, NaN], flags: FLAG.badQuality })
  })
})

describe('blockEnd', () => {
  it.each([
    [0, BLOCK_MS],
    [BLOCK_MS - 1, BLOCK_MS],
    [BLOCK_MS, 2 * BLOCK_MS], // a reading on the boundary belongs to the block it begins
    [-1, 0],
  ])('%d', (offsetMs, expected) => {
    expect(blockEnd(START_MS + offsetMs)).toBe(START_MS + expected)
  })
})
