import { describe, expect, it } from 'vitest'
import { zeroAndSpanError } from '../../src/compare/visitErrors.js'
import { estimateUnit, type UnitEstimate } from '../../src/diagnose/estimate.js'
import { type EvidenceInput, layOutEvidence } from '../../src/diagnose/evidence.js'
import { weighHypotheses } from '../../src/diagnose/posterior.js'
import { DAY_MS } from '../../src/model/time.js'
import { START_MS } from '../model/plantFixture.js'
import { evidenceInput, found, type Truth } from './synthetic.js'

const single: Truth = { units: 1, days: 20, perDay: 2, u: 0.2, levelNtu: () => 1.4, biasNtu: () => 0, seed: 5 }
const at = (day: number) => START_MS + day * DAY_MS
const zero = found({ day: 15, assignedNtu: 0, foundNtu: 0.004 })
const standard = found({ day: 15, assignedNtu: 34, foundNtu: 34.3, anchoredDay: -30 })

const rowsOf = (change: Partial<EvidenceInput>) =>
  layOutEvidence(evidenceInput(single, change)).series.filter(rows => rows.line === 'verification')

describe('as founds as rows of the evidence', () => {
  it('enter at the level of the assigned value, in tolerances there, without the laboratory', () => {
    const [rows] = rowsOf({ verifications: [[standard]] })
    expect(rows?.levelsNtu).toEqual([34])
    expect(rows?.tolerancesNtu[0]).toBeCloseTo(3.4, 12)
    expect(rows?.y[0]).toBeCloseTo(0.3 / 3.4, 12)
    expect(rows?.variance[0]).toBeCloseTo((0.34 / 3.4) ** 2, 12)
    // Units, laboratory, then the standard's own error.
    expect(rows?.loading).toEqual([0, 0, 1])
  })

  it('on an absolute reference carry what stands of the unit, on a secondary standard the standard alone', () => {
    expect(rowsOf({ verifications: [[zero]] })[0]?.loading).toEqual([1, 0, 1])
    expect(rowsOf({ verifications: [[found({ day: 15, assignedNtu: 20, foundNtu: 20.1 })]] })[0]?.loading).toEqual([
      1, 0, 1,
    ])
  })

  it('of a visit that adjusts, or before it, tell of another state and are left out', () => {
    const before = { ...zero, atMs: at(9) }
    const late = { ...zero, atMs: at(11) }
    const rows = rowsOf({ verifications: [[before, { ...zero, atMs: at(10) }, late]], sinceMs: [at(10)] })
    expect(rows.flatMap(one => one.timesMs)).toEqual([late.atMs])
  })

  it('that are contradicted have no rows and no offset', () => {
    const verifications = [[{ ...standard, use: 'reference_contradicted' as const }]]
    expect(rowsOf({ verifications })).toEqual([])
    expect(layOutEvidence(evidenceInput(single, { verifications })).offsetVariances).toHaveLength(2)
  })

  it('on a standard assigned meanwhile are the difference to that day', () => {
    const [rows] = rowsOf({ verifications: [[found({ day: 15, assignedNtu: 34, foundNtu: 34.3, anchoredDay: 12 })]] })
    expect(rows?.timesMs).toEqual([at(12), at(15)])
    expect(rows?.phi).toEqual([0, 1])
    expect(rows?.g).toEqual([0, 1])
    expect(1 / rows!.variance[0]!).toBeLessThan(1e-9)
  })
})

function estimated(truth: Truth, verifications: EvidenceInput['verifications'], unit = 0): UnitEstimate {
  const posterior = weighHypotheses({
    evidence: layOutEvidence(evidenceInput(truth, { verifications })),
    atMs: at(truth.days),
    toleranceNtu: 0.14,
    cleaningsMs: [],
    recoveredMs: [],
    laboratory: null,
  })
  return estimateUnit(posterior, unit, truth.levelNtu(truth.days), 0.14)
}

describe('what as founds say', () => {
  const low: Truth = { ...single, biasNtu: (_, day) => (day > 10 ? -0.2 : 0) }

  it('grab samples at one level leave zero and span open; zero water and a standard part them', () => {
    const { kinds } = estimated(low, [[]])
    expect(Math.max(kinds.zero, kinds.span)).toBeLessThan(0.9)
    const rightZero = [zero, found({ day: 15, assignedNtu: 34, foundNtu: 29.1, anchoredDay: -30 })]
    expect(estimated(low, [rightZero]).kinds.span).toBeGreaterThan(0.9)
    const wrongZero = [
      found({ day: 15, assignedNtu: 0, foundNtu: -0.2 }),
      found({ day: 15, assignedNtu: 34, foundNtu: 33.8, anchoredDay: -30 }),
    ]
    expect(estimated(low, [wrongZero]).kinds.zero).toBeGreaterThan(0.9)
  })

  it('the zero and span error are those of the arithmetic of two standards, within what both are known to', () => {
    // Two references and what was read in them: the line through them (GUM H.3 fits the same line to many, from memory).
    const readings = { low: { assigned: 0, cleanedReading: 0.01 }, high: { assigned: 34, cleanedReading: 29.24 } }
    const line = zeroAndSpanError(readings.low, readings.high)!
    const { model } = estimated({ ...single, biasNtu: (_, day, ntu) => (day > 10 ? -0.14 * ntu : 0) }, [
      [
        found({ day: 15, assignedNtu: 0, foundNtu: readings.low.cleanedReading }),
        found({ day: 15, assignedNtu: 34, foundNtu: readings.high.cleanedReading, anchoredDay: -30 }),
      ],
    ])
    expect(Math.abs(model!.spanRel.value - line.spanRel)).toBeLessThan(0.02)
    expect(Math.abs(model!.zeroNtu.value - line.zeroNtu)).toBeLessThan(0.02)
  })

  it('an analyzer found right each week stays sound though nothing else is known, and one found wrong does not', () => {
    const quiet: Truth = { ...single, perDay: 0, days: 50 }
    const checks = (offNtu: number) =>
      Array.from({ length: 7 }, (_, week) => ({
        ...zero,
        atMs: at(7 * (week + 1)),
        foundNtu: week < 5 ? 0.004 : 0.004 + offNtu,
      }))
    expect(estimated(quiet, [checks(0)]).pHalf).toBeLessThan(0.15)
    expect(estimated(quiet, [checks(0.2)]).pHalf).toBeGreaterThan(0.8)
  })

  it('of two units that differ the one found wrong is named', () => {
    const two: Truth = { ...single, units: 2, perDay: 0, biasNtu: (unit, day) => (unit === 1 && day > 10 ? 0.2 : 0) }
    expect(estimated(two, [[], []], 1).who.self).toBeLessThan(0.7)
    const { who } = estimated(two, [[zero], [found({ day: 15, assignedNtu: 0, foundNtu: 0.21 })]], 1)
    expect(who.self).toBeGreaterThan(0.9)
  })

  it('after a cleaning a film no longer shows, so that right as founds do not speak against one', () => {
    const film: Truth = { ...single, biasNtu: (_, day) => (day > 10 ? 0.003 * (day - 10) ** 2 : 0) }
    const checks = (isClean: boolean) => [
      { ...zero, atMs: at(19), isClean },
      { ...standard, atMs: at(19), isClean },
    ]
    expect(estimated(film, [checks(true)]).kinds.fouling).toBeGreaterThan(0.9)
    expect(estimated(film, [checks(false)]).kinds.fouling).toBeLessThan(0.5)
  })
})
