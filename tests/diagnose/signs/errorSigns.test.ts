import { describe, expect, it } from 'vitest'
import type { Difference } from '../../../src/compare/difference.js'
import type { Pair } from '../../../src/compare/pair.js'
import { filmLevelsSign } from '../../../src/diagnose/signs/filmLevels.js'
import { newNoiseState, noiseSign, takeNoise } from '../../../src/diagnose/signs/noise.js'
import { returnsSign } from '../../../src/diagnose/signs/returns.js'
import { errorSeries, type ErrorValue } from '../../../src/diagnose/signs/series.js'
import { washedOffSign } from '../../../src/diagnose/signs/washedOff.js'
import { DAY_MS, HOUR_MS } from '../../../src/model/time.js'
import { BLOCK_MS } from '../../../src/qualify/openBlock.js'
import { normalSource } from '../../statistics/random.js'

const START_MS = Date.UTC(2026, 6, 1)
const at = (day: number) => START_MS + day * DAY_MS
const TOLERANCE = 0.05

/** Two values a day with so much noise. */
function values(
  days: number,
  errorNtu: (day: number) => number,
  seed = 1,
  levelNtu = (_: number) => 0.06,
): ErrorValue[] {
  const normal = normalSource(seed)
  return Array.from({ length: 2 * days }, (_, k) => {
    const day = 0.3 + k / 2
    return { atMs: at(day), ntu: errorNtu(day) + 0.012 * normal(), uNtu: 0.012, levelNtu: levelNtu(day) }
  })
}

function noiseOf(days: number, sigmaNtu: (day: number) => number) {
  const state = newNoiseState()
  for (let endMs = START_MS + BLOCK_MS; endMs <= at(days); endMs += BLOCK_MS)
    takeNoise(state, endMs, sigmaNtu((endMs - START_MS) / DAY_MS))
  return state
}

const CLEANINGS = [13.4, 19.4, 25.4]
const isFogged = (day: number) => {
  const cleaned = CLEANINGS.findLast(one => one <= day)
  return day > 7 && (cleaned === undefined || day > cleaned + 2)
}
const signOf = (errorNtu: (day: number) => number, days = 32, seed = 1) =>
  returnsSign(
    values(days, errorNtu, seed),
    CLEANINGS.map(at),
    noiseOf(days, day => (isFogged(day) ? 0.005 : 0.002)),
    TOLERANCE,
    at(days),
  )

describe('an error that returns days after each cleaning', () => {
  it('names the cleanings, the good days, the rise and the noise', () => {
    const sign = signOf(day => (isFogged(day) ? 0.04 : 0))
    expect(sign?.cleaningsMs).toEqual(CLEANINGS.map(at))
    expect(sign?.afterDays).toBe(2)
    expect(sign?.riseNtu).toBeCloseTo(0.04, 1)
    expect(sign?.noiseRatio).toBeCloseTo(2.5, 1)
  })

  it.each<[string, (day: number) => number]>([
    ['nothing at all', () => 0],
    ['a drift that cleaning does not move', day => 0.002 * day],
    [
      'a film that takes weeks to come back',
      day => 0.06 * ((day - (CLEANINGS.findLast(one => one <= day) ?? 0)) / 25) ** 2,
    ],
    ['a step that lies between two cleanings', day => (day > 17 ? 0.04 : 0)],
  ])('is not seen in %s', (_, errorNtu) => {
    for (let seed = 1; seed <= 20; seed++) {
      const sign = signOf(errorNtu, 32, seed)
      expect(sign === undefined || sign.cleaningsMs.length === 1).toBe(true)
    }
    expect(signOf(errorNtu)).toBeUndefined()
  })
})

describe('an error that a backwash takes away', () => {
  const returns = [6, 12, 18].map(at)
  it('falls where the filter comes back, as a drift does not', () => {
    const film = (day: number) => 0.05 * ((day % 6) / 6)
    expect(washedOffSign(values(24, film), returns)?.times).toBeGreaterThanOrEqual(2)
    for (let seed = 1; seed <= 20; seed++)
      expect(
        washedOffSign(
          values(24, day => 0.002 * day, seed),
          returns,
        ),
      ).toBeUndefined()
  })
})

describe('an error that changes sign with the level', () => {
  const level = (day: number) => (Math.floor(day) % 2 === 0 ? 1 : 25)
  it('is a film: offset up, gain down', () => {
    const film = (day: number) => 0.1 * (1 - level(day) / 5)
    const sign = filmLevelsSign(values(12, film, 1, level))
    expect(sign?.belowNtu).toBeGreaterThan(0)
    expect(sign?.aboveNtu).toBeLessThan(0)
  })
  it('is not seen in a zero or a span error', () => {
    expect(filmLevelsSign(values(12, () => 0.1, 1, level))).toBeUndefined()
    expect(filmLevelsSign(values(12, day => -0.02 * level(day), 1, level))).toBeUndefined()
  })
})

describe('noise over its habit', () => {
  it('is told from half as much again on, since the last adjustment', () => {
    const noisy = noiseOf(20, day => (day < 15 ? 0.002 : 0.004))
    expect(noiseSign(noisy, 0)?.ratio).toBeCloseTo(2, 5)
    expect(noiseSign(noisy, at(14))).toBeUndefined()
    expect(
      noiseSign(
        noiseOf(20, () => 0.002),
        0,
      ),
    ).toBeUndefined()
  })
})

describe('what shows an error of a unit', () => {
  const pair = (day: number, use: Pair['use'], ntu: number): Pair => ({
    atMs: at(day),
    grabNtu: 0.06,
    qualifier: null,
    sampleId: null,
    laboratoryInstrument: null,
    use,
    units: [{ ntu, uNtu: 0.01, toleranceNtu: TOLERANCE, rateNtuPerH: 0, high: 0, low: 0, limit: 0 }, null],
  })
  const difference: Difference = {
    atMs: at(1) + 6 * HOUR_MS,
    levelNtu: 0.06,
    toleranceNtu: TOLERANCE,
    deviationsNtu: [0.02, -0.01, -0.01],
    lines: [],
  }
  it('are grab samples where it is alone, used ones only', () => {
    const series = errorSeries([pair(1, 'used', 0.08), pair(2, 'suspect_grab', 0.5)], [], 1, 0)
    expect(series.map(({ ntu }) => ntu)).toEqual([expect.closeTo(0.02, 9)])
  })
  it('are the other units where there are any: against the mean of the others', () => {
    const [value] = errorSeries([pair(1, 'used', 0.08)], [difference], 3, 0)
    expect(value?.ntu).toBeCloseTo(0.03, 9)
  })
})
