import { describe, expect, it } from 'vitest'
import { STANDING_OFFSET } from '../../src/compare/laboratoryOffset.js'
import { DAY_MS } from '../../src/model/time.js'
import { START_MS } from '../model/plantFixture.js'
import { normalSource } from '../statistics/random.js'
import { estimateOf, posteriorOf, TOLERANCE, type Truth } from './synthetic.js'

const CASES = 200
const DAYS = 24

interface Drawn {
  readonly truth: Truth
  readonly biasNtu: number
  readonly onset: number
}

/** A unit with a zero error of random size, onset and shape in clean water, 3 grabs a day. */
function drawn(seed: number, ramp: boolean): Drawn {
  const normal = normalSource(seed * 7 + 1)
  const uniform = () => 0.5 + 0.5 * Math.tanh(0.8 * normal())
  const size = TOLERANCE.absoluteNtu * normal()
  const onset = 4 + 16 * uniform()
  const at = (day: number) => (day <= onset ? 0 : size * (ramp ? (day - onset) / (DAYS - onset) : 1))
  const truth: Truth = {
    units: 1,
    days: DAYS,
    perDay: 3,
    u: 0.28,
    levelNtu: day => 0.08 + 0.04 * Math.sin(day),
    biasNtu: (_, day) => at(day),
    seed,
  }
  return { truth, biasNtu: size, onset }
}

function coverage(ramp: boolean): { bias: number; onset: number } {
  let bias = 0
  let onset = 0
  for (let seed = 1; seed <= CASES; seed++) {
    const one = drawn(seed, ramp)
    const estimate = estimateOf(one.truth)
    if (one.biasNtu >= estimate.biasNtu.low && one.biasNtu <= estimate.biasNtu.high) bias += 1
    const began = START_MS + one.onset * DAY_MS
    const { onset: said } = estimate
    if (said === null || (began >= (said.earliestMs ?? 0) && began <= said.latestMs)) onset += 1
  }
  return { bias: bias / CASES, onset: onset / CASES }
}

describe('estimates', () => {
  it.each([
    ['steps', false],
    ['ramps', true],
  ])('the interval of the bias covers 88 to 100 in a hundred truths, %s', (_, ramp) => {
    const { bias, onset } = coverage(ramp)
    expect(bias).toBeGreaterThanOrEqual(0.88)
    expect(bias).toBeLessThanOrEqual(1)
    expect(onset).toBeGreaterThan(0.7)
  })

  it('probabilities go with the size', () => {
    const of = (size: number) =>
      estimateOf({ ...drawn(3, false).truth, biasNtu: (_, day) => (day > 12 ? size : 0) }, 0, { laboratoryGain: -8 })
    const [none, half, twice] = [of(0), of(0.025), of(0.1)]
    expect(none.pHalf).toBeLessThan(0.2)
    expect(half.pHalf).toBeGreaterThan(none.pHalf)
    expect(twice.pHalf).toBeGreaterThan(0.99)
    expect(twice.pOutside).toBeGreaterThan(0.99)
    expect(half.pOutside).toBeLessThan(0.1)
  })

  it('a ramp is carried on to the day it passes the tolerance', () => {
    // 0.0025 NTU a day since day 6: 0.045 at day 24, 0.05 two days later.
    const estimate = estimateOf({ ...drawn(3, true).truth, biasNtu: (_, day) => 0.0025 * Math.max(0, day - 6) })
    expect(estimate.pPassesIn7Days).toBeGreaterThan(0.6)
    expect(estimate.forecast).not.toBeNull()
    const days = (estimate.forecast!.toleranceAtMs - estimate.atMs) / DAY_MS
    expect(days).toBeGreaterThanOrEqual(1)
    expect(days).toBeLessThanOrEqual(7)
    expect(estimate.forecast!.earliestMs).toBeLessThanOrEqual(estimate.forecast!.toleranceAtMs)
  })

  it('a step is not carried on', () => {
    const estimate = estimateOf({ ...drawn(3, false).truth, biasNtu: (_, day) => (day > 20 ? 0.035 : 0) })
    expect(estimate.pPassesIn7Days).toBeLessThan(0.5)
  })

  it('an error from before the record has no earliest begin and none after now', () => {
    const estimate = estimateOf({ ...drawn(5, false).truth, biasNtu: () => 0.2 })
    const { onset } = estimate
    if (onset !== null) expect(onset.latestMs).toBeLessThanOrEqual(estimate.atMs)
    expect(onset?.earliestMs ?? null).toBeNull()
  })

  it('a unit that nobody blames has the standing offset that its own pairs show', () => {
    const [none, off] = [0, 0.01].map(ntu => estimateOf({ ...drawn(3, false).truth, biasNtu: () => ntu }))
    // 72 grabs leave little of the prior: 0.2 tolerances.
    expect(off!.biasNtu.value - none!.biasNtu.value).toBeGreaterThan(0.008)
    expect(off!.biasNtu.value - none!.biasNtu.value).toBeLessThan(0.0105)
    expect(off!.who.nobody).toBeGreaterThan(0.4)
  })

  it('two units without a grab: their difference is known, what either stands off is not', () => {
    const truth: Truth = {
      ...drawn(3, false).truth,
      units: 2,
      perDay: 0,
      biasNtu: unit => (unit === 0 ? 0.005 : -0.005),
    }
    const [a, b] = [estimateOf(truth, 0), estimateOf(truth, 1)]
    expect(a.biasNtu.value - b.biasNtu.value).toBeGreaterThan(0.005)
    // Half of the prior variance of each is in the mean of the two, of which differences say nothing.
    for (const { mean, sd } of posteriorOf(truth).standing) {
      expect(sd).toBeGreaterThan(STANDING_OFFSET / Math.SQRT2)
      expect(sd).toBeLessThan(1.1 * (STANDING_OFFSET / Math.SQRT2))
      expect(Math.abs(mean)).toBeLessThan(STANDING_OFFSET)
    }
    const grabbed = posteriorOf({ ...truth, perDay: 3 }).standing
    for (const { sd } of grabbed) expect(sd).toBeLessThan(0.6 * (STANDING_OFFSET / Math.SQRT2))
  })

  it('grabs from before a change still say where the unit stood: the change is known by them', () => {
    const step = (from: number): Truth => ({
      ...drawn(3, false).truth,
      biasNtu: (_, day) => 0.01 + (day > from ? 0.05 : 0),
    })
    const { biasNtu, model } = estimateOf(step(14), 0, { laboratoryGain: -8 })
    expect(Math.abs(biasNtu.value - 0.06)).toBeLessThan(0.01)
    expect(model?.zeroNtu.low).toBeLessThan(0.06)
    expect(model?.zeroNtu.high).toBeGreaterThan(0.06)
  })

  it('intervals hold their value and order', () => {
    for (let seed = 1; seed <= 20; seed++) {
      const { biasNtu, model } = estimateOf(drawn(seed, true).truth)
      for (const { value, low, high } of [biasNtu, ...(model === null ? [] : [model.zeroNtu, model.spanRel])]) {
        expect(low).toBeLessThanOrEqual(high)
        expect(value).toBeGreaterThanOrEqual(low - 0.01)
        expect(value).toBeLessThanOrEqual(high + 0.01)
      }
    }
  })
})
