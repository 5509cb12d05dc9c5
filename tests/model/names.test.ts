import { describe, expect, it } from 'vitest'
import { isName, nameSchema } from '../../src/model/names.js'

const GOOD = ['CFE-A', 'a', 'Z9', 'FE3.B_2', `a${'b'.repeat(63)}`]
const BAD = [
  '',
  '1A', // JavaScript puts integer-like keys first
  '42',
  '__proto__',
  'constructor',
  'toString',
  'hasOwnProperty',
  'valueOf',
  'toLocaleString',
  'isPrototypeOf',
  'propertyIsEnumerable',
  '-A',
  '.A',
  'A B',
  'A/B',
  'A\n',
  'A+',
  '#',
  'Ä1',
  `a${'b'.repeat(64)}`,
]

describe('names', () => {
  it.each(GOOD)('%s is a name', name => {
    expect([isName(name), nameSchema.safeParse(name).success]).toEqual([true, true])
  })
  it.each(BAD)('%j is none', name => {
    expect([isName(name), nameSchema.safeParse(name).success]).toEqual([false, false])
  })
  it.each([null, undefined, 7, {}, ['A']])('%j is none either', value => {
    expect(isName(value)).toBe(false)
  })
})
