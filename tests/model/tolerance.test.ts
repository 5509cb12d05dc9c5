import { describe, expect, it } from 'vitest'
import { toleranceAt } from '../../src/model/tolerance.js'

describe('toleranceAt', () => {
  // Standards item A4.5t: absolute 0.05, relative 0.10, the project's own table.
  it.each([
    [0.02, 0.05],
    [0.3, 0.05],
    [0.5, 0.05],
    [0.51, 0.051],
    [1, 0.1],
    [34.2, 3.42],
    [100, 10],
  ])('A4.5t: at %d NTU it is %d NTU', (levelNtu, expected) => {
    expect(Math.abs(toleranceAt({ absoluteNtu: 0.05, relative: 0.1 }, levelNtu) - expected)).toBeLessThanOrEqual(1e-12)
  })

  it('takes a level below zero as zero', () => {
    expect(toleranceAt({ absoluteNtu: 0.05, relative: 0.1 }, -3)).toBe(0.05)
  })
})
