import fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import {
  type ChangeScore,
  newChangeSums,
  offsetCoupling,
  type Offsets,
  scoreChange,
  solveOffsets,
} from '../../src/statistics/changePosterior.js'
import { type ChangedSeries, DenseChange, type DenseModel } from './denseChange.js'
import { addDirectly } from './directChange.js'
import { normalSource } from './random.js'

// The reference is the same model by the covariance of all its values; nothing outside the project holds this model.

const runs = { seed: 20_260_412, numRuns: 120 } // the seed only pins the generated cases

interface Plan {
  readonly offsets: number
  readonly lengths: readonly number[]
  readonly priorSd: number
  readonly priorMean: number
  readonly seed: number
}

const plan = fc.record({
  offsets: fc.integer({ min: 1, max: 6 }),
  lengths: fc.array(fc.integer({ min: 1, max: 14 }), { minLength: 1, maxLength: 4 }),
  priorSd: fc.constantFrom(0.02, 0.3, 1, 5),
  priorMean: fc.constantFrom(0, 0, -0.4, 2),
  seed: fc.integer({ min: 1, max: 1e6 }),
})

/** Offsets that series share, leave out or take against one another, and a change that some do not see. */
function modelOf({ offsets, lengths, priorSd, priorMean, seed }: Plan): DenseModel {
  const normal = normalSource(seed)
  const list = (n: number, one: () => number) => Array.from({ length: n }, one)
  const offsetVariances = list(offsets, () => 0.01 + normal() ** 2)
  const truth = offsetVariances.map(variance => Math.sqrt(variance) * normal())
  const size = priorMean + 2 * priorSd * normal()
  const series = lengths.map((n): ChangedSeries => {
    const loading = list(offsets, () => (normal() > 0.5 ? 0 : normal()))
    const mix = loading.reduce((sum, share, k) => sum + share * truth[k]!, 0)
    const g = list(n, () => (normal() > 0 ? 1 : 0.6))
    const sees = normal() > -0.7
    const f = list(n, () => (sees && normal() > -0.5 ? 0.5 + normal() : 0))
    const variance = list(n, () => 0.02 + 0.2 * normal() ** 2)
    const y = g.map((one, i) => one * mix + f[i]! * size + Math.sqrt(variance[i]!) * normal())
    return { y, variance, g, loading, f }
  })
  return { series, offsetVariances, priorSd, priorMean }
}

interface Scored {
  readonly score: ChangeScore
  readonly coupling: readonly number[]
  readonly offsets: Offsets
}

function scored({ series, offsetVariances, priorSd, priorMean }: DenseModel): Scored {
  const offsets = solveOffsets(series, offsetVariances)
  const sums = newChangeSums(offsetVariances.length)
  for (const one of series)
    addDirectly(sums, { ...one, effect: one.f, times: one.y.map((_, i) => i), phi: one.y.map(() => 0) }, () => 1)
  return { score: scoreChange(sums, offsets, priorSd, priorMean), coupling: offsetCoupling(sums, offsets), offsets }
}

function near(got: number, expected: number, scale: number): void {
  expect(Math.abs(got - expected)).toBeLessThanOrEqual(1e-9 * Math.max(Math.abs(expected), scale))
}

/** Each offset alone, and every two against one another: with those go the covariances. */
function mixes(count: number): number[][] {
  const ones = Array.from({ length: count }, (_, k) => Array.from({ length: count }, (__, i) => (i === k ? 1 : 0)))
  return ones.flatMap((a, k) => [a, ...ones.slice(k + 1).map(b => a.map((one, i) => one - b[i]!))])
}

function meanOf(mix: readonly number[], values: readonly number[]): number {
  return mix.reduce((sum, one, k) => sum + one * values[k]!, 0)
}

function varianceOf(mix: readonly number[], covariance: Offsets['covariance']): number {
  return meanOf(
    mix,
    covariance.map(row => meanOf(mix, row)),
  )
}

describe('offsets of series that share them', () => {
  it('are those of the values conditioned on directly, within 1e-9', () => {
    fc.assert(
      fc.property(plan, one => {
        const model = modelOf(one)
        const dense = new DenseChange(model)
        const { means, covariance } = solveOffsets(model.series, model.offsetVariances)
        for (const mix of mixes(one.offsets)) {
          const { mean, variance } = dense.unchanged(mix)
          near(meanOf(mix, means), mean, Math.sqrt(variance))
          near(varianceOf(mix, covariance), variance, 0)
        }
      }),
      runs,
    )
  })

  it('are the prior where no series holds them', () => {
    const series = [{ y: [3, 4], variance: [1, 1], g: [1, 1], loading: [0, 1] }]
    const { means, covariance } = solveOffsets(series, [0.3, 2])
    expect(means[0]).toBe(0)
    expect(covariance[0]).toEqual([0.3, 0])
    expect(solveOffsets([], [0.25, 4])).toEqual({
      means: [0, 0],
      covariance: [
        [0.25, 0],
        [0, 4],
      ],
    })
  })

  it('that two series share in opposite ways are known apart only in their difference', () => {
    const { covariance } = solveOffsets([{ y: [1], variance: [1e-6], g: [1], loading: [1, -1] }], [1, 1])
    expect(varianceOf([1, -1], covariance)).toBeCloseTo(1e-6, 9)
    expect(varianceOf([1, 1], covariance)).toBeCloseTo(2, 5)
  })
})

describe('a change of unknown size', () => {
  it('is weighed and sized as by the marginal likelihoods of all values, within 1e-9', () => {
    fc.assert(
      fc.property(plan, one => {
        const model = modelOf(one)
        const dense = new DenseChange(model)
        const { score } = scored(model)
        const { mean, variance } = dense.size()
        near(score.logEvidence, dense.logEvidence(), 1)
        near(score.mean, mean, Math.sqrt(variance))
        near(score.sd, Math.sqrt(variance), 0)
      }),
      runs,
    )
  })

  it('moves the offsets as its coupling says: sums of offsets and change are those conditioned on, within 1e-9', () => {
    fc.assert(
      fc.property(plan, fc.double({ min: -2, max: 2, noNaN: true }), (one, units) => {
        const model = modelOf(one)
        const dense = new DenseChange(model)
        const { score, coupling, offsets } = scored(model)
        for (const mix of mixes(one.offsets)) {
          const { mean, variance } = dense.combined(mix, units)
          const each = units - meanOf(mix, coupling)
          near(meanOf(mix, offsets.means) + each * score.mean, mean, Math.sqrt(variance))
          near(varianceOf(mix, offsets.covariance) + each * each * score.sd * score.sd, variance, 0)
        }
      }),
      runs,
    )
  })

  it('that no value sees keeps its prior, weighs nothing and moves no offset', () => {
    const model = modelOf({ offsets: 3, lengths: [5, 8], priorSd: 0.7, priorMean: 0.2, seed: 4 })
    const unseen = { ...model, series: model.series.map(one => ({ ...one, f: one.f.map(() => 0) })) }
    const { score, coupling } = scored(unseen)
    expect(score.logEvidence).toBeCloseTo(0, 14)
    expect(score.mean).toBeCloseTo(0.2, 14)
    expect(coupling).toEqual([0, 0, 0])
    expect(score.sd).toBeCloseTo(0.7, 14)
  })
})
