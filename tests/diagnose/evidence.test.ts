import { describe, expect, it } from 'vitest'
import { UNIT_INNOVATION } from '../../src/compare/redundant.js'
import { type EvidenceRows, layOutEvidence, type PointEvidence } from '../../src/diagnose/evidence.js'
import { NO_SHIFT } from '../../src/diagnose/laboratory.js'
import { DAY_MS, HOUR_MS } from '../../src/model/time.js'
import { START_MS } from '../model/plantFixture.js'
import { evidenceInput, observed, type Truth } from './synthetic.js'

const truth: Truth = {
  units: 3,
  days: 10,
  perDay: 2,
  u: 0.2,
  levelNtu: () => 0.2,
  biasNtu: (unit, _, ntu) => (unit === 2 ? 0.1 * ntu : 0),
  seed: 1,
}
const at = (day: number) => START_MS + day * DAY_MS
/** What else an interval of the laboratory holds. */
const NAMED = { likely: NO_SHIFT, points: [], reference: null } as const
const squares = (weights: readonly number[]) => weights.reduce((sum, weight) => sum + weight * weight, 0)
const total = (weights: readonly number[]) => weights.reduce((sum, weight) => sum + weight, 0)
/** Prior variance of what a series holds all the time. */
const levelVariance = ({ offsetVariances }: PointEvidence, { loading }: EvidenceRows) =>
  loading.reduce((sum, share, k) => sum + share * share * offsetVariances[k]!, 0)

/**
 * Variance of a mean of an AR(1) process: (1 + ρ)/(1 − ρ) times that of independent values (Bartlett 1946, from
 * memory); ρ is 0.4 at six hours, the innovation UNIT_INNOVATION, and the mean is over three units.
 */
const slow = (hours: number) => {
  const rho = 0.4 ** (hours / 6)
  return (UNIT_INNOVATION ** 2 * (1 + rho)) / ((1 - 0.4 ** 2) * (1 - rho) * 3)
}

