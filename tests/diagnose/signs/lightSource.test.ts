import { describe, expect, it } from 'vitest'
import { type LightDay, lightLoss, lightSign } from '../../../src/diagnose/signs/lightSource.js'
import { DAY_MS } from '../../../src/model/time.js'
import { normalSource } from '../../statistics/random.js'

const START_MS = Date.UTC(2026, 3, 1)
/** Loss from which on the decision speaks of the source, per cent. */
const SPOKEN_OF_PCT = 2.5

function daysOf(levelsPct: readonly number[]): LightDay[] {
  return levelsPct.map((meanPct, day) => ({ dayMs: START_MS + day * DAY_MS, meanPct, n: 96 }))
}

function lossOf(levelsPct: readonly number[], sinceDay = 0): number | undefined {
  return lightLoss(daysOf(levelsPct), START_MS + sinceDay * DAY_MS)
}

/** Days of a source at 97 %, steady and then falling, with noise of this standard deviation. */
function days(steady: number, falling: number, pctPerDay: number, noisePct = 0, normal = normalSource(1)): number[] {
  return Array.from({ length: steady + falling }, (_, day) => {
    return 97 - pctPerDay * Math.max(0, day - steady + 1) + (noisePct === 0 ? 0 : noisePct * normal())
  })
}

describe('loss of a light source', () => {
  it('is that from the best day to the last where it only falls, however late that began', () => {
    for (const steady of [0, 5, 13, 40])
      expect(lossOf(days(steady, 9, 0.7))).toBeCloseTo(
        (100 * 0.7 * (steady === 0 ? 8 : 9)) / (steady === 0 ? 96.3 : 97),
        9,
      )
  })

  it('is none where the level is steady, rises, or has just been renewed', () => {
    expect(lossOf(days(30, 0, 0))).toBe(0)
    expect(lossOf(days(0, 20, -0.7))).toBe(0)
    expect(lossOf([...days(0, 20, 0.7), 100, 100, 100, 100], 20)).toBe(0)
  })

  it('is spoken of from 2.5 % on', () => {
    expect(lightSign(daysOf(days(0, 4, 0.7)), START_MS)).toBeUndefined()
    expect(lightSign(daysOf(days(0, 9, 0.7)), START_MS)?.lossPct).toBeGreaterThan(SPOKEN_OF_PCT)
  })

  it('is not told of no level or of fewer than three days', () => {
    expect(lossOf([])).toBeUndefined()
    expect(lossOf([97, 80])).toBeUndefined()
    expect(lossOf(days(0, 20, 0.7), 18)).toBeUndefined()
  })

  it('is not made of noise, where the best day against the last would be', () => {
    const normal = normalSource(7)
    const records = Array.from({ length: 200 }, () => days(40, 0, 0, 1, normal))
    const bestToLast = records.filter(levels => Math.max(...levels) - levels.at(-1)! > SPOKEN_OF_PCT)
    expect(bestToLast.length).toBeGreaterThan(60)
    expect(records.filter(levels => lossOf(levels)! >= SPOKEN_OF_PCT).length).toBeLessThan(14)
  })

  it('is found through noise', () => {
    const normal = normalSource(8)
    const losses = Array.from({ length: 100 }, () => lossOf(days(13, 9, 0.7, 0.5, normal))!)
    expect(losses.filter(loss => loss >= SPOKEN_OF_PCT).length).toBeGreaterThan(90)
    const [middle = NaN] = losses.sort((a, b) => a - b).slice(50)
    expect(Math.abs(middle - 6.5)).toBeLessThan(1)
  })
})
