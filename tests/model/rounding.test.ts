import { describe, expect, it } from 'vitest'
import { roundSignificant, roundTo } from '../../src/model/rounding.js'

describe('roundTo', () => {
  it.each([
    [0.12345, 4, 0.1235],
    [0.12344, 4, 0.1234],
    [-0.12345, 4, -0.1234], // half up, towards +∞
    [2.5, 0, 3],
    [-2.5, 0, -2],
    [1234.5678, 1, 1234.6],
    [0.1 + 0.2, 9, 0.3],
    [NaN, 3, NaN],
    [Infinity, 3, Infinity],
  ])('%d to %d places is %d', (value, places, expected) => {
    expect(roundTo(value, places)).toBe(expected)
  })

  it('never gives minus zero', () => {
    expect(Object.is(roundTo(-0.00001, 3), 0)).toBe(true)
    expect(Object.is(roundTo(-0, 3), 0)).toBe(true)
  })

  it.each([-1, 1.5, 10])('refuses %d places', places => {
    expect(() => roundTo(1, places)).toThrow(RangeError)
  })
})

describe('roundSignificant', () => {
  it.each([
    [123_456, 3, 123_000],
    [0.00123456, 3, 0.00123],
    [-4.0404, 2, -4],
    [0, 4, 0],
    [Infinity, 4, Infinity],
  ])('%d to %d digits is %d', (value, digits, expected) => {
    expect(roundSignificant(value, digits)).toBe(expected)
  })
})