describe('laying out evidence', () => {
  const laid = layOutEvidence(evidenceInput(truth))
  const grabs = laid.series.filter(rows => rows.line === 'grab')
  const contrasts = laid.series.filter(rows => rows.line === 'contrast')

  it('a grab enters once, as the mean of the units', () => {
    expect(grabs).toHaveLength(1)
    expect(grabs[0]?.timesMs).toHaveLength(20)
    const [first] = observed(truth).pairs
    const mean = first!.units.reduce((sum, unit) => sum + (unit!.ntu - first!.grabNtu) / unit!.toleranceNtu, 0) / 3
    expect(grabs[0]?.y[0]).toBeCloseTo(mean, 9)
    expect(grabs[0]?.weights[0]).toEqual([1 / 3, 1 / 3, 1 / 3])
  })

  it('differences enter as contrasts that are free of the level, of length 1 and at right angles', () => {
    expect(contrasts).toHaveLength(2)
    const [a, b] = contrasts.map(rows => rows.weights[0]!)
    expect(total(a!)).toBeCloseTo(0, 12)
    expect(total(b!)).toBeCloseTo(0, 12)
    expect(squares(a!)).toBeCloseTo(1, 12)
    expect(squares(b!)).toBeCloseTo(1, 12)
    expect(a!.reduce((sum, weight, i) => sum + weight * b![i]!, 0)).toBeCloseTo(0, 12)
  })

  it('differences are whitened against the one before, but not over a gap', () => {
    const input = evidenceInput(truth)
    const gap = layOutEvidence({ ...input, differences: input.differences.filter((_, i) => i !== 5) })
    const phi = gap.series.find(rows => rows.line === 'contrast')!.phi
    expect(phi.slice(0, 8)).toEqual([0, 0.4, 0.4, 0.4, 0.4, 0, 0.4, 0.4])
  })

  it('evidence from before adjusting work of a unit is left out for that unit', () => {
    const since = layOutEvidence(evidenceInput(truth, { sinceMs: [0, 0, at(5)] }))
    const keys = since.series.filter(rows => rows.line === 'grab').map(rows => rows.weights[0])
    expect(keys).toEqual([
      [0.5, 0.5, 0],
      [1 / 3, 1 / 3, 1 / 3],
    ])
    for (const rows of since.series)
      rows.weights.forEach((weights, i) => {
        if (rows.timesMs[i]! <= at(5)) expect(weights[2]).toBe(0)
      })
  })

  it('only pairs in use enter, and none from before the begin', () => {
    const input = evidenceInput(truth)
    const uses = ['used', 'suspect', 'second_bottle', 'laboratory_interval'] as const
    const pairs = input.pairs.map((pair, i) => ({ ...pair, use: uses[i % 4]! }))
    const timesMs = layOutEvidence({ ...input, pairs, fromMs: at(5) })
      .series.filter(rows => rows.line === 'grab')
      .flatMap(rows => rows.timesMs)
    const expected = pairs.filter(
      pair => pair.atMs >= at(5) && (pair.use === 'used' || pair.use === 'laboratory_interval'),
    )
    expect(timesMs).toEqual(expected.map(pair => pair.atMs))
  })

  it('a bound that is kept says nothing, one that is broken does', () => {
    const input = evidenceInput({ ...truth, units: 1 })
    const bound = (grabNtu: number) => ({ ...input.pairs[0]!, grabNtu, qualifier: '<' as const })
    const rows = (grabNtu: number) =>
      layOutEvidence({ ...input, differences: [], pairs: [bound(grabNtu)] }).series.flatMap(one => one.timesMs).length
    expect(rows(5)).toBe(0)
    expect(rows(0.05)).toBe(1)
  })

  it('pairs inside an interval of the laboratory have the shift taken off and a level of their own', () => {
    const laboratoryIntervals = [{ laboratoryInstrument: null, fromMs: at(4), untilMs: at(7), shift: -1.5, ...NAMED }]
    const shifted = layOutEvidence(evidenceInput(truth, { laboratoryIntervals }))
    const [outside, inside] = shifted.series.filter(rows => rows.line === 'grab')
    expect(inside?.timesMs.every(atMs => atMs >= at(4) && atMs < at(7))).toBe(true)
    expect(outside!.timesMs.length + inside!.timesMs.length).toBe(20)
    expect(levelVariance(shifted, inside!)).toBeGreaterThan(1)
    expect(levelVariance(shifted, outside!)).toBeLessThan(0.1)
    const plain = grabs[0]!
    const k = plain.timesMs.indexOf(inside!.timesMs[0]!)
    expect(inside?.y[0]).toBeCloseTo(plain.y[k]! + 1.5, 9)
  })

  it('a grab says the less of a slow mismatch the sooner it follows another', () => {
    const input = evidenceInput(truth)
    const [first] = input.pairs
    const pairs = [6, 18, 36].map(hours => ({ ...first!, atMs: START_MS + hours * HOUR_MS }))
    const [rows] = layOutEvidence({ ...input, pairs, differences: [] }).series
    expect(rows?.variance[0]).toBeCloseTo(0.2 ** 2 + slow(Infinity), 12)
    expect(rows?.variance[1]).toBeCloseTo(0.2 ** 2 + slow(12), 12)
    expect(rows?.variance[2]).toBeCloseTo(0.2 ** 2 + slow(18), 12)
  })

  it('bottles of less than six hours share the slow mismatch but not the noise of the laboratory', () => {
    const input = evidenceInput({ ...truth, units: 1 })
    const [first] = input.pairs
    const bottle = (hours: number, ofTolerance: number, u = 0.2) => ({
      ...first!,
      atMs: START_MS + hours * HOUR_MS,
      units: [{ ...first!.units[0]!, ntu: first!.grabNtu + ofTolerance * 0.05, uNtu: u * 0.05, toleranceNtu: 0.05 }],
    })
    const pairs = [bottle(6, 0), bottle(18, 0.2), bottle(18.6, 0.5, 0.1), bottle(19.5, 0.8), bottle(24, 0)]
    const [rows] = layOutEvidence({ ...input, pairs, differences: [] }).series
    expect(rows?.timesMs.map(atMs => (atMs - START_MS) / HOUR_MS)).toEqual([6, 18, 24])
    // Mean weighted by precision, 25, 100 and 25; variance of such a mean plus the slow part, which is in all of them.
    expect(rows?.y[1]).toBeCloseTo((25 * 0.2 + 100 * 0.5 + 25 * 0.8) / 150, 9)
    expect(rows?.variance[1]).toBeCloseTo(1 / 150 + 3 * slow(12), 9)
    expect(rows?.variance[2]).toBeCloseTo(0.2 ** 2 + 3 * slow(6), 9)
  })

  it("a constant offset of the laboratory is the series' own and what is known of it is taken off", () => {
    const net = layOutEvidence(evidenceInput(truth, { offset: { ntu: 0.02, variance: 1e-4 } }))
    expect(net.series[0]!.y[0]).toBeCloseTo(grabs[0]!.y[0]! - 0.02 / 0.05, 9)
    const more = levelVariance(net, net.series[0]!) - levelVariance(laid, grabs[0]!)
    // What is known of the offset has variance 1e-4 NTU², in tolerances of 0.05 NTU.
    expect(more).toBeCloseTo(0.04, 5)
    const { offsetVariances } = layOutEvidence(evidenceInput(truth, { offset: { ntu: 0, variance: 0 } }))
    expect(offsetVariances[3]).toBeGreaterThan(0)
    expect(offsetVariances[3]).toBeLessThan(1e-5)
  })

  it('every unit has one standing offset, whichever values it enters; only grabs carry the laboratory', () => {
    const { series, offsetVariances } = layOutEvidence(evidenceInput(truth, { sinceMs: [0, 0, at(5)] }))
    // A healthy unit stands within a fifth of the tolerance (common practice, no source).
    expect(offsetVariances).toHaveLength(4)
    for (const variance of offsetVariances.slice(0, 3)) expect(variance).toBeCloseTo(0.04, 12)
    expect(new Set(series.map(rows => rows.line))).toEqual(new Set(['grab', 'contrast']))
    for (const rows of series) {
      expect(rows.loading.slice(3)).toEqual([rows.line === 'grab' ? 1 : 0])
      for (const weights of rows.weights) expect(rows.loading.slice(0, 3)).toEqual(weights)
    }
  })

  it('whitening leaves of a constant what it leaves of every value', () => {
    for (const rows of laid.series) for (const [i, g] of rows.g.entries()) expect(g).toBeCloseTo(1 - rows.phi[i]!, 14)
  })

  it('each interval of the laboratory has a shift of its own', () => {
    const laboratoryIntervals = [
      { laboratoryInstrument: null, fromMs: at(2), untilMs: at(4), shift: -1, ...NAMED },
      { laboratoryInstrument: null, fromMs: at(7), untilMs: null, shift: 1, ...NAMED },
    ]
    const { series, offsetVariances } = layOutEvidence(evidenceInput(truth, { laboratoryIntervals }))
    expect(offsetVariances.slice(4)).toEqual([1, 1])
    const shares = series.filter(rows => rows.line === 'grab').map(rows => rows.loading.slice(3))
    expect(shares).toEqual([
      [1, 0, 0],
      [1, 1, 0],
      [1, 0, 1],
    ])
    for (const rows of series.filter(one => one.line === 'contrast')) expect(rows.loading.slice(3)).toEqual([0, 0, 0])
  })

  it('knows no begin but its own where there is no evidence', () => {
    const none = layOutEvidence(evidenceInput({ ...truth, units: 1, perDay: 0 }))
    expect(none).toMatchObject({ series: [], fromMs: START_MS, units: 1 })
  })
})
