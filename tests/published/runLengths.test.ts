import { describe, expect, it } from 'vitest'
import { cappedArl, oneSidedArl, twoSidedArl } from '../../src/statistics/cusumRunLength.js'
import { driftArl } from '../../src/statistics/driftRunLength.js'
import { runLengthQuantile } from '../../src/statistics/runLengthDistribution.js'
import { steadyStateArl } from '../../src/statistics/steadyStateRunLength.js'
import { expectWithin, readReference } from './reference.js'

interface ChartInput {
  readonly chart?: string
  readonly sided: 'one' | 'two'
  readonly k: number
  readonly h: number
  readonly headStart: number
  readonly mu: number
  readonly start?: string
  readonly mu0?: number
}
interface CappedInput {
  readonly k: number
  readonly h: number
  readonly cap: number
  readonly shift: number
  readonly headStart: number
}
interface Expected {
  readonly arl: number
}

function arlOf({ sided, k, h, headStart, mu }: ChartInput): number {
  return (sided === 'one' ? oneSidedArl : twoSidedArl)({ k, h, headStart, shift: mu })
}

// Standards item C4: Lucas and Crosier 1982, Technometrics 24:199, table 1 (h = 4); Montgomery, table 9.3 (h = 5, partly
// from memory). Printed at the digits of the books; FIR: both sides start at h/2.
describe('two-sided run lengths, k = 0.5, by Lucas and Crosier and by Montgomery', () => {
  it.each([
    [0, 168, 149, 465, 430],
    [0.25, 74.2, 62.7, 139, 122],
    [0.5, 26.6, 20.1, 38, 28.7],
    [0.75, 13.3, 8.97, 17, 11.2],
    [1, 8.38, 5.29, 10.4, 6.35],
    [1.5, 4.75, 2.86, 5.75, 3.37],
    [2, 3.34, 2.01, 4.01, 2.36],
    [2.5, 2.62, 1.59, 3.11, 1.86],
    [3, 2.19, 1.32, 2.57, 1.54],
    [4, 1.71, 1.07, 2.01, 1.16],
    [5, 1.31, 1.01, 1.69, 1.02],
  ])('shift %d', (shift, h4, h4Fir, h5, h5Fir) => {
    for (const [h, headStart, printed] of [
      [4, 0, h4],
      [4, 2, h4Fir],
      [5, 0, h5],
      [5, 2.5, h5Fir],
    ] as const) {
      const decimals = printed >= 100 ? 1 : printed >= 10 ? 0.1 : 0.01
      expectWithin(twoSidedArl({ k: 0.5, h, shift, headStart }), printed, { absolute: 0.5 * decimals * 1.11 }, `h ${h}`)
    }
  })
})

// Standards item C5: printed values quoted in the manual of the R package spc, exact ones recomputed.
describe('more published run lengths', () => {
  it.each([
    ['Brook and Evans 1972, mean 0', 'one', 0.5, 3, 0, 0, 117.5957],
    ['Brook and Evans 1972, mean 1.5', 'one', 0.5, 3, 1.5, 0, 3.7491],
    ['Waldmann 1986, mean -0.5', 'one', 0.5, 3, -0.5, 0, 1962.79],
    ['Waldmann 1986, two sides', 'two', 0.6, 3, -0.2, 0, 65.4646],
    ['Vance 1986, k 0, mean 0', 'one', 0, 10, 0, 0, 124.662],
    ['Vance 1986, k 0, mean 1', 'one', 0, 10, 1, 0, 10.747],
    ['SAS/QC 1999', 'one', 0.25, 8, 2.5, 0, 4.1500837],
    ['SAS/QC 1999, head start', 'one', 0.25, 8, 2.5, 0.1, 4.1061588],
  ] as const)('%s', (_name, sided, k, h, mu, headStart, arl) => {
    expectWithin(arlOf({ sided, k, h, mu, headStart }), arl, { relative: 1e-5, absolute: arl > 10 ? 5e-4 : 0 }, 'ARL')
  })

  // Waldmann 1986, table 2 prints 345, 82, 9 for h 3; h 4 and h 5 are own recomputations.
  it.each([
    [3, 9, 82, 345],
    [4, 22, 234, 995],
    [5, 54, 647, 2776],
  ])('quantiles of the run length at h %d', (h, low, middle, high) => {
    const quantileAt = (p: number) => runLengthQuantile({ k: 0.5, h, shift: 0, p })
    expectWithin(quantileAt(0.05), low, { absolute: 1 }, '5 %')
    expectWithin(quantileAt(0.5), middle, { absolute: 1 }, '50 %')
    expectWithin(quantileAt(0.95), high, { absolute: 1 }, '95 %')
  })
})

