import { describe, expect, it } from 'vitest'
import { logInsidePrior } from '../../src/diagnose/prior.js'

describe('what a cut prior leaves of a size', () => {
  it.each([
    [0.6, 0.01],
    [0.9, 0.05],
    [0.52, 0.002],
    [5, 0.01],
    [0.3, 0.2],
    [0, 0.1],
  ])('a span error of %d counts as one of the other sign, sd %d', (size, sd) => {
    expect(logInsidePrior('span', -size, sd)).toBe(logInsidePrior('span', size, sd))
    expect(logInsidePrior('span', size, sd)).toBeGreaterThan(-Infinity)
  })

  it('ten standard deviations beyond the cut it is the normal tail', () => {
    // ln Φ(−10) = −53.23128515051247, from R's pnorm(-10, log.p = TRUE), from memory.
    expect(logInsidePrior('span', -0.6, 0.01)).toBeCloseTo(-53.23128515, 6)
    expect(logInsidePrior('span', 0, 0.01)).toBeCloseTo(0, 9)
  })

  it('a film only adds', () => {
    expect(logInsidePrior('fouling', 1, 0.1)).toBeCloseTo(Math.log(2), 9)
    expect(logInsidePrior('fouling', -1, 0.1)).toBeLessThan(-50)
  })
})
