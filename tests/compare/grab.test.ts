import { describe, expect, it } from 'vitest'
import { comparePairUnit, laboratoryVariance, oneOfBothTimes, pairDueMs } from '../../src/compare/grab.js'
import { learnOffset, newOffsetLearner } from '../../src/compare/laboratoryOffset.js'
import { toleranceAt } from '../../src/model/tolerance.js'
import { HOUR_MS, MINUTE_MS } from '../../src/model/time.js'
import { type BlockLog, putBlock } from '../../src/qualify/blockLog.js'
import { BLOCK_MS } from '../../src/qualify/openBlock.js'
import { analyzerOf, grab, plantOf, pointOf, START_MS } from '../model/plantFixture.js'
import { blockEnding, logOf } from '../qualify/blocks.js'

const PLAN = pointOf('SW', plantOf()).grab
const always = () => true
const AT_MS = START_MS + 6 * HOUR_MS
const UNTIL_MS = START_MS + 12 * HOUR_MS
const flat = logOf(START_MS, UNTIL_MS, () => 0.05)

/** Each five-minute slot holds its own number, counted from the begin. */
const numbered = logOf(START_MS, UNTIL_MS, atMs => Math.floor((atMs - START_MS) / (5 * MINUTE_MS)) / 1_000)
const slotAt = (atMs: number) => Math.floor((atMs - START_MS) / (5 * MINUTE_MS)) / 1_000

function compared(log: BlockLog, sampledMs: number, stated: object = {}, usable: (endMs: number) => boolean = always) {
  const analyzer = analyzerOf({ ...stated })
  return comparePairUnit(grab(sampledMs, 0.05), PLAN, analyzer, log, usable, pairDueMs([analyzer], sampledMs))
}

describe('the window of a grab', () => {
  it.each([
    [0, 0],
    [300, 1],
    [-300, -1],
    [-1_800, -6],
    [3_600, 12],
  ])('lies five minutes each way round sampling time plus %d s', (transportDelayS, slots) => {
    const unit = compared(numbered, AT_MS + 2.5 * MINUTE_MS, { transportDelayS })
    expect(unit?.ntu).toBeCloseTo(slotAt(AT_MS) + slots / 1_000, 7)
  })

  it('weighs the five-minute medians by what lies inside', () => {
    // From 06:01 to 06:11: four, five and one minutes of three slots.
    const unit = compared(numbered, AT_MS + 6 * MINUTE_MS)
    const first = slotAt(AT_MS)
    expect(unit?.ntu).toBeCloseTo((4 * first + 5 * (first + 0.001) + first + 0.002) / 10, 7)
  })

  it('needs every block it touches', () => {
    const lacking = (endMs: number) => (end: number) => end !== endMs
    const sampledMs = AT_MS + 13 * MINUTE_MS // touches the blocks that end at 06:15 and 06:30
    expect(compared(flat, sampledMs)).toBeDefined()
    expect(compared(flat, sampledMs, {}, lacking(AT_MS + BLOCK_MS))).toBeUndefined()
    expect(compared(flat, sampledMs, {}, lacking(AT_MS + 2 * BLOCK_MS))).toBeUndefined()
    expect(compared(flat, sampledMs, {}, lacking(AT_MS + 3 * BLOCK_MS))).toBeDefined()
    expect(compared(flat, UNTIL_MS + HOUR_MS)).toBeUndefined()
  })

  it('takes the slots that have a value, and none where none has', () => {
    const log = logOf(START_MS, UNTIL_MS, () => 0.05)
    const slots = (slotsNtu: [number, number, number]) =>
      putBlock(log, blockEnding(AT_MS + BLOCK_MS, { slotsNtu, medianNtu: 0.08 }))
    slots([NaN, 0.08, NaN])
    expect(compared(log, AT_MS + 7.5 * MINUTE_MS)?.ntu).toBeCloseTo(0.08, 7)
    slots([NaN, NaN, NaN])
    expect(compared(log, AT_MS + 7.5 * MINUTE_MS)).toBeUndefined()
  })

  it('is due when its last block has closed, at the slowest unit', () => {
    const units = [
      analyzerOf({ transportDelayS: 40 }),
      analyzerOf({ transportDelayS: 900 }),
      analyzerOf({ transportDelayS: -600 }),
    ]
    expect(pairDueMs(units, AT_MS)).toBe(AT_MS + 2 * BLOCK_MS)
    expect(pairDueMs([units[2]!], AT_MS)).toBe(AT_MS + BLOCK_MS)
    expect(pairDueMs([analyzerOf()], AT_MS + 10 * MINUTE_MS)).toBe(AT_MS + BLOCK_MS)
    expect(pairDueMs([analyzerOf()], AT_MS + 10 * MINUTE_MS + 1_000)).toBe(AT_MS + 2 * BLOCK_MS)
  })
})

