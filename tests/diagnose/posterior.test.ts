import { describe, expect, it } from 'vitest'
import { layOutEvidence } from '../../src/diagnose/evidence.js'
import { weighHypotheses } from '../../src/diagnose/posterior.js'
import { DAY_MS } from '../../src/model/time.js'
import { START_MS } from '../model/plantFixture.js'
import { estimateOf, evidenceInput, posteriorOf, type Truth } from './synthetic.js'

const DAYS = 30
/** On a bin of the onset grid. */
const ONSET = 18.5
/** The other points' grabs show no shift of the laboratory. */
const laboratoryFine = { laboratoryGain: -8 }

/** Water between 0.3 and 8 NTU: zero and span errors then look different. */
const moving = (day: number) => 0.3 + 7.7 * (0.5 + 0.5 * Math.sin(day * 1.7))
const clean = () => 0.06

const quiet: Truth = { units: 1, days: DAYS, perDay: 4, u: 0.25, levelNtu: moving, biasNtu: () => 0, seed: 1 }

const grown = (shape: 'step' | 'ramp', day: number) =>
  day <= ONSET ? 0 : shape === 'step' ? 1 : (day - ONSET) / (DAYS - ONSET)

describe('posterior of one unit with grabs', () => {
  it.each([
    ['zero', 'step', (day: number) => 0.12 * grown('step', day)],
    ['zero', 'ramp', (day: number) => 0.16 * grown('ramp', day)],
    ['span', 'step', (day: number, ntu: number) => -0.15 * ntu * grown('step', day)],
    ['span', 'ramp', (day: number, ntu: number) => 0.2 * ntu * grown('ramp', day)],
  ] as const)('a %s error as a %s is told from the others', (kind, shape, bias) => {
    for (const seed of [1, 2, 3]) {
      const truth = { ...quiet, seed, biasNtu: (_: number, day: number, ntu: number) => bias(day, ntu) }
      const [top] = posteriorOf(truth, laboratoryFine).hypotheses
      expect(top).toMatchObject({ who: 0, kind })
      // An even growth and one that began sooner and gets faster look alike; a step looks like neither.
      expect(top?.shape === 'step').toBe(shape === 'step')
      const estimate = estimateOf(truth, 0, laboratoryFine)
      expect(estimate.who.self).toBeGreaterThan(0.95)
      expect(estimate.kinds[kind]).toBeGreaterThan(0.9)
      expect(shape === 'ramp' ? estimate.pRamp : 1 - estimate.pRamp).toBeGreaterThan(0.7)
      const truthNtu = bias(DAYS, moving(DAYS))
      expect(Math.sign(estimate.biasNtu.value)).toBe(Math.sign(truthNtu))
      expect(Math.abs(estimate.biasNtu.value - truthNtu)).toBeLessThan(0.4 * estimate.toleranceNtu)
      expect(estimate.onset).toMatchObject({ beforeRecord: false })
    }
  })

  it('nobody is blamed where nothing changed', () => {
    for (const seed of [1, 2, 3, 4]) {
      const { who, biasNtu } = estimateOf({ ...quiet, seed })
      expect(who.nobody).toBeGreaterThan(0.4)
      expect(biasNtu.low).toBeLessThan(0)
      expect(biasNtu.high).toBeGreaterThan(0)
    }
  })

  it('in clean water a span error needs the impossible, so it is zero or a film', () => {
    const truth = { ...quiet, levelNtu: clean, biasNtu: (_: number, day: number) => 0.06 * grown('step', day) }
    const { kinds } = estimateOf(truth, 0, laboratoryFine)
    expect(kinds.span).toBeLessThan(0.02)
    expect(kinds.zero + kinds.fouling).toBeGreaterThan(0.98)
  })

  it.each([17.6, 17.75, 18, 18.25])(
    'a step between two bins of the onset grid, at day %d, is still a zero error',
    at => {
      for (const seed of [1, 2, 3]) {
        const truth = { ...quiet, seed, levelNtu: clean, biasNtu: (_: number, day: number) => (day > at ? 0.06 : 0) }
        const { kinds } = estimateOf(truth, 0, laboratoryFine)
        expect(kinds.span).toBeLessThan(0.1)
        expect(kinds.zero).toBeGreaterThan(0.6)
      }
    },
  )

  it('a film does not pull a low reading down', () => {
    const truth = { ...quiet, levelNtu: clean, biasNtu: (_: number, day: number) => -0.08 * grown('ramp', day) }
    expect(estimateOf(truth).kinds.fouling).toBeLessThan(0.05)
  })

  it('weights are probabilities, heaviest first', () => {
    const { hypotheses } = posteriorOf(quiet)
    expect(hypotheses.reduce((sum, one) => sum + one.weight, 0)).toBeCloseTo(1, 9)
    for (let i = 1; i < hypotheses.length; i++)
      expect(hypotheses[i]!.weight).toBeLessThanOrEqual(hypotheses[i - 1]!.weight)
  })

  it('without evidence it is the prior', () => {
    const none = weighHypotheses({
      evidence: layOutEvidence(evidenceInput({ ...quiet, perDay: 0 })),
      atMs: START_MS + DAYS * DAY_MS,
      toleranceNtu: 0.05,
      cleaningsMs: [],
      recoveredMs: [],
      laboratory: { gain: 0, mean: 0, sd: 1 },
    })
    expect(none.hypotheses).toHaveLength(1)
    expect(none.hypotheses[0]).toMatchObject({ who: 'nobody', weight: 1 })
  })

  it('does not depend on chance: the same evidence gives the same numbers', () => {
    expect(posteriorOf(quiet)).toEqual(posteriorOf(quiet))
  })
})

