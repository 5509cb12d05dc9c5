import { describe, expect, test } from 'vitest'
import { recoveredByItself, type UnitResidual } from '../../src/diagnose/recovery.js'
import { randomStream } from '../../src/simulate/random.js'

const HOUR_MS = 3_600_000
const LOOK_BACK = 60

/** Six-hourly samples with their declared uncertainty about an error that changes with their number. */
function samples(error: (k: number) => number, n: number, u: number, seed: number): UnitResidual[] {
  const random = randomStream(seed, 'recovery')
  return Array.from({ length: n }, (_, k) => ({
    atMs: k * 6 * HOUR_MS,
    residual: error(k) + u * random.normal(),
    u,
  }))
}

describe('an error that is gone without work', () => {
  test('is seen from four samples that agree, and the end lies at the last one that had it', () => {
    const found = recoveredByItself(samples(k => (k < 12 ? 1.2 : 0), 16, 0.2, 1))
    expect(found).toMatchObject({ untilMs: 11 * 6 * HOUR_MS, n: 4 })
    expect(Math.abs(found?.mean ?? 1)).toBeLessThan(0.4)
  })

  test('is not said of three samples, however clear', () => {
    expect(recoveredByItself(samples(k => (k < 12 ? 3 : 0), 15, 0.1, 1))).toBeUndefined()
  })

  test('is not said of an error that turned into another one, nor of a small one', () => {
    expect(recoveredByItself(samples(k => (k < 20 ? -0.9 : 0.5), 40, 0.2, 2))).toBeUndefined()
    expect(recoveredByItself(samples(k => (k < 20 ? 0.25 : 0), 40, 0.1, 3))).toBeUndefined()
  })

  test('is not said while the error stands: looked at after each of a month of samples', () => {
    const said = [0.2, 0.35, 0.5].flatMap(u =>
      Array.from({ length: 40 }, (_, seed) => samples(() => 0.7, 120, u, seed)).filter(all =>
        all.some((_, k) => recoveredByItself(all.slice(Math.max(0, k - LOOK_BACK), k)) !== undefined),
      ),
    )
    expect(said.length / 120).toBeLessThan(0.02)
  })
})
