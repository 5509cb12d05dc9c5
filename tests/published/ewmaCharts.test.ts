import { describe, expect, it } from 'vitest'
import { advanceEwma, ewmaLastingSd, ewmaSd, type Ewma } from '../../src/statistics/ewma.js'
import { expectWithin, readReference } from './reference.js'

function ewmaPath(x: readonly number[], lambda: number, target: number): readonly Ewma[] {
  let state: Ewma = { z: target, fading: 1 }
  return x.map(value => (state = advanceEwma(state, value, lambda)))
}

// Standards item C2: NIST/SEMATECH e-Handbook of Statistical Methods 6.3.2.4 (doi 10.18434/M32189). The page prints two
// decimals of z, and limits with the rounded factor 0.4201.
describe('e-Handbook 6.3.2.4, EWMA', () => {
  const x = [
    52, 47, 53, 49.3, 50.1, 47, 51, 50.1, 51.2, 50.5, 49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1,
  ]
  const printed = [
    50.6, 49.52, 50.56, 50.18, 50.16, 49.21, 49.75, 49.85, 50.26, 50.33, 50.11, 49.36, 49.52, 50.05, 49.38, 49.92,
    50.73, 51.23, 51.94, 51.99,
  ]
  const halfWidth = 3 * ewmaLastingSd(0.3, 2.0539)
  const path = ewmaPath(x, 0.3, 50)

  it('gives the averages', () => {
    path.forEach(({ z }, i) => {
      expectWithin(z, printed[i] ?? NaN, { absolute: 0.005 + 1e-9 }, `EWMA ${i + 1}`)
    })
  })

  it('gives the limits 52.5884 and 47.4115, and no point is out', () => {
    expectWithin(50 + halfWidth, 52.5884, { absolute: 1e-4 }, 'upper limit')
    expectWithin(50 - halfWidth, 47.4115, { absolute: 1e-4 }, 'lower limit')
    expect(path.some(({ z }) => Math.abs(z - 50) > halfWidth)).toBe(false)
  })
})

// Standards item C3e: Montgomery, Introduction to Statistical Quality Control, table 9.10 (8th edition).
describe('Montgomery table 9.10', () => {
  const x = [
    9.45, 7.99, 9.29, 11.66, 12.16, 10.18, 8.04, 11.46, 9.2, 10.34, 9.03, 11.47, 10.51, 9.4, 10.08, 9.37, 10.62, 10.31,
    8.52, 10.84, 10.9, 9.33, 12.29, 11.5, 10.6, 11.08, 10.38, 11.62, 11.31, 10.52,
  ]
  const printed = [
    '9.945',
    '9.7495',
    '9.70355',
    '9.8992',
    '10.1253',
    '10.1307',
    '9.92167',
    '10.0755',
    '9.98796',
    '10.0232',
    '9.92384',
    '10.0785',
    '10.1216',
    '10.0495',
    '10.0525',
    '9.98426',
    '10.0478',
    '10.0740',
    '9.91864',
    '10.0108',
    '10.0997',
    '10.0227',
    '10.2495',
    '10.3745',
    '10.3971',
    '10.4654',
    '10.4568',
    '10.5731',
    '10.6468',
    '10.6341',
  ]
  const path = ewmaPath(x, 0.1, 10)

  it('gives the averages to the printed digits', () => {
    path.forEach(({ z }, i) => {
      const text = printed[i] ?? ''
      const digits = text.length - text.indexOf('.') - 1
      expectWithin(z, Number(text), { absolute: 0.5 * 10 ** -digits + 1e-9 }, `EWMA ${i + 1}`)
    })
  })

  it('has the limits 10.27 and 9.73 at the first value and 10.62 and 9.38 at last, and is above them at 29 and 30', () => {
    const halfWidths = path.map(state => 2.7 * ewmaSd(state, 0.1, 1))
    expect(halfWidths[0]).toBeCloseTo(0.27, 12)
    expect(halfWidths[29]).toBeCloseTo(0.62, 2)
    expect(2.7 * ewmaLastingSd(0.1, 1)).toBeCloseTo(0.61942, 5)
    const out = path.flatMap(({ z }, i) => (Math.abs(z - 10) > (halfWidths[i] ?? NaN) ? [i + 1] : []))
    expect(out).toEqual([29, 30])
    expect(path.every(({ z }, i) => z > 10 - (halfWidths[i] ?? NaN))).toBe(true)
  })
})

// reference/cusum-paths.json, the entries of the EWMA chart.
interface Input {
  readonly chart?: string
  readonly z: readonly number[]
  readonly lambda: number
  readonly c: number
}
interface Expected {
  readonly ewma: readonly number[]
  readonly limitVarying: readonly number[]
  readonly limitFixed: number
  readonly signalIndexFixed: number
  readonly signalIndexVarying: number
}

describe('EWMA paths against a plain loop', () => {
  const entries = readReference<Input, Expected>('cusum-paths').filter(entry => entry.input.chart === 'ewma')
  it('has three of them', () => {
    expect(entries).toHaveLength(3)
  })

  it.each(entries.map(entry => [entry.id, entry] as const))('%s', (_id, { input, expected, tolerance }) => {
    const path = ewmaPath(input.z, input.lambda, 0)
    const fixed = input.c * ewmaLastingSd(input.lambda, 1)
    const varying = path.map(state => input.c * ewmaSd(state, input.lambda, 1))
    expect(path).toHaveLength(expected.ewma.length)
    path.forEach(({ z }, i) => {
      expectWithin(z, expected.ewma[i] ?? NaN, tolerance, `EWMA ${i}`)
      expectWithin(varying[i] ?? NaN, expected.limitVarying[i] ?? NaN, tolerance, `limit ${i}`)
    })
    expectWithin(fixed, expected.limitFixed, tolerance, 'fixed limit')
    expect(path.findIndex(({ z }) => Math.abs(z) > fixed)).toBe(expected.signalIndexFixed)
    expect(path.findIndex(({ z }, i) => Math.abs(z) > (varying[i] ?? NaN))).toBe(expected.signalIndexVarying)
  })
})
