import { describe, expect, it } from 'vitest'
import { estimateUnit } from '../../src/diagnose/estimate.js'
import { type EvidenceInput, layOutEvidence, type PointEvidence } from '../../src/diagnose/evidence.js'
import { effectAt, type Hypothesis, shareAt } from '../../src/diagnose/hypothesis.js'
import { type PointPosterior, weighHypotheses } from '../../src/diagnose/posterior.js'
import { DAY_MS } from '../../src/model/time.js'
import { newChangeSums, offsetCoupling, scoreChange, solveOffsets } from '../../src/statistics/changePosterior.js'
import { normalCdf } from '../../src/statistics/distributions.js'
import { START_MS } from '../model/plantFixture.js'
import { DenseChange, type DenseModel, type Moments } from '../statistics/denseChange.js'
import { addDirectly, whitenedEffect, type WhitenedSeries } from '../statistics/directChange.js'
import { evidenceInput, found, type Truth } from './synthetic.js'

// The references are the model summed value by value, and the covariance of all its values; nothing outside the project
// holds this model.

const TOLERANCE_NTU = 0.06
/** What the other points say of the laboratory's error, tolerances. */
const LABORATORY = { gain: 0, mean: 0.6, sd: 0.4 }
const moving = (day: number) => 0.3 + 7.7 * (0.5 + 0.5 * Math.sin(day * 1.7))

/** The series as a hypothesis sees them, with the share of its change that is there at a time. */
function seenBy(
  { series }: PointEvidence,
  { who, kind, shape, onsetMs, widthMs, endedMs }: Hypothesis,
  atMs: number,
): { readonly all: readonly WhitenedSeries[]; readonly share: (timeMs: number) => number } {
  const all = series.map(rows => {
    const effect = rows.weights.map((weights, i) => {
      if (who === 'laboratory') return rows.line === 'grab' ? 1 : 0
      if (kind === 'fouling' && rows.isClean === true) return 0
      const weight = typeof who === 'number' ? weights[who]! : weights.reduce((sum, one) => sum + one, 0)
      return (weight * effectAt(kind, rows.levelsNtu[i]!)) / rows.tolerancesNtu[i]!
    })
    return { ...rows, times: rows.timesMs, effect }
  })
  const share = (timeMs: number): number => {
    if (timeMs > (endedMs ?? Infinity)) return 0
    if (shape === 'step' && widthMs > 0) return Math.max(0, Math.min(1, (timeMs - onsetMs) / widthMs + 0.5))
    return shareAt(shape, onsetMs, endedMs ?? atMs, timeMs)
  }
  return { all, share }
}

function priorOf({ who, kind }: Hypothesis): { readonly priorMean: number; readonly priorSd: number } {
  if (who === 'laboratory') return { priorMean: LABORATORY.mean, priorSd: LABORATORY.sd }
  return { priorMean: 0, priorSd: kind === 'span' ? 0.1 : TOLERANCE_NTU }
}

function posteriorOf(evidence: PointEvidence, atMs: number, cleaningDays: readonly number[][]): PointPosterior {
  return weighHypotheses({
    evidence,
    atMs,
    toleranceNtu: TOLERANCE_NTU,
    cleaningsMs: cleaningDays.map(days => days.map(day => START_MS + day * DAY_MS)),
    recoveredMs: [],
    laboratory: LABORATORY,
  })
}

describe('sizes of the posterior of eight weeks', () => {
  const still: Truth = { units: 3, days: 56, perDay: 4, u: 0.25, levelNtu: moving, biasNtu: () => 0, seed: 1 }
  const atMs = START_MS + still.days * DAY_MS

  it.each<[string, Truth, number[][]]>([
    ['nothing', still, []],
    ['a step', { ...still, biasNtu: (unit, day) => (unit === 1 && day > 40.3 ? 0.03 : 0) }, []],
    ['a young ramp', { ...still, biasNtu: (unit, day) => (unit === 0 ? 0.02 * Math.max(0, day - 54) : 0) }, []],
    [
      'films with cleanings',
      { ...still, biasNtu: (unit, day) => (unit === 2 ? 0.015 * (day % 10) : 0) },
      [[], [30], [10, 20, 30, 40, 50]],
    ],
    ['a laboratory that shifted', { ...still, laboratory: day => (day > 30 ? 0.8 : 0) }, []],
  ])('are those of the sum over all values, within 1e-9: %s', (_, truth, cleaningDays) => {
    const evidence = layOutEvidence(evidenceInput(truth))
    const offsets = solveOffsets(evidence.series, evidence.offsetVariances)
    const { hypotheses } = posteriorOf(evidence, atMs, cleaningDays)
    expect(hypotheses.length).toBeGreaterThan(1)
    for (const one of hypotheses) {
      if (one.who === 'nobody') continue
      const { all, share } = seenBy(evidence, one, atMs)
      const sums = newChangeSums(offsets.means.length)
      for (const series of all) addDirectly(sums, series, share)
      const { priorMean, priorSd } = priorOf(one)
      const { mean, sd } = scoreChange(sums, offsets, priorSd, priorMean)
      const coupling = offsetCoupling(sums, offsets)
      expect(Math.abs(one.mean - mean)).toBeLessThanOrEqual(1e-9 * Math.max(Math.abs(mean), sd))
      expect(Math.abs(one.sd - sd)).toBeLessThanOrEqual(1e-9 * sd)
      expect(one.coupling).toHaveLength(3)
      for (const [unit, lower] of one.coupling.entries())
        expect(Math.abs(lower - coupling[unit]!)).toBeLessThanOrEqual(1e-9 * Math.max(Math.abs(lower), 1))
    }
  })
})

