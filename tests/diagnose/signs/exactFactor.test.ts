import { describe, expect, it } from 'vitest'
import {
  type FactorLook,
  type FactorState,
  judgeFactor,
  judgeReturn,
  newFactorState,
  SIMPLE_FACTORS,
  takeFactor,
} from '../../../src/diagnose/signs/exactFactor.js'
import { DAY_MS, HOUR_MS } from '../../../src/model/time.js'
import { type BlockLog, newBlockLog, putBlock } from '../../../src/qualify/blockLog.js'
import { BLOCK_MS } from '../../../src/qualify/openBlock.js'
import { madSigma, median } from '../../../src/statistics/robust.js'
import { analyzerOf } from '../../model/plantFixture.js'
import { normalSource } from '../../statistics/random.js'

const START_MS = Date.UTC(2026, 4, 1)
const CHANGED_MS = START_MS + 2 * DAY_MS + 130 * 60_000
const READ_MS = 60_000

interface Plan {
  readonly seed?: number
  readonly waterNtu?: (atMs: number) => number
  /** What arrives of what is shown. */
  readonly arrives?: (shownNtu: number, atMs: number) => number
  readonly second?: boolean
  readonly workMs?: number
  readonly noise?: number
}

/** Three days of one or two units; @returns the factor found last, and how often one was found */
function foundIn({
  seed = 1,
  waterNtu = () => 0.14,
  arrives = ntu => ntu,
  second = false,
  workMs,
  noise = 0.03,
}: Plan) {
  const normal = normalSource(seed)
  const state = newFactorState()
  const log = newBlockLog()
  const other = newBlockLog()
  const look: FactorLook = {
    analyzer: analyzerOf({ tolerance: { absoluteNtu: 0.05, relative: 0.1 }, resolutionNtu: 0.0005 }),
    log,
    others: second ? [other] : [],
    isExplained: (fromMs, toMs) => workMs !== undefined && workMs > fromMs - 6 * HOUR_MS && workMs <= toMs,
  }
  let times = 0
  let last = state.found
  for (let endMs = START_MS + BLOCK_MS; endMs <= START_MS + 3 * DAY_MS; endMs += BLOCK_MS) {
    put(log, endMs, atMs => arrives(waterNtu(atMs) * (1 + noise * normal()), atMs))
    put(other, endMs, atMs => waterNtu(atMs) * (1 + noise * normal()))
    takeFactor(state, look, endMs)
    if (state.found !== null && state.found !== last) times += 1
    last = state.found ?? last
  }
  return { found: state.found, last, times }
}

function put(log: BlockLog, endMs: number, read: (atMs: number) => number): void {
  const values = Array.from({ length: 15 }, (_, k) => read(endMs - BLOCK_MS + k * READ_MS))
  const slot = (k: number) => median(values.slice(5 * k, 5 * k + 5))
  putBlock(log, {
    endMs,
    medianNtu: median(values),
    sigmaNtu: madSigma(values),
    slotsNtu: [slot(0), slot(1), slot(2)],
    count: 15,
    bubbleShare: 0,
    flags: 0,
  })
}

const scaled = (factor: number) => (ntu: number, atMs: number) => (atMs < CHANGED_MS ? ntu : ntu * factor)
const storm = (atMs: number) => {
  const hours = (atMs - CHANGED_MS) / HOUR_MS
  return 0.14 * (hours < 0 ? 1 : 1 + 2 * Math.min(1, hours / 3))
}
/** Stagnant water, backwash, and a ripening peak that falls in fifty minutes. */
const restart = (atMs: number) => {
  const minutes = (atMs - CHANGED_MS) / 60_000
  return minutes < 0 ? 0.4 : minutes < 20 ? 0.9 : 0.06 + 0.84 * Math.max(0, 1 - (minutes - 20) / 50)
}
const swings = (atMs: number) => 0.14 * (1 + 0.5 * Math.sin(atMs / (3 * HOUR_MS)))

