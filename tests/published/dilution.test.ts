import fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import { dilute, volumeToTake } from '../../src/compare/dilution.js'
import { combinedStandardUncertainty, uncertaintyOfLimits } from '../../src/statistics/propagation.js'

/**
 * Eurachem/CITAC guide "Quantifying uncertainty in analytical measurement", 2nd edition, example A1: a calibration
 * standard made up in a 100 mL flask. Limits, shapes and u(V) with all digits as a published uncertainty budget of the
 * example gives them (0.0664730521840743 mL); mass, purity and result from memory.
 */
describe('example A1 of the Eurachem/CITAC guide', () => {
  const calibrationMl = uncertaintyOfLimits(0.1, 'triangular')
  const temperatureMl = uncertaintyOfLimits(100 * 4 * 2.1e-4, 'rectangular')
  const repeatabilityMl = 0.02
  const volumeMl = combinedStandardUncertainty(
    [calibrationMl, temperatureMl, repeatabilityMl].map(standardUncertainty => ({
      sensitivity: 1,
      standardUncertainty,
    })),
  )

  it('gives the uncertainty of the flask', () => {
    expect(calibrationMl).toBeCloseTo(0.04, 2)
    expect(temperatureMl).toBeCloseTo(0.05, 2)
    expect(volumeMl).toBeCloseTo(0.0664730521840743, 13)
  })

  it('gives the uncertainty of the concentration from the parts as the guide rounds them: 0.9 mg/L (from memory)', () => {
    const [massMg, purity, flaskMl] = [100.28, 0.9999, 100]
    const concentration = (1_000 * massMg * purity) / flaskMl
    const u = combinedStandardUncertainty([
      { sensitivity: concentration / massMg, standardUncertainty: 0.05 },
      { sensitivity: concentration / purity, standardUncertainty: 0.000058 },
      { sensitivity: -concentration / flaskMl, standardUncertainty: 0.07 },
    ])
    expect(concentration.toFixed(1)).toBe('1002.7')
    expect(u.toFixed(1)).toBe('0.9')
  })
})

describe('the law of propagation, JCGM 100:2008, 5.1.2', () => {
  it('adds in squares: 0.01, 0.004 and half of 0.02 make 0.0146969 (D13.1, by hand)', () => {
    const u = combinedStandardUncertainty([
      { sensitivity: 1, standardUncertainty: 0.01 },
      { sensitivity: 1, standardUncertainty: 0.004 },
      { sensitivity: 0.5, standardUncertainty: 0.02 },
    ])
    expect(u).toBeCloseTo(0.0146969, 7)
  })
})

describe('a diluted standard', () => {
  const made = dilute({
    stockNtu: { value: 4_000, standardUncertainty: 40 },
    waterNtu: { value: 0.02, standardUncertainty: 0.01 },
    takenMl: { value: 5, standardUncertainty: 0.006 },
    flaskMl: { value: 1_000, standardUncertainty: 0.16 },
  })

  it('is what a calculation by hand gives', () => {
    // 0.02 + 3999.98 · 5 / 1000; parts 0.005·40, 0.995·0.01, 3.99998·0.006, 0.0199999·0.16.
    expect(made.valueNtu).toBeCloseTo(20.0199, 10)
    expect(made.budget.map(one => one.ntu)).toEqual([
      expect.closeTo(0.2, 12),
      expect.closeTo(0.00995, 12),
      expect.closeTo(0.02399988, 12),
      expect.closeTo(0.003199984, 12),
    ])
    expect(made.standardUncertaintyNtu).toBeCloseTo(
      Math.sqrt(0.04 + 0.00995 ** 2 + 0.02399988 ** 2 + 0.003199984 ** 2),
      12,
    )
  })

  it('of ten in a hundred is a tenth: 4000 NTU makes 400 NTU in water without turbidity', () => {
    const tenth = dilute({
      stockNtu: { value: 4_000, standardUncertainty: 0 },
      waterNtu: { value: 0, standardUncertainty: 0 },
      takenMl: { value: 10, standardUncertainty: 0 },
      flaskMl: { value: 100, standardUncertainty: 0 },
    })
    expect(tenth).toMatchObject({ valueNtu: 400, standardUncertaintyNtu: 0 })
    expect(tenth.budget.every(one => one.share === 0)).toBe(true)
  })

  it('has sensitivities that agree with differences of the model, and shares that add up to one', () => {
    const known = (min: number, max: number) =>
      fc.record({
        value: fc.double({ min, max, noNaN: true }),
        standardUncertainty: fc.double({ min: 1e-4, max: min / 100, noNaN: true }),
      })
    const dilution = fc.record({
      stockNtu: known(100, 8_000),
      waterNtu: known(0.05, 1),
      takenMl: known(1, 50),
      flaskMl: known(100, 2_000),
    })
    fc.assert(
      fc.property(dilution, given => {
        const result = dilute(given)
        const moved = (['stockNtu', 'waterNtu', 'takenMl', 'flaskMl'] as const).map(name => {
          const { value, standardUncertainty } = given[name]
          const at = (offset: number): number =>
            dilute({ ...given, [name]: { value: value + offset, standardUncertainty } }).valueNtu
          return Math.abs(at(standardUncertainty / 2) - at(-standardUncertainty / 2))
        })
        result.budget.forEach((one, i) => expect(one.ntu / moved[i]!).toBeCloseTo(1, 3))
        expect(result.budget.reduce((sum, one) => sum + one.share, 0)).toBeCloseTo(1, 9)
      }),
      { seed: 20, numRuns: 200 },
    )
  })

  it('takes the volume that makes the value wanted, and none where there is none', () => {
    const vessels = { stockNtu: 4_000, waterNtu: 0.02, flaskMl: 1_000 }
    const takenMl = volumeToTake(20, vessels)!
    const value = (ml: number): number =>
      dilute({
        stockNtu: { value: 4_000, standardUncertainty: 1 },
        waterNtu: { value: 0.02, standardUncertainty: 1 },
        takenMl: { value: ml, standardUncertainty: 1 },
        flaskMl: { value: 1_000, standardUncertainty: 1 },
      }).valueNtu
    expect(value(takenMl)).toBeCloseTo(20, 12)
    expect([0.02, 0.01, 4_000, 5_000].map(target => volumeToTake(target, vessels))).toEqual(Array(4).fill(undefined))
  })
})
