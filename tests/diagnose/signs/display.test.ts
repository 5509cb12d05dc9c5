import { describe, expect, it } from 'vitest'
import { displaySign, newDisplayState, takeDisplay } from '../../../src/diagnose/signs/display.js'

describe('the local display beside the record', () => {
  it.each([
    ['half of it recorded', 0.088, 0.044, true],
    ['the same', 0.088, 0.088, false],
    ['another second', 0.088, 0.083, false],
    ['a step apart', 0.021, 0.022, false],
    ['off the scale', 12, 10, true],
  ])('%s', (_, displayedNtu, recordedNtu, differs) => {
    const state = newDisplayState()
    takeDisplay(state, 1, displayedNtu, recordedNtu, { spreadNtu: 0.001, stepNtu: 0.001 })
    expect(displaySign(state) !== undefined).toBe(differs)
  })

  it('a later note takes the place of the one before', () => {
    const state = newDisplayState()
    takeDisplay(state, 1, 0.088, 0.044, { spreadNtu: 0.001, stepNtu: 0.001 })
    takeDisplay(state, 2, 0.088, 0.088, { spreadNtu: 0.001, stepNtu: 0.001 })
    expect(displaySign(state)).toBeUndefined()
  })
})