describe('uncertainty of a pair', () => {
  const sampledMs = AT_MS + 7.5 * MINUTE_MS
  const noise = (0.0005 * 0.0005) / 10 // ten of the block's fifteen readings
  const laboratory = 0.01 * 0.01 + (0.03 * 0.05) ** 2

  it('is the laboratory and the window in quiet water', () => {
    expect(compared(flat, sampledMs)?.uNtu).toBeCloseTo(Math.sqrt(laboratory + noise), 7)
  })

  it.each([0.02, 0.1, 0.6])('grows with %d NTU an hour times the uncertainty of the time, up or down', ntuPerHour => {
    for (const sign of [1, -1]) {
      const moving = logOf(START_MS, UNTIL_MS, atMs => 5 + (sign * ntuPerHour * (atMs - AT_MS)) / HOUR_MS)
      const time = (ntuPerHour / 3_600) * PLAN.timeUncertaintyS
      expect(compared(moving, sampledMs)?.uNtu).toBeCloseTo(Math.sqrt(laboratory + noise + time * time), 5)
    }
  })

  it('is handed over when it exceeds the tolerance: refusing is for the caller', () => {
    const storm = logOf(START_MS, UNTIL_MS, atMs => 1 + (20 * Math.abs(atMs - AT_MS)) / HOUR_MS)
    const unit = compared(storm, sampledMs)
    expect(unit!.uNtu).toBeGreaterThan(unit!.toleranceNtu)
  })

  it('goes with the tolerance at the level the analyzer shows', () => {
    const turbid = logOf(START_MS, UNTIL_MS, () => 30)
    const { tolerance } = analyzerOf()
    expect(compared(turbid, sampledMs)?.toleranceNtu).toBeCloseTo(toleranceAt(tolerance, 30), 6)
  })

  it.each<[string, Readonly<Record<string, unknown>>, number]>([
    ['a plan for the point', {}, 0.01 * 0.01 + (0.03 * 2) ** 2],
    ['four replicates', { replicates: 4 }, (0.01 * 0.01 + (0.03 * 2) ** 2) / 4],
    ['a stated uncertainty', { standardUncertainty: 0.05 }, 0.0025],
    ['a stated uncertainty, replicates or not', { standardUncertainty: 0.05, replicates: 9 }, 0.0025],
  ])('the laboratory part: %s', (_, more, expected) => {
    expect(laboratoryVariance(grab(AT_MS, 2, more), 2, PLAN)).toBeCloseTo(expected, 12)
  })

  it('the laboratory part: thousandths, and the step in which it reports', () => {
    const inThousandths = grab(AT_MS, 2_000, { unit: 'mNTU', standardUncertainty: 50 })
    expect(laboratoryVariance(inThousandths, 2, { ...PLAN, resolutionNtu: 0.12 })).toBeCloseTo(0.0025 + 0.0012, 12)
    expect(laboratoryVariance(grab(AT_MS, -0.01), -0.01, PLAN)).toBeCloseTo(1e-4, 12)
  })
})

describe('a sample at one of two instants', () => {
  const unit = (ntu: number, uNtu: number) => ({
    ntu,
    uNtu,
    toleranceNtu: 0.05,
    rateNtuPerH: 0,
    high: 0,
    low: 0,
    limit: 0,
  })

  it('is one comparison where both say the same within their uncertainty, half the difference added to it', () => {
    // By hand: √(0.012² + 0.004²) = 0.0126491.
    expect(oneOfBothTimes(unit(0.05, 0.01), unit(0.058, 0.012))).toMatchObject({ ntu: 0.054, uNtu: 0.0126491 })
    expect(oneOfBothTimes(unit(0.05, 0.01), unit(0.05, 0.01))).toEqual(unit(0.05, 0.01))
  })

  it('is none where they differ by more than the smaller uncertainty, whichever comes first', () => {
    expect(oneOfBothTimes(unit(0.05, 0.01), unit(0.061, 0.02))).toBeUndefined()
    expect(oneOfBothTimes(unit(0.061, 0.02), unit(0.05, 0.01))).toBeUndefined()
  })
})

describe('a result stated without any uncertainty', () => {
  it('is still read off a signal with steps: the difference is never known exactly', () => {
    const analyzer = analyzerOf({ resolutionNtu: 0.002 })
    const still = logOf(START_MS, UNTIL_MS, () => 0.05)
    for (let endMs = START_MS + BLOCK_MS; endMs <= UNTIL_MS; endMs += BLOCK_MS)
      putBlock(still, blockEnding(endMs, { medianNtu: 0.05, sigmaNtu: 0 }))
    const exact = grab(AT_MS, 0.05, { standardUncertainty: 0 })
    const unit = comparePairUnit(exact, PLAN, analyzer, still, always, pairDueMs([analyzer], AT_MS))!
    // A reading in steps of r is known to r/√12 (GUM, JCGM 100:2008, F.2.2.1, from memory).
    expect(unit.uNtu).toBeCloseTo(0.002 / Math.sqrt(12), 8)
    const learner = newOffsetLearner(PLAN)
    learnOffset(learner, PLAN, 0.01, unit.uNtu, unit.toleranceNtu)
    expect(Number.isFinite(learner.heldNtu)).toBe(true)
  })
})

describe('a late grab', () => {
  it('is compared with what a punctual one saw', () => {
    const sampledMs = AT_MS + 7.5 * MINUTE_MS
    const analyzer = analyzerOf()
    const dueMs = pairDueMs([analyzer], sampledMs)
    const punctual = logOf(START_MS, dueMs, atMs => 0.05 + (atMs - START_MS) / 1e9)
    const days = logOf(START_MS, START_MS + 9 * 24 * HOUR_MS, atMs => 0.05 + (atMs - START_MS) / 1e9)
    const from = (log: BlockLog) => comparePairUnit(grab(sampledMs, 0.05), PLAN, analyzer, log, always, dueMs)
    expect(from(days)).toEqual(from(punctual))
  })
})
