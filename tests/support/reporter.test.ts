import { describe, expect, it } from 'vitest'
import { closingLine } from './closing-line.js'

const CLEAN = { tests: [], groupErrors: [], unhandledErrors: 0 } as const

describe('closing line', () => {
  it('counts passed and failed tests and leaves skipped ones unmentioned when there are none', () => {
    expect(closingLine({ ...CLEAN, tests: ['passed', 'failed', 'passed'] })).toBe('2 passed, 1 failed')
  })

  it('names skipped tests', () => {
    expect(closingLine({ ...CLEAN, tests: ['passed', 'skipped'] })).toBe('1 passed, 0 failed, 1 skipped')
  })

  it('counts a test that never got a result as failed', () => {
    expect(closingLine({ ...CLEAN, tests: ['passed', 'pending'] })).toBe('1 passed, 1 failed')
  })

  it('counts a file that could not be imported once, however many errors it gave', () => {
    expect(closingLine({ ...CLEAN, tests: ['passed'], groupErrors: [0, 3] })).toBe('1 passed, 1 failed')
  })

  it('counts every unhandled error, even when no test ran', () => {
    expect(closingLine({ ...CLEAN, unhandledErrors: 2 })).toBe('0 passed, 2 failed')
  })

  it('is one line without colour codes', () => {
    expect(closingLine({ tests: ['passed', 'failed', 'skipped'], groupErrors: [1], unhandledErrors: 1 })).toMatch(
      /^\d+ passed, \d+ failed, \d+ skipped$/,
    )
  })
})
