import fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import {
  type ChangeSums,
  newChangeSums,
  offsetCoupling,
  scoreChange,
  solveOffsets,
} from '../../src/statistics/changePosterior.js'
import { addChange, type Change, tailSums } from '../../src/statistics/changeSums.js'
import { orderSeries } from '../../src/statistics/orderedSeries.js'
import { addDirectly, type WhitenedSeries } from './directChange.js'
import { normalSource } from './random.js'

// The reference is the model summed value by value; nothing outside the project does this sum.

const runs = { seed: 20_260_411, numRuns: 300 } // the seed only pins the generated cases
const PRESENT = 56
const PRIOR_SD = 1
const OFFSET_VARIANCES = [0.09, 0.04, 1]

interface Plan {
  readonly values: number
  readonly gap: number
  readonly phi: number
  readonly seed: number
}

/** Four values a day with gaps, as many as fit before the present; whitened only where a value follows. */
function seriesOf({ values, gap, phi, seed }: Plan): WhitenedSeries {
  const normal = normalSource(seed)
  const times: number[] = []
  const phis: number[] = []
  for (let time = PRESENT; times.length < values && time > 0; time -= 0.25) {
    const leftOut = Math.abs(normal()) < gap
    if (!leftOut) times.unshift(time)
  }
  for (const [i, time] of times.entries()) phis.push(time - (times[i - 1] ?? -Infinity) === 0.25 ? phi : 0)
  const offset = 0.3 * normal()
  return {
    y: times.map((_, i) => offset * (1 - phis[i]!) + 0.3 * normal()),
    g: phis.map(one => 1 - one),
    variance: times.map(() => 0.04 + 0.1 * normal() ** 2),
    loading: OFFSET_VARIANCES.map(() => (normal() > 0.5 ? 0 : normal())),
    times,
    phi: phis,
    effect: times.map(() => 0.5 + 2 * normal()),
  }
}

const plan = fc.record({
  values: fc.integer({ min: 1, max: 224 }),
  gap: fc.constantFrom(0, 0.1, 1),
  phi: fc.constantFrom(0, 0.4, 0.9),
  seed: fc.integer({ min: 1, max: 1e6 }),
})
const onset = fc.double({ min: -1, max: PRESENT - 0.05, noNaN: true })
const ends = fc
  .array(fc.oneof(fc.double({ min: 0, max: PRESENT, noNaN: true }), fc.integer({ min: 0, max: PRESENT })), {
    maxLength: 5,
  })
  .map(list => list.sort((a, b) => a - b))
const width = fc.constantFrom(0, 0.1, 0.25, 1, 3)
const power = fc.constantFrom(0, 1, 2)

/** A change as one would say it: nothing up to its onset and after its end, a power of its age between. */
function shareOf(change: Change, end: number): (time: number) => number {
  const { power: exponent, onset: from, width: over, fullAge } = change
  return time => {
    if (time > end) return 0
    if (exponent === 0 && over > 0) return Math.max(0, Math.min(1, (time - from) / over + 0.5))
    return time > from ? ((time - from) / fullAge) ** exponent : 0
  }
}

function changeOf(form: Omit<Change, 'fullAge'>, endings: readonly number[]): { change: Change; end: number } {
  const end = endings.find(one => one > form.onset) ?? Infinity
  return { change: { ...form, fullAge: Math.max(1e-8, Math.min(end, PRESENT) - form.onset) }, end }
}

function fast(all: readonly WhitenedSeries[], change: Change, endings: readonly number[]): ChangeSums {
  const sums = newChangeSums(OFFSET_VARIANCES.length)
  for (const one of all) addChange(sums, tailSums(orderSeries(one, one), one.effect, endings, PRESENT), change)
  return sums
}

describe('sums of a change at hand', () => {
  it('give the score that the sum over all values gives, within 1e-9', () => {
    fc.assert(
      fc.property(
        fc.array(plan, { minLength: 1, maxLength: 4 }),
        onset,
        ends,
        width,
        power,
        (plans, at, endings, over, exponent) => {
          const all = plans.map(seriesOf)
          const { change, end } = changeOf({ power: exponent, onset: at, width: over }, endings)
          const direct = newChangeSums(OFFSET_VARIANCES.length)
          for (const one of all) addDirectly(direct, one, shareOf(change, end))
          const offsets = solveOffsets(all, OFFSET_VARIANCES)
          const sums = fast(all, change, endings)
          const a = scoreChange(sums, offsets, PRIOR_SD)
          const b = scoreChange(direct, offsets, PRIOR_SD)
          for (const key of ['logEvidence', 'mean', 'sd'] as const)
            expect(Math.abs(a[key] - b[key])).toBeLessThanOrEqual(1e-9 * Math.max(Math.abs(b[key]), b.sd))
          const coupling = offsetCoupling(sums, offsets)
          offsetCoupling(direct, offsets).forEach((lower, k) => {
            expect(Math.abs(coupling[k]! - lower)).toBeLessThanOrEqual(1e-9 * Math.max(Math.abs(lower), 1))
          })
        },
      ),
      runs,
    )
  })

  it('do not depend on the order in which values that are not whitened came', () => {
    const series = { ...seriesOf({ values: 60, gap: 0, phi: 0, seed: 5 }) }
    const turned = <T>(list: readonly T[]): T[] => [...list.slice(7), ...list.slice(0, 7)]
    const other = {
      ...series,
      times: turned(series.times),
      y: turned(series.y),
      variance: turned(series.variance),
      effect: turned(series.effect),
    }
    const { change } = changeOf({ power: 2, onset: 43.2, width: 0 }, [50])
    expect(fast([other], change, [50])).toEqual(fast([series], change, [50]))
  })

  it('a change that no value saw adds nothing', () => {
    const series = seriesOf({ values: 40, gap: 0, phi: 0.4, seed: 6 })
    const { change } = changeOf({ power: 0, onset: 20, width: 3 }, [30])
    expect(fast([series], change, [30])).toEqual(newChangeSums(3))
    const late = changeOf({ power: 1, onset: PRESENT, width: 0 }, [])
    expect(fast([series], late.change, [])).toEqual(newChangeSums(3))
  })
})
