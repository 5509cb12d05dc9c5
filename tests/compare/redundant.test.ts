import { describe, expect, it } from 'vitest'
import { condenseWindow, priorInnovation, redundantLines } from '../../src/compare/redundant.js'
import { plantOf, pointOf, START_MS } from '../model/plantFixture.js'

const PLANT = plantOf()
const ANALYZERS = (id: string) => pointOf(id, PLANT).analyzers.map(unit => PLANT.analyzers.get(unit)!)

function condensed(id: string, rowsNtu: (number | null)[][]) {
  return condenseWindow({ rowsNtu }, START_MS, ANALYZERS(id), redundantLines(pointOf(id, PLANT)))
}

const rows = (n: number, row: (i: number) => (number | null)[]) => Array.from({ length: n }, (_, i) => row(i))

describe('redundantLines', () => {
  it.each([
    ['SW', []],
    ['FE3', ['FE3-A minus FE3-B']],
    ['CFE', ['CFE-A against the others', 'CFE-B against the others', 'CFE-C against the others']],
  ])('%s', (id, names) => {
    expect(redundantLines(pointOf(id, PLANT)).map(line => line.name)).toEqual(names)
  })

  it('a difference of two spreads by √2, one against the mean of the others by less', () => {
    const [pair] = redundantLines(pointOf('FE3', PLANT))
    const [others] = redundantLines(pointOf('CFE', PLANT))
    expect(priorInnovation(pair!, 2)).toBeCloseTo(0.08 * Math.SQRT2, 12)
    expect(priorInnovation(others!, 3)).toBeCloseTo(0.08 * Math.sqrt(1.5), 12)
    expect(priorInnovation(others!, 4)).toBeCloseTo(0.08 * Math.sqrt(4 / 3), 12)
  })
})

describe('condenseWindow', () => {
  it('gives the difference of two in tolerances and what each differs from their mean', () => {
    const window = condensed(
      'FE3',
      rows(24, () => [0.06, 0.04]),
    )
    expect(window?.values[0]).toBeCloseTo(0.02 / 0.05, 6)
    expect(window?.difference.deviationsNtu[0]).toBeCloseTo(0.01, 7)
    expect(window?.difference.deviationsNtu[1]).toBeCloseTo(-0.01, 7)
    expect(window?.difference).toMatchObject({ atMs: START_MS, lines: [null] })
  })

  it('does not see the level move', () => {
    const window = condensed(
      'FE3',
      rows(24, i => [0.1 + 0.02 * i, 0.09 + 0.02 * i]),
    )
    expect(window!.values[0]! * window!.difference.toleranceNtu).toBeCloseTo(0.01, 6)
    expect(window?.difference.levelNtu).toBeCloseTo(0.095 + 0.02 * 11.5, 6)
  })

  it('is not moved by a few wild blocks', () => {
    const window = condensed(
      'FE3',
      rows(24, i => [i < 8 ? 3 : 0.05, 0.05]),
    )
    expect(window?.values[0]).toBe(0)
  })

  it('says nothing of fewer than half the blocks', () => {
    expect(
      condensed(
        'FE3',
        rows(11, () => [0.05, 0.05]),
      ),
    ).toBeUndefined()
    expect(
      condensed(
        'FE3',
        rows(24, i => [0.05, i < 13 ? null : 0.05]),
      ),
    ).toBeUndefined()
    expect(
      condensed(
        'FE3',
        rows(24, i => [0.05, i < 12 ? null : 0.05]),
      ),
    ).toBeDefined()
  })

  it('three units: the wild one stands out against the middle of the others', () => {
    const window = condensed(
      'CFE',
      rows(24, () => [0.05, 0.05, 0.11]),
    )
    expect(window!.values.map(value => Math.round(value! * 1e4) / 1e4)).toEqual([-0.6, -0.6, 1.2])
    expect(window!.difference.deviationsNtu.map(ntu => Math.round(ntu! * 1e4) / 1e4)).toEqual([-0.02, -0.02, 0.04])
  })

  it('three units, one out of use: the others go on, its own line is silent', () => {
    const window = condensed(
      'CFE',
      rows(24, () => [0.05, null, 0.06]),
    )
    expect(window!.values[1]).toBeNull()
    expect(window!.difference.deviationsNtu[1]).toBeNull()
    expect(window!.values[0]).toBeCloseTo(-0.2, 6)
  })
})
