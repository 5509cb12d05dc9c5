import { describe, expect, it } from 'vitest'
import { pointContext } from '../../src/core/context.js'
import { type GrabComparison, grabComparison } from '../../src/core/explainComparison.js'
import { type LoggedPair, newPointState } from '../../src/core/pointState.js'
import { DAY_MS, HOUR_MS } from '../../src/model/time.js'
import { isInJointRegion } from '../../src/statistics/jointRegion.js'
import { yorkRegression } from '../../src/statistics/yorkRegression.js'
import { plantOf, REGISTER, START_MS } from '../model/plantFixture.js'
import { normalSource } from '../statistics/random.js'

/** Laboratory: 0.004 NTU and 3 % of the level at random, nothing shared; tolerance 0.05 NTU or 10 %. */
const PLAN = { standardUncertaintyNtu: 0.004, relative: 0.03, sharedStandardUncertaintyNtu: 0 }
const WINDOW_NTU = 0.002

interface Made {
  readonly levels: readonly number[]
  readonly read: (level: number) => number
  readonly noise?: number
  readonly change?: (pair: LoggedPair, i: number) => LoggedPair
  readonly adjustedMs?: number
  readonly plan?: object
}

/** The comparison of FE3-B after grab samples of these levels, twelve hours apart. */
function compared({
  levels,
  read,
  noise = 0,
  change = pair => pair,
  adjustedMs = 0,
  plan = PLAN,
}: Made): GrabComparison {
  const plant = plantOf({
    ...REGISTER,
    points: { ...REGISTER.points, FE3: { ...REGISTER.points.FE3, grab: plan } },
  })
  const registered = plant.points.get('FE3')!
  const point = newPointState(registered)
  const normal = normalSource(7)
  point.pairs = levels.map((level, i) => {
    const laboratory = Math.hypot(PLAN.standardUncertaintyNtu, PLAN.relative * level)
    const own = {
      ntu: read(level) + noise * WINDOW_NTU * normal(),
      uNtu: Math.hypot(laboratory, WINDOW_NTU),
      toleranceNtu: 0.05,
      rateNtuPerH: 0,
      high: 0,
      low: 0,
      limit: 0,
    }
    const atMs = START_MS + i * 12 * HOUR_MS
    return change(
      {
        dueMs: atMs,
        atMs,
        grabNtu: level + noise * laboratory * normal(),
        qualifier: null,
        sampleId: null,
        laboratoryInstrument: null,
        use: 'used',
        units: [null, own],
      },
      i,
    )
  })
  const unit = point.fold.units[1]!
  unit.adjustedMs = adjustedMs
  return grabComparison(pointContext(plant, registered, []), point, unit, 1)
}

const WIDE = Array.from({ length: 30 }, (_, i) => 0.03 + 0.01 * i)
const right = (level: number) => level