describe('posterior of several units', () => {
  const off =
    (wrong: number, size = 0.06) =>
    (unit: number, day: number) =>
      unit === wrong && day > ONSET ? size : 0
  const two: Truth = { ...quiet, units: 2, levelNtu: clean, biasNtu: off(1) }

  it('two units without a grab: nobody can say which, so neither is above 0.7', () => {
    for (const seed of [1, 2, 3]) {
      const without = { ...two, perDay: 0, seed }
      const [a, b] = [estimateOf(without, 0), estimateOf(without, 1)]
      expect(a.who.nobody).toBeLessThan(0.01)
      expect(Math.max(a.who.self, b.who.self)).toBeLessThan(0.7)
    }
  })

  it.each([0.1, 0.6, 1, 2, 5])('a step of %d NTU is found where it was, however long ago', size => {
    for (const at of [9, 16.25, 18.5, 20, 24.25]) {
      // The water seems to rise too: its level is the mean of the units.
      const truth = {
        ...two,
        perDay: 0,
        levelNtu: (day: number) => 0.2 + (day > at ? size / 2 : 0),
        biasNtu: (unit: number, day: number) => (unit === 1 && day > at ? size : 0),
      }
      for (const one of posteriorOf(truth).hypotheses) {
        expect(one).toMatchObject({ shape: 'step', before: false })
        expect(Math.abs(one.onsetMs - START_MS - at * DAY_MS)).toBeLessThan(0.4 * DAY_MS)
      }
    }
  })

  it.each([0, 1])('with grabs unit %d is named', wrong => {
    for (const seed of [1, 2, 3]) {
      const truth = { ...two, biasNtu: off(wrong), seed }
      expect(estimateOf(truth, wrong).who.self).toBeGreaterThan(0.9)
      expect(estimateOf(truth, 1 - wrong).who.self).toBeLessThan(0.1)
    }
  })

  it.each([0, 1, 2])('of three units number %d is outvoted without any grab', wrong => {
    const truth = { ...two, units: 3, perDay: 0, biasNtu: off(wrong) }
    expect(estimateOf(truth, wrong).who.self).toBeGreaterThan(0.9)
    expect(estimateOf(truth, (wrong + 1) % 3).who.other).toBeGreaterThan(0.9)
  })

  it('all units off together are told from one by the grabs', () => {
    const truth = { ...two, units: 3, biasNtu: (_: number, day: number) => (day > ONSET ? 0.07 : 0) }
    const { who } = estimateOf(truth, 0)
    expect(who.all + who.laboratory).toBeGreaterThan(0.9)
    expect(who.self).toBeLessThan(0.05)
  })

  it('what the other points say moves the blame between all units and the laboratory', () => {
    const truth = { ...two, laboratory: (day: number) => (day > ONSET ? -1.2 : 0), biasNtu: () => 0 }
    expect(estimateOf(truth, 0, { laboratoryGain: 15 }).who.laboratory).toBeGreaterThan(0.9)
    expect(estimateOf(truth, 0, { laboratoryGain: -15 }).who.laboratory).toBeLessThan(0.01)
  })
})

describe('a cleaning', () => {
  // Two films at 0.3 to 0.6 NTU, each of twelve days; the second cleaning is six days ago.
  const cleanings = [12, 24]
  const film = (day: number) => {
    const began = day > 24 ? Infinity : day > 12 ? 12 : 0
    return day <= began ? 0 : 0.14 * ((day - began) / 12)
  }
  const truth: Truth = {
    ...quiet,
    levelNtu: day => 0.45 + 0.15 * Math.sin(day),
    biasNtu: (_, day) => film(day),
  }
  const cleaningsMs = [cleanings.map(day => START_MS + day * DAY_MS)]
  const evidence = { fromMs: START_MS + 12 * DAY_MS }

  it('ends what a film did: the bias now is gone, the film stays the explanation', () => {
    const [top] = posteriorOf(truth, { cleaningsMs, evidence }).hypotheses
    expect(top).toMatchObject({ who: 0, kind: 'fouling', endedMs: cleaningsMs[0]![1] })
    const { biasNtu, kinds, toleranceNtu } = estimateOf(truth, 0, { cleaningsMs, evidence })
    expect(kinds.fouling).toBeGreaterThan(0.9)
    expect(Math.abs(biasNtu.value)).toBeLessThan(0.2 * toleranceNtu)
  })

  it('that did not move the reading leaves no film', () => {
    const unmoved = { ...truth, biasNtu: (_: number, day: number) => 0.01 * Math.max(0, day - 12) }
    const { kinds } = estimateOf(unmoved, 0, { cleaningsMs, evidence })
    expect(kinds.fouling).toBeLessThan(0.1)
  })
})
