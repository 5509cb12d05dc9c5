import { describe, expect, it } from 'vitest'
import { type EvidenceRows, layOutEvidence } from '../../src/diagnose/evidence.js'
import { effectAt, type Hypothesis, shareAt } from '../../src/diagnose/hypothesis.js'
import { weighHypotheses } from '../../src/diagnose/posterior.js'
import { DAY_MS } from '../../src/model/time.js'
import { type ChangeScore, scoreChange } from '../../src/statistics/changePosterior.js'
import { START_MS } from '../model/plantFixture.js'
import { addDirectly } from '../statistics/directChange.js'
import { evidenceInput, type Truth } from './synthetic.js'

// The reference is the model summed value by value; nothing outside the project does this sum.

const DAYS = 56
const TOLERANCE_NTU = 0.06
const atMs = START_MS + DAYS * DAY_MS
const moving = (day: number) => 0.3 + 7.7 * (0.5 + 0.5 * Math.sin(day * 1.7))
const still: Truth = { units: 3, days: DAYS, perDay: 4, u: 0.25, levelNtu: moving, biasNtu: () => 0, seed: 1 }

/** What one unit of a hypothesis adds to a value once it is fully there, in tolerances. */
function effectOn(rows: EvidenceRows, i: number, { who, kind }: Hypothesis): number {
  if (who === 'laboratory') return rows.line === 'grab' ? 1 : 0
  const weights = rows.weights[i]!
  const weight = typeof who === 'number' ? weights[who]! : weights.reduce((sum, one) => sum + one, 0)
  return (weight * effectAt(kind, rows.levelsNtu[i]!)) / rows.tolerancesNtu[i]!
}

function scoreDirectly(series: readonly EvidenceRows[], hypothesis: Hypothesis): ChangeScore {
  const { kind, who, shape, onsetMs, widthMs, endedMs } = hypothesis
  const sums = { ff: 0, fy: 0 }
  const share = (timeMs: number): number => {
    if (timeMs > (endedMs ?? Infinity)) return 0
    if (shape === 'step' && widthMs > 0) return Math.max(0, Math.min(1, (timeMs - onsetMs) / widthMs + 0.5))
    return shareAt(shape, onsetMs, endedMs ?? atMs, timeMs)
  }
  for (const rows of series) {
    const effect = rows.timesMs.map((_, i) => effectOn(rows, i, hypothesis))
    addDirectly(sums, { ...rows, times: rows.timesMs, effect }, share)
  }
  return scoreChange(sums, who === 'laboratory' ? 1 : kind === 'span' ? 0.1 : TOLERANCE_NTU)
}

describe('sizes of the posterior of eight weeks', () => {
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
    const { hypotheses } = weighHypotheses({
      evidence,
      atMs,
      toleranceNtu: TOLERANCE_NTU,
      cleaningsMs: cleaningDays.map(days => days.map(day => START_MS + day * DAY_MS)),
      laboratoryGain: 0,
    })
    expect(hypotheses.length).toBeGreaterThan(1)
    for (const one of hypotheses) {
      if (one.who === 'nobody') continue
      const { mean, sd } = scoreDirectly(evidence.series, one)
      expect(Math.abs(one.mean - mean)).toBeLessThanOrEqual(1e-9 * Math.max(Math.abs(mean), sd))
      expect(Math.abs(one.sd - sd)).toBeLessThanOrEqual(1e-9 * sd)
    }
  })
})