// Standards item C6: Gan 1992, table 1, k 0.25, h 8; own recomputation at 0.005, where the paper has another first mean.
describe('run lengths under a slow drift', () => {
  it.each([
    [0.0001, 475, 0.5],
    [0.0005, 261, 0.5],
    [0.001, 187, 0.5],
    [0.002, 129, 0.5],
    [0.005, 77.17, 0.01],
    [0.01, 52, 0.05],
    [0.02, 35.2, 0.05],
    [0.05, 21.4, 0.05],
    [0.1, 15, 0.05],
    [0.5, 6.95, 0.005],
    [1, 5.16, 0.005],
    [3, 3.3, 0.005],
  ])('%d per value', (driftPerValue, arl, half) => {
    expectWithin(driftArl({ k: 0.25, h: 8, driftPerValue }), arl, { absolute: half }, 'ARL')
  })

  it('are the printed 76.3 at 0.005 per value if the first value has drifted already', () => {
    const arl = driftArl({ k: 0.25, h: 8, driftPerValue: 0.005, firstMean: 0.005 })
    expectWithin(arl, 76.3, { absolute: 0.05 }, 'ARL')
  })
})

// Standards item C7: Siegmund's approximation (Siegmund 1985), under 1 % off at shifts up to 1 with h ≥ 4.
describe("Siegmund's approximation", () => {
  it.each([
    [4, 0, 338.09],
    [5, 0, 938.22],
    [5, 0.5, 38.02],
    [5, 1, 10.34],
  ])('h %d, shift %d', (h, shift, approximation) => {
    expectWithin(oneSidedArl({ k: 0.5, h, shift }), approximation, { relative: 0.01 }, 'ARL')
  })
})

// Interval arithmetic of 160 bits, checked by R package spc; steady state: R package spc; three simulations of 400 000
// runs: reference/cusum-arl.json.
describe('grid of run lengths', () => {
  const all = readReference<ChartInput, Expected>('cusum-arl')
  const steady = all.filter(({ input }) => input.start === 'steady')
  const entries = all.filter(({ input }) => input.start === undefined)
  const groups = new Map<string, (typeof entries)[number][]>()
  for (const entry of entries) {
    const name = `${entry.input.sided}-sided k ${entry.input.k} h ${entry.input.h}`
    groups.set(name, [...(groups.get(name) ?? []), entry])
  }
  it.each([...groups])('%s', (_name, group) => {
    for (const { id, input, expected, tolerance } of group) expectWithin(arlOf(input), expected.arl, tolerance, id)
  })

  it.each(steady.map(entry => [entry.id, entry] as const))('%s', (id, { input, expected, tolerance }) => {
    const arl = steadyStateArl({ k: input.k, h: input.h, shift: input.mu, shiftBefore: input.mu0 ?? NaN })
    expectWithin(arl, expected.arl, tolerance, id)
  })

  it('has the whole reference grid', () => {
    expect(steady).toHaveLength(36)
    expect(steady.length + entries.length).toBe(879)
  })
})

// Printed tables as quoted by R package spc: reference/published-run-lengths.json.
describe('printed tables', () => {
  const entries = readReference<ChartInput, Expected>('published-run-lengths').filter(e => e.input.chart === 'cusum')
  it.each(entries.map(entry => [entry.id, entry.source.version, entry] as const))('%s, %s', (id, _source, entry) => {
    expectWithin(arlOf(entry.input), entry.expected.arl, entry.tolerance, id)
  })

  it('are all there', () => {
    expect(entries).toHaveLength(38)
  })
})

// Second discretisation, Markov chain and simulation: reference/cusum-capped.json.
describe('run lengths with capped increments', () => {
  const entries = readReference<CappedInput, Expected>('cusum-capped')
  it.each(entries.map(entry => [entry.id, entry] as const))('%s', (id, { input, expected }) => {
    const { k, h, cap, shift, headStart } = input
    expectWithin(cappedArl({ k, h, cap, shift, headStart }), expected.arl, { relative: 1e-6 }, id)
  })

  it('has the whole reference grid', () => {
    expect(entries).toHaveLength(85)
  })
})