describe('an exact factor in the signal path', () => {
  it.each(SIMPLE_FACTORS.filter(factor => factor > 0.05))(
    '%d is found beside another unit, though the water moves',
    factor => {
      const { found } = foundIn({ second: true, waterNtu: swings, arrives: scaled(factor) })
      expect(found?.factor).toBe(factor)
      expect(Math.abs((found?.sinceMs ?? 0) - CHANGED_MS)).toBeLessThanOrEqual(BLOCK_MS)
    },
  )

  it.each([0.5, 2, 0.1, 10])('%d is found alone where the water stands still, and has to be borne out', factor => {
    const { found } = foundIn({ arrives: scaled(factor) })
    expect(found?.factor).toBe(factor)
    expect(found?.borneOut).toBe(false)
  })

  it('is over when the values are back at their scale', () => {
    const back = CHANGED_MS + 12 * HOUR_MS
    const { found, times } = foundIn({
      second: true,
      arrives: (ntu, atMs) => (atMs < back ? scaled(2)(ntu, atMs) : ntu),
    })
    expect(found).toBeNull()
    expect(times).toBe(1)
  })

  it.each<[string, Plan]>([
    ['a process change by half', { second: true, waterNtu: atMs => (atMs < CHANGED_MS ? 0.14 : 0.07) }],
    ['a storm', { second: true, waterNtu: storm }],
    ['a storm, one unit', { waterNtu: storm }],
    ['a restart of a filter', { second: true, waterNtu: restart }],
    ['a restart of a filter, one unit', { waterNtu: restart }],
    ['a span error of −40 %', { second: true, arrives: scaled(0.6) }],
    ['a zero error that halves the level', { second: true, arrives: (ntu, t) => (t < CHANGED_MS ? ntu : ntu - 0.07) }],
    ['the same, one unit', { arrives: (ntu, t) => (t < CHANGED_MS ? ntu : ntu - 0.07) }],
    [
      'a halving by drift over hours',
      { arrives: (ntu, t) => ntu * (t < CHANGED_MS ? 1 : Math.max(0.5, 1 - (t - CHANGED_MS) / (8 * HOUR_MS))) },
    ],
    [
      'a reading near zero',
      { second: true, arrives: (ntu, t) => Math.round(1_000 * (ntu - (t < CHANGED_MS ? 0.131 : 0.1355))) / 1_000 },
    ],
    ['a factor at a visit', { second: true, arrives: scaled(0.5), workMs: CHANGED_MS - HOUR_MS }],
  ])('is not called for %s', (_, plan) => {
    for (const seed of [1, 2, 3]) expect(foundIn({ ...plan, seed }).times).toBe(0)
  })

  it('is seldom called for water that jumps by any factor, one unit', () => {
    let called = 0
    const n = 300
    for (let seed = 1; seed <= n; seed++) {
      const factor = Math.exp(Math.log(12) * (2 * (seed / n) - 1))
      // The noise of the readings stays what it is where the water alone changes.
      const after = (ntu: number, atMs: number) => (atMs < CHANGED_MS ? ntu : 0.14 * factor + (ntu - 0.14))
      if (foundIn({ seed, arrives: after }).times > 0) called += 1
    }
    expect(called).toBeLessThanOrEqual(n / 50)
  })

  it.each([
    ['the grab sample stays where it was', 0.52, true, true],
    ['the grab sample went with it', 0.98, false, null],
    ['the grab sample is too uncertain to say', 0.72, false, true],
  ])('%s', (_, ratioNow, borneOut, stays) => {
    const state: FactorState = newFactorState()
    state.found = { factor: 0.5, sinceMs: 0, beforeNtu: 0.09, afterNtu: 0.045, borneOut: false, backAtScale: 0 }
    judgeFactor(state, 1, ratioNow, 0.2)
    expect(state).toMatchObject(stays === null ? { found: null } : { found: { factor: 0.5, borneOut } })
  })

  it.each<[string, readonly number[], boolean]>([
    ['two in a row show the values back at their scale', [0.5, 0.97, 1.04], true],
    ['one alone does not', [0.5, 0.97, 0.52, 1.04], false],
    ['between both scales nothing is shown', [0.75, 0.72, 0.77], false],
    ['a sample without a reading says nothing', [1, 0], false],
  ])('of grab samples after it was borne out, %s', (_, ratios, isOver) => {
    const state: FactorState = newFactorState()
    const found = { factor: 0.5, sinceMs: 0, beforeNtu: 0.09, afterNtu: 0.045, borneOut: true, backAtScale: 0 }
    Object.assign(state, { found })
    for (const ratio of ratios) judgeReturn(state, 1, ratio)
    expect(state.found === null).toBe(isOver)
  })

  it('is over with work on record as well, which explains no other change', () => {
    const back = CHANGED_MS + 12 * HOUR_MS
    const arrives = (ntu: number, atMs: number) => (atMs < back ? scaled(2)(ntu, atMs) : ntu)
    const { found, times } = foundIn({ second: true, arrives, workMs: back - HOUR_MS })
    expect([found, times]).toEqual([null, 1])
  })
})