describe('bias of a unit: its standing offset and what changed, known together', () => {
  const DAYS = 9
  const atMs = START_MS + DAYS * DAY_MS
  const two: Truth = { units: 2, days: DAYS, perDay: 1, u: 0.25, levelNtu: moving, biasNtu: () => 0, seed: 3 }
  const shift = {
    laboratoryInstrument: null,
    fromMs: START_MS + 3 * DAY_MS,
    untilMs: START_MS + 5 * DAY_MS,
    shift: 0.5,
    likely: { form: 'tolerances', size: 0.5 } as const,
    points: [],
    reference: null,
  }

  /** Normal moments of the bias under one hypothesis, by conditioning on all values at once. */
  function biasUnder(evidence: PointEvidence, one: Hypothesis, unit: number, levelNtu: number): Moments {
    const { all, share } = seenBy(evidence, one, atMs)
    const series = all.map(rows => ({ ...rows, f: whitenedEffect(rows, share) }))
    const model: DenseModel = { series, offsetVariances: evidence.offsetVariances, ...priorOf(one) }
    const alone = evidence.offsetVariances.map((_, k) => (k === unit ? TOLERANCE_NTU : 0))
    const isOff = one.who === unit || one.who === 'all'
    const units = isOff && one.endedMs === null ? share(atMs) * effectAt(one.kind, levelNtu) : 0
    return one.who === 'nobody'
      ? new DenseChange(model).unchanged(alone)
      : new DenseChange(model).combined(alone, units)
  }

  it.each<[string, Truth, Partial<EvidenceInput>, number[][]]>([
    ['a step of one of two', { ...two, biasNtu: (unit, day) => (unit === 1 && day > 6 ? 0.1 : 0.01) }, {}, []],
    [
      'a ramp of a single unit, seen by a laboratory of unknown error',
      { ...two, units: 1, perDay: 3, biasNtu: (_, day, ntu) => 0.01 * ntu * Math.max(0, day - 2) },
      { offset: { ntu: 0.01, variance: 4e-4 }, laboratoryIntervals: [shift] },
      [],
    ],
    [
      'films with a cleaning, the other unit adjusted meanwhile',
      { ...two, biasNtu: (unit, day) => (unit === 0 ? 0.03 * (day % 6) : 0) },
      { sinceMs: [0, START_MS + 4 * DAY_MS] },
      [[6], []],
    ],
    ['two without a grab', { ...two, perDay: 0, biasNtu: unit => 0.02 * unit }, {}, []],
    [
      'as founds on zero water, on a standard assigned meanwhile and on one assigned before, one after a cleaning',
      { ...two, biasNtu: (unit, day) => (unit === 1 && day > 6 ? 0.1 : 0.01) },
      {
        verifications: [
          [found({ day: 7, assignedNtu: 34, foundNtu: 33.1, anchoredDay: 4 })],
          [
            found({ day: 6.5, assignedNtu: 0, foundNtu: 0.09 }),
            found({ day: 7.5, assignedNtu: 34, foundNtu: 34.6, anchoredDay: -20, isClean: true }),
            found({ day: 8, assignedNtu: 20, foundNtu: 20.3 }),
          ],
        ],
      },
      [[6], []],
    ],
  ])('is the value conditioned on directly, within 1e-9: %s', (_, truth, change, cleaningDays) => {
    const evidence = layOutEvidence(evidenceInput(truth, change))
    const posterior = posteriorOf(evidence, atMs, cleaningDays)
    const levelNtu = moving(DAYS)
    for (let unit = 0; unit < truth.units; unit++) {
      const estimate = estimateUnit(posterior, unit, levelNtu, TOLERANCE_NTU)
      let mean = 0
      let beyondHalf = 0
      for (const one of posterior.hypotheses) {
        const bias = biasUnder(evidence, one, unit, levelNtu)
        const sd = Math.sqrt(bias.variance)
        mean += one.weight * bias.mean
        beyondHalf += one.weight * (1 - normalCdf((TOLERANCE_NTU / 2 - bias.mean) / sd))
        beyondHalf += one.weight * normalCdf((-TOLERANCE_NTU / 2 - bias.mean) / sd)
      }
      expect(Math.abs(estimate.biasNtu.value - mean)).toBeLessThanOrEqual(1e-9 * TOLERANCE_NTU)
      // Like explanations are put together before one looks.
      expect(Math.abs(estimate.pHalf - beyondHalf)).toBeLessThan(0.002)
    }
  })
})
