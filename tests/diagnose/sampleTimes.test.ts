import { describe, expect, it } from 'vitest'
import type { Pair } from '../../src/compare/pair.js'
import { plannedTimes } from '../../src/diagnose/sampleTimes.js'
import { DAY_MS, HOUR_MS, MINUTE_MS } from '../../src/model/time.js'
import { seeded } from '../core/support/random.js'

const START_MS = Date.UTC(2026, 3, 1)
const DECLARED_S = 120

interface Plan {
  readonly seed: number
  readonly pairs?: number
  /** Standard deviation of the true time about the label, min. */
  readonly timeMin?: number
  /** Factor on the scatter of everything else. */
  readonly noise?: number
  readonly minute?: (n: number) => number
}

/** Four samples a day of a level that moves by up to 0.5 NTU/h; residuals as their uncertainty, and their times, make them. */
function pairsOf({ seed, pairs = 60, timeMin = 2, noise = 1, minute = () => 0 }: Plan): Pair[] {
  const random = seeded(seed)
  return Array.from({ length: pairs }, (_, n) => {
    const rate = random.uniform() - 0.5
    const own = 0.03
    const timed = (Math.abs(rate) * DECLARED_S) / 3_600
    const residual = noise * own * random.normal() + (rate * timeMin * random.normal()) / 60
    return {
      atMs: START_MS + Math.floor(n / 4) * DAY_MS + (n % 4) * 6 * HOUR_MS + minute(n) * MINUTE_MS,
      grabNtu: 1.2 - residual,
      qualifier: null,
      sampleId: null,
      laboratoryInstrument: null,
      use: 'used',
      units: [
        {
          ntu: 1.2,
          uNtu: Math.hypot(own, timed),
          toleranceNtu: 0.12,
          rateNtuPerH: Math.abs(rate),
          high: 0,
          low: 0,
          limit: 0,
        },
      ],
    } satisfies Pair
  })
}

const SEEDS = Array.from({ length: 100 }, (_, k) => k + 1)
const found = (plan: Omit<Plan, 'seed'>) =>
  SEEDS.filter(seed => plannedTimes(pairsOf({ ...plan, seed }), DECLARED_S) !== undefined)

describe('planned times of sampling', () => {
  it('are seen where labels stand on the hour and are off by twenty minutes', () => {
    expect(found({ timeMin: 20 }).length).toBeGreaterThan(85)
    const one = plannedTimes(pairsOf({ seed: 3, timeMin: 20 }), DECLARED_S)
    expect(one?.minute).toBe(0)
    expect(one?.timeUncertaintyS).toBeGreaterThanOrEqual(900)
    expect(one?.timeUncertaintyS).toBeLessThanOrEqual(1_800)
  })

  it('are not seen where labels on the hour are true, however much the laboratory scatters', () => {
    expect(found({}).length).toBeLessThanOrEqual(2)
    expect(found({ noise: 1.6 }).length).toBeLessThanOrEqual(2)
    expect(found({ noise: 3 }).length).toBeLessThanOrEqual(2)
  })

  it('are not seen where one label does not stand on the hour', () => {
    expect(found({ timeMin: 20, minute: n => (n === 40 ? 17 : 0) })).toEqual([])
    expect(found({ timeMin: 20, minute: n => (n * 7) % 60 })).toEqual([])
  })

  it('need twenty pairs', () => {
    expect(found({ timeMin: 30, pairs: 19 })).toEqual([])
    expect(found({ timeMin: 30, pairs: 24 }).length).toBeGreaterThan(30)
  })
})
