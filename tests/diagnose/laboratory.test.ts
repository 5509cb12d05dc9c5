import { describe, expect, it } from 'vitest'
import {
  bestTail,
  changeSince,
  laboratoryGain,
  othersHaveSpoken,
  type PointChange,
  type PointResiduals,
} from '../../src/diagnose/laboratory.js'
import { DAY_MS } from '../../src/model/time.js'

const at = (day: number) => day * DAY_MS
const point = (name: string, values: readonly (readonly [number, number])[], u = 0.3): PointResiduals => ({
  point: name,
  values: values.map(([day, residual]) => ({ atMs: at(day), residual, u })),
})
const change = (size: number, variance = 0.01): PointChange => ({ point: 'P', change: size, variance, before: 0 })

describe('change of a point since an instant', () => {
  it('is the mean since minus the mean before, with the variances of both', () => {
    const series = point('P', [
      [28, 0.1],
      [29, 0.3],
      [31, 1.2],
      [32, 1.0],
      [33, 1.1],
    ])
    expect(changeSince(series, at(30), at(33))).toEqual({
      point: 'P',
      change: expect.closeTo(1.1 - 0.2, 12) as number,
      variance: expect.closeTo(0.09 / 3 + 0.09 / 2, 12) as number,
      before: expect.closeTo(0.2, 12) as number,
    })
  })

  it('looks back 21 days and forward seven', () => {
    const series = point('P', [
      [8, 9], // 22 days before
      [10, 0.5],
      [31, 5], // older than seven days
      [36, 1],
    ])
    expect(changeSince(series, at(30), at(39))).toMatchObject({ change: 0.5, before: 0.5 })
  })

  it('counts from zero where nothing was before, and says nothing where nothing is since', () => {
    expect(changeSince(point('P', [[31, 0.7]]), at(30), at(33))).toMatchObject({ change: 0.7, before: 0 })
    expect(changeSince(point('P', [[29, 0.7]]), at(30), at(33))).toBeUndefined()
  })
})

describe('whether enough other points have spoken', () => {
  const own = point('A', [[31, 1]])
  const spoken = (name: string) => point(name, [[31, 0]])
  const silent = (name: string) => point(name, [[20, 0]])
  const gone = (name: string) => point(name, [[1, 0]])
  it.each([
    ['three of three', [spoken('B'), spoken('C'), spoken('D')], true],
    ['two of three', [spoken('B'), spoken('C'), silent('D')], false],
    ['three of four', [spoken('B'), spoken('C'), spoken('D'), silent('E')], true],
    ['both there are', [spoken('B'), spoken('C'), gone('D')], true],
    ['nobody else', [], true],
  ])('%s: %s', (_, others, expected) => {
    expect(othersHaveSpoken('A', [own, ...others], at(30), at(32))).toBe(expected)
  })
})

describe('what other points lend to the laboratory', () => {
  const three = [change(1), change(1), change(1)]
  it.each<[string, PointChange | undefined, PointChange[], number]>([
    // v = 0.15² + own 0.01 + 1.57 · 0.01 / 3 = 0.0377333
    ['all moved alike', change(1), three, 1 / (2 * 0.037733333)],
    ['only the others moved', change(0), three, 0],
    ['only this one moved', change(1), [change(0), change(0), change(0)], -1 / (2 * 0.037733333)],
    ['it moved by half', change(0.5), three, (1 - 0.25) / (2 * 0.037733333)],
    ['one of three moved: the median does not', change(1), [change(1), change(0), change(0)], -1 / (2 * 0.037733333)],
    ['two others tell nothing', change(1), [change(1), change(1)], 0],
    ['it has not spoken itself', undefined, three, 0],
    ['vague points', change(1, 1), [change(1, 1), change(1, 1), change(1, 1)], 1 / (2 * (0.0225 + 1 + 1.57 / 3))],
  ])('%s', (_, own, others, expected) => {
    expect(laboratoryGain(own, others)).toBeCloseTo(expected, 4)
  })
})

describe('best tail of the pairs of a plant', () => {
  const shifted = (name: string, phase: number) =>
    point(
      name,
      Array.from({ length: 20 }, (_, day) => [day + phase, day + phase >= 12 ? 1 : 0] as const),
    )
  const plant = [shifted('A', 0.1), shifted('B', 0.2), shifted('C', 0.3)]
  const none = new Map<string, number>()

  it('begins with the first pair of the shift', () => {
    const tail = bestTail(plant, none, 0, 1, 0)
    expect(tail?.fromMs).toBeCloseTo(at(12.1), 0)
    expect(tail?.points).toBe(3)
  })

  it('gains half over u² for each pair, and at most three', () => {
    const one = point('A', [[1, 1]], 0.5)
    expect(bestTail([one], none, 0, 1, 0)?.gain).toBeCloseTo(1 / (2 * 0.25), 12)
    expect(bestTail([point('A', [[1, 50]], 0.1)], none, 0, 1, 0)?.gain).toBe(3)
    expect(
      bestTail(
        [
          point(
            'A',
            [
              [1, 1],
              [2, -50],
            ],
            0.1,
          ),
        ],
        none,
        0,
        1,
        0,
      )?.gain,
    ).toBe(0)
  })

  it('counts residuals from what each point had before', () => {
    const standing = plant.map(({ point: name, values }) => ({
      point: name,
      values: values.map(value => ({ ...value, residual: value.residual + (name === 'B' ? 0.8 : 0) })),
    }))
    expect(bestTail(standing, new Map([['B', 0.8]]), 0, 1, 0)).toEqual(bestTail(plant, none, 0, 1, 0))
  })

  it('finds the end of a shift as the tail that is back at zero', () => {
    const ended = plant.map(({ point: name, values }) => ({
      point: name,
      values: values.map(value => ({ ...value, residual: value.atMs >= at(16) ? 0 : value.residual })),
    }))
    expect(bestTail(ended, none, at(12), 0, 1)?.fromMs).toBeCloseTo(at(16.1), 0)
  })

  it('does not depend on the order of points, and is nothing without pairs', () => {
    expect(bestTail([...plant].reverse(), none, 0, 1, 0)).toEqual(bestTail(plant, none, 0, 1, 0))
    expect(bestTail(plant, none, at(99), 1, 0)).toBeUndefined()
  })
})
