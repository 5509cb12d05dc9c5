import { describe, expect, it } from 'vitest'
import { layOutEvidence } from '../../src/diagnose/evidence.js'
import { DAY_MS } from '../../src/model/time.js'
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
const squares = (weights: readonly number[]) => weights.reduce((sum, weight) => sum + weight * weight, 0)
const total = (weights: readonly number[]) => weights.reduce((sum, weight) => sum + weight, 0)

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
    const laboratoryIntervals = [{ laboratoryInstrument: null, fromMs: at(4), untilMs: at(7), shift: -1.5 }]
    const series = layOutEvidence(evidenceInput(truth, { laboratoryIntervals })).series
    const [outside, inside] = series.filter(rows => rows.line === 'grab')
    expect(inside?.timesMs.every(atMs => atMs >= at(4) && atMs < at(7))).toBe(true)
    expect(outside!.timesMs.length + inside!.timesMs.length).toBe(20)
    expect(inside!.offsetSd).toBeGreaterThan(1)
    const plain = grabs[0]!
    const k = plain.timesMs.indexOf(inside!.timesMs[0]!)
    expect(inside?.y[0]).toBeCloseTo(plain.y[k]! + 1.5, 9)
  })

  it("a constant offset of the laboratory is the series' own and what is known of it is taken off", () => {
    const net = layOutEvidence(evidenceInput(truth, { offset: { ntu: 0.02, variance: 1e-4 } }))
    expect(net.series[0]!.y[0]).toBeCloseTo(grabs[0]!.y[0]! - 0.02 / 0.05, 9)
    expect(net.series[0]!.offsetSd).toBeGreaterThan(grabs[0]!.offsetSd)
  })

  it('knows no begin but its own where there is no evidence', () => {
    const none = layOutEvidence(evidenceInput({ ...truth, units: 1, perDay: 0 }))
    expect(none).toMatchObject({ series: [], fromMs: START_MS, units: 1 })
  })
})
