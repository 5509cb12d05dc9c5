import { describe, expect, it } from 'vitest'
import { analyzerOf, plantOf, pointOf } from './plantFixture.js'

describe('resolvePlant', () => {
  it('fills in every documented default', () => {
    const plant = plantOf({ plant: 'p', points: { FE1: { analyzers: { 'FE1-A': { unit: 'NTU' } } } } })
    expect(plant).toMatchObject({
      name: 'p',
      timeZone: 'UTC',
      analyzerYearsPerFalseAlarm: 5,
      delta0: 0.25,
      delta1: 0.6,
      latenessMs: 120_000,
      shiftStartsMin: [360, 840, 1_320],
      zeroWaterBelowNtu: 40,
      secondaryStandardUsualNtu: [30, 40],
      settlingCapMs: 6 * 3_600_000,
      maintenanceForgottenMs: 8 * 3_600_000,
      visitMinutes: 60,
    })
    expect(plant.points.get('FE1')).toMatchObject({
      tolerance: { absoluteNtu: 0.05, relative: 0.1 },
      lowIsWorse: false,
      regulated: false,
      controlling: false,
      grab: { perDay: 2, relative: 0.03, timeUncertaintyS: 120, resolutionNtu: 0 },
    })
    expect(plant.analyzers.get('FE1-A')).toMatchObject({
      intervalS: 60,
      rangeNtu: [0, 1_000],
      transportDelayS: 0,
      resolutionNtu: 0.001,
      asLeftLimit: 0.05,
      transmission: { mode: 'periodic' },
    })
  })

  it('inherits tolerance from class, point and analyzer, the nearest first', () => {
    const tolerance = (absoluteNtu: number) => ({ absoluteNtu, relative: 0.1 })
    const plant = plantOf({
      plant: 'p',
      classes: { filter: { tolerance: tolerance(0.01), lowIsWorse: true, grab: { perDay: 6, relative: 0.05 } } },
      points: {
        P1: { class: 'filter', analyzers: { A1: { unit: 'NTU' } } },
        P2: { class: 'filter', tolerance: tolerance(0.02), lowIsWorse: false, analyzers: { A2: { unit: 'NTU' } } },
        P3: {
          class: 'filter',
          grab: { perDay: 1 },
          tolerance: tolerance(0.02),
          analyzers: { A3: { unit: 'NTU', tolerance: tolerance(0.03) }, B3: { unit: 'NTU' } },
        },
        P4: { analyzers: { A4: { unit: 'NTU' } } },
      },
    })
    const absolute = ['A1', 'A2', 'A3', 'B3', 'A4'].map(id => plant.analyzers.get(id)?.tolerance.absoluteNtu)
    expect(absolute).toEqual([0.01, 0.02, 0.03, 0.02, 0.05])
    expect(['P1', 'P2', 'P4'].map(id => pointOf(id, plant).lowIsWorse)).toEqual([true, false, false])
    expect(pointOf('P3', plant).grab).toMatchObject({ perDay: 1, relative: 0.05, standardUncertaintyNtu: 0.01 })
  })

  it('orders points and units by name, whatever the order of the file', () => {
    const plant = plantOf({
      plant: 'p',
      points: {
        B: { analyzers: { Z: { unit: 'NTU' }, C: { unit: 'NTU' } } },
        A: { analyzers: { Y: { unit: 'NTU' } } },
      },
    })
    expect([...plant.points.keys()]).toEqual(['A', 'B'])
    expect(pointOf('B', plant).analyzers).toEqual(['C', 'Z'])
  })

  it('sorts shifts and reads them as minutes', () => {
    const plant = plantOf({
      plant: 'p',
      shifts: ['19:30', '07:30'],
      points: { P: { analyzers: { A: { unit: 'FNU' } } } },
    })
    expect(plant.shiftStartsMin).toEqual([450, 1_170])
  })

  it.each([
    ['NTU', 'NTU'],
    ['mNTU', 'NTU'],
    ['FNU', 'FNU'],
    ['mFNU', 'FNU'],
    ['FAU', 'FAU'],
  ])('takes the method of %s as %s', (unit, method) => {
    expect(analyzerOf({ unit }).method).toBe(method)
  })

  it('keeps a negative transport delay and the ways of transmission', () => {
    expect(analyzerOf({ transportDelayS: -40 }).transportDelayS).toBe(-40)
    expect(analyzerOf({ transmission: 'on_change', deadbandNtu: 0.002 }).transmission).toEqual({
      mode: 'on_change',
      deadbandNtu: 0.002,
      heartbeatS: 3_600,
    })
  })
})
