import { describe, expect, it } from 'vitest'
import { expectedSteps } from '../../src/statistics/absorbingChain.js'
import { gaussLegendre } from '../../src/statistics/gaussLegendre.js'

describe('expected steps to absorption', () => {
  it('solves a walk on three states by hand', () => {
    // From 0 to 1 always; from 1 back or on with one half each; from 2 back or out with one half each.
    const moves = Float64Array.from([0, 1, 0, 0.5, 0, 0.5, 0, 0.5, 0])
    const steps = expectedSteps({ n: 3, moves, absorption: Float64Array.from([0, 0, 0.5]) })
    expect([...steps]).toEqual([9, 8, 5])
  })

  it('keeps its digits where one minus a probability would be one', () => {
    const tiny = 1e-40
    const moves = Float64Array.from([0.5, 0.5, 1, 0])
    const [first] = expectedSteps({ n: 2, moves, absorption: Float64Array.from([0, tiny]) })
    expect((first ?? NaN) * tiny).toBeCloseTo(3, 12)
  })
})

describe('Gauss–Legendre rule', () => {
  // Abramowitz and Stegun, table 25.4, n = 2, 3 and 5.
  it('has the tabulated nodes and weights', () => {
    expect(gaussLegendre(2).nodes[1]).toBeCloseTo(0.577350269189626, 14)
    expect(gaussLegendre(3).nodes[2]).toBeCloseTo(0.774596669241483, 14)
    expect(gaussLegendre(5).nodes[4]).toBeCloseTo(0.906179845938664, 14)
    expect(gaussLegendre(5).weights[4]).toBeCloseTo(0.236926885056189, 14)
  })

  it.each([1, 2, 7, 10, 31])('integrates polynomials up to degree 2n − 1, n = %i', n => {
    const { nodes, weights } = gaussLegendre(n)
    for (let degree = 0; degree <= 2 * n - 1; degree++) {
      const integral = nodes.reduce((sum, x, i) => sum + (weights[i] ?? NaN) * x ** degree, 0)
      expect(integral).toBeCloseTo(degree % 2 === 0 ? 2 / (degree + 1) : 0, 12)
    }
  })
})
