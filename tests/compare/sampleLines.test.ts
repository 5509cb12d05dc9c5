import { describe, expect, it } from 'vitest'
import { linesOf, othersOutvote, sharedLines } from '../../src/compare/sampleLines.js'

const fed = (...lines: (string | undefined)[]) => lines.map((sampleLine, i) => ({ id: `U${String(i)}`, sampleLine }))

describe('units on sample lines', () => {
  it('that share one are told, unless all do: then nothing stands beside them', () => {
    expect(sharedLines(fed('N1', 'N2', 'N2'))).toEqual([{ sampleLine: 'N2', units: [1, 2] }])
    expect(sharedLines(fed('N1', 'N1'))).toEqual([])
    expect(sharedLines(fed('N1', 'N2', undefined))).toEqual([])
    expect(sharedLines(fed('N1', 'N1', 'N2', 'N2'))).toHaveLength(2)
  })

  it('are as many voices as lines; one without a line has its own', () => {
    expect(linesOf(fed('N1', 'N1', 'N2'))).toBe(2)
    expect(linesOf(fed(undefined, undefined, 'N2'))).toBe(3)
    expect(linesOf([])).toBe(0)
  })

  it.each([
    ['one of two', fed(undefined, undefined), 0, false],
    ['one of three', fed(undefined, undefined, undefined), 0, true],
    ['one against two on one line', fed('N1', 'N2', 'N2'), 0, false],
    ['one of the two on a line, its neighbour with the third', fed('N1', 'N2', 'N2'), 1, true],
    ['one of three on one line', fed('N1', 'N1', 'N1'), 0, false],
  ])('the others outvote %s', (_, analyzers, unit, outvoted) => {
    expect(othersOutvote(analyzers, unit)).toBe(outvoted)
  })
})