describe('analyzer against grab samples', () => {
  it('finds zero and span of an exact line, and takes no error for inside where there is none', () => {
    const wrong = compared({ levels: WIDE, read: level => 0.02 + 0.9 * level })
    expect(wrong.line?.zeroNtu.value).toBe(0.02)
    expect(wrong.line?.spanRel.value).toBe(-0.1)
    expect(wrong.line?.told).toMatchObject({ readsRight: false, levelNtu: 0.175, biasNtu: { value: 0.0025 } })
    expect(wrong.line?.scatterRatio).toBe(0)
    expect(compared({ levels: WIDE, read: right }).line?.told?.readsRight).toBe(true)
  })

  it('parts the uncertainty into that of the plan and the rest of the analyzer', () => {
    const { pairs } = compared({ levels: [0.1, 0.2, 0.3, 0.4, 0.5], read: right })
    expect(pairs[0]).toEqual({ grabNtu: 0.1, uGrabNtu: 0.005, analyzerNtu: 0.1, uAnalyzerNtu: 0.002 })
    expect(pairs[4]?.uGrabNtu).toBe(0.0155)
    const stated = compared({
      levels: [0.1, 0.2, 0.3, 0.4, 0.5],
      read: right,
      change: pair => ({ ...pair, units: [null, { ...pair.units[1]!, uNtu: 0.001 }] }),
    })
    expect(stated.pairs[0]).toMatchObject({ uGrabNtu: 0.001, uAnalyzerNtu: 0.0001 })
  })

  // Twenty pairs with a zero error, standard errors as declared: the line of the regression itself, with its intervals.
  it('is the York line of the pairs, and its region has (0, 1) where the verdict says so', () => {
    const made = compared({ levels: WIDE, read: level => level + 0.006, noise: 1 })
    const fit = yorkRegression({
      x: made.pairs.map(pair => pair.grabNtu),
      ux: made.pairs.map(pair => pair.uGrabNtu),
      y: made.pairs.map(pair => pair.analyzerNtu),
      uy: made.pairs.map(pair => pair.uAnalyzerNtu),
    })
    const line = made.line!
    expect(Math.abs(line.zeroNtu.value - fit.intercept)).toBeLessThan(3e-4)
    expect(Math.abs(line.spanRel.value - (fit.slope - 1))).toBeLessThan(3e-3)
    expect(line.told?.readsRight).toBe(isInJointRegion(fit, { intercept: 0, slope: 1 }))
    expect(line.region).toHaveLength(64)
    const [zeros, spans] = [line.region.map(([zero]) => zero), line.region.map(([, span]) => span)]
    // The joint region reaches further than each interval alone: √5.991 against 1.960.
    expect((Math.max(...zeros) - line.zeroNtu.value) / (line.zeroNtu.ci95[1] - line.zeroNtu.value)).toBeCloseTo(
      1.2488,
      1,
    )
    expect(Math.min(...spans)).toBeLessThan(line.spanRel.ci95[0])
  })

  it('starts anew at adjusting work, and leaves out what does not count or is a bound', () => {
    const adjustedMs = START_MS + 10 * DAY_MS
    const { sinceMs, pairs, bounds } = compared({
      levels: WIDE,
      read: right,
      adjustedMs,
      change: (pair, i) =>
        i === 25
          ? { ...pair, use: 'suspect_grab' }
          : i === 26
            ? { ...pair, qualifier: '<' }
            : i === 27
              ? { ...pair, units: [pair.units[1]!, null] }
              : pair,
    })
    expect([sinceMs, pairs.length, bounds]).toEqual([adjustedMs, 6, 1])
    expect(compared({ levels: WIDE, read: right }).sinceMs).toBeUndefined()
  })

  it('says what is missing instead of drawing a line through too little', () => {
    const missing = (made: Partial<Made>) => {
      const comparison = compared({ levels: WIDE, read: right, ...made })
      expect(comparison.line).toBeUndefined()
      return comparison.missing
    }
    expect(missing({ levels: [] })).toBe('needs at least 5 grab samples, has 0')
    expect(missing({ levels: WIDE.slice(0, 4) })).toBe('needs at least 5 grab samples, has 4')
    expect(missing({ adjustedMs: START_MS + 14 * DAY_MS })).toBe(
      'needs at least 5 grab samples since the adjusting work of 16 Mar 2026, has 1',
    )
    expect(missing({ levels: WIDE.map(() => 0.1) })).toBe('all grab samples have one value; a line needs two levels')
    expect(missing({ levels: WIDE.map((_, i) => 0.1 + 0.0001 * (i % 2)), noise: 1 })).toMatch(/differ too little/)
  })

  it('tells zero and span but gives no verdict where the water ranges too little to part them', () => {
    const levels = WIDE.map((_, i) => 0.08 + 0.001 * (i % 20))
    const { line } = compared({ levels, read: right, noise: 1 })
    expect(line).toBeDefined()
    expect(line?.told).toBeUndefined()
  })

  it('takes for wrong hardly ever what reads right, on water that never changes, on narrow and on wide water', () => {
    // Own simulation: a verdict "no" may come in 5 of 100; constant water must give hardly any verdict at all.
    for (const [spread, most] of [
      [0, 0],
      [0.02, 2],
      [0.3, 9],
    ] as const) {
      const normal = normalSource(11)
      let wrong = 0
      for (let draw = 0; draw < 60; draw++) {
        const levels = Array.from({ length: 12 }, (_, i) => 0.05 + (spread * i) / 11)
        const noises = levels.map(() => normal())
        const { line } = compared({
          levels,
          read: right,
          change: (pair, i) => {
            const u = Math.sqrt(pair.units[1]!.uNtu ** 2 - WINDOW_NTU ** 2)
            return {
              ...pair,
              grabNtu: pair.grabNtu + u * noises[i]!,
              units: [null, { ...pair.units[1]!, ntu: pair.units[1]!.ntu + WINDOW_NTU * normal() }],
            }
          },
        })
        if (line?.told?.readsRight === false) wrong++
      }
      expect(wrong).toBeLessThanOrEqual(most)
    }
  })

  it('is net of what the laboratory adds at the point, and is less sure of the zero for it', () => {
    const plan = { ...PLAN, sharedStandardUncertaintyNtu: 0.01 }
    const alone = compared({ levels: WIDE, read: right }).line!
    const shared = compared({ levels: WIDE, read: right, plan }).line!
    const width = ({ ci95: [lower, upper] }: { readonly ci95: readonly [number, number] }) => upper - lower
    expect(width(shared.zeroNtu)).toBeGreaterThan(1.5 * width(alone.zeroNtu))
    expect(width(shared.spanRel)).toBe(width(alone.spanRel))
    expect(shared.told!.readsRight).toBe(true)
  })
})
