import fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import { thin } from '../../src/report/pictures/thin.js'

describe('thin', () => {
  it('keeps order, budget and both extremes of any series', () => {
    fc.assert(
      fc.property(
        fc.array(fc.double({ noNaN: true, min: -1e6, max: 1e6 }), { minLength: 1, maxLength: 400 }),
        fc.integer({ min: 2, max: 100 }),
        (values, budget) => {
          const points = values.map((value, index) => ({ value, index }))
          const kept = thin(points, point => point.value, budget)
          const sizes = kept.map(point => point.value)
          expect(kept.length).toBeLessThanOrEqual(Math.max(budget, 2))
          expect(Math.max(...sizes)).toBe(Math.max(...values))
          expect(Math.min(...sizes)).toBe(Math.min(...values))
          expect(kept.every((point, at) => at === 0 || point.index > kept[at - 1]!.index)).toBe(true)
        },
      ),
      { seed: 20260519, numRuns: 300 },
    )
  })
})
