import { describe, expect, it } from 'vitest'
import { FAULT_CODES, sayFault, showValue } from '../../src/model/faults.js'

describe('showValue', () => {
  it.each([
    [undefined, 'nothing'],
    [null, 'null'],
    ['abc', '"abc"'],
    [NaN, 'NaN'],
    [-Infinity, '-Infinity'],
    [0.1, '0.1'],
    [{ a: 1 }, '{"a":1}'],
    [() => 1, 'function'],
    [Symbol('x'), 'symbol'],
  ])('%o', (value, shown) => {
    expect(showValue(value)).toBe(shown)
  })

  it('makes what a terminal would act on visible', () => {
    const shown = showValue('\u001b[2J\u009b1m\u007f\u2028\u202e')
    expect(shown.startsWith('"\\u001b[2J\\u009b1m\\u007f\\u2028')).toBe(true)
    expect(/[\u0000-\u001f\u007f-\u009f\u2028\u2029]/.test(shown)).toBe(false)
  })

  it('shortens to 80 characters', () => {
    expect(showValue('x'.repeat(500))).toHaveLength(81)
    expect(showValue('x'.repeat(500)).endsWith('…')).toBe(true)
  })
})

describe('sayFault', () => {
  it('names field, value and rule', () => {
    const fault = { code: 'invalid_field', field: 'grab.value', value: '"abc"', rule: 'must be a number' } as const
    expect(sayFault(fault)).toBe('grab.value: "abc" is refused: must be a number')
    expect(sayFault({ ...fault, field: '' })).toBe('message: "abc" is refused: must be a number')
  })

  it('has one code for each reason', () => {
    expect(new Set(FAULT_CODES).size).toBe(FAULT_CODES.length)
  })
})
