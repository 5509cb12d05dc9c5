import { describe, expect, it } from 'vitest'
import {
  bestTail,
  changeSince,
  laboratoryView,
  NO_SHIFT,
  othersHaveSpoken,
  type PointChange,
  type PointResiduals,
  shiftAt,
  shiftForm,
} from '../../src/diagnose/laboratory.js'
import { DAY_MS } from '../../src/model/time.js'

const at = (day: number) => day * DAY_MS
const point = (name: string, values: readonly (readonly [number, number])[], u = 0.3): PointResiduals => ({
  point: name,
  levelNtu: 0.08,
  toleranceNtu: 0.05,
  values: values.map(([day, residual]) => ({ atMs: at(day), residual, u })),
})
const change = (size: number, variance = 0.01, water = { levelNtu: 0.08, toleranceNtu: 0.05 }): PointChange => ({
  point: 'P',
  change: size,
  variance,
  before: 0,
  ...water,
})

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
      levelNtu: 0.08,
      toleranceNtu: 0.05,
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

describe('what other points say of the laboratory', () => {
  const own = { levelNtu: 0.08, toleranceNtu: 0.05 }
  const settled = { levelNtu: 2, toleranceNtu: 0.2 }
  const three = (size: number, variance?: number) => [
    change(size, variance),
    change(size, variance),
    change(size, variance),
  ]

  it('agrees with a direct sum over a size that shows in tolerances alike, of normal values', () => {
    // Three forms are one where all waters are alike. Normal likelihoods only: no point has a change of its own to speak of.
    const v = 0.01 + 0.15 * 0.15
    const weight = 3 / v
    const exact = (0.8 * weight) ** 2 / (2 * (weight + 1)) - Math.log(1 + weight) / 2
    const view = laboratoryView(own, three(0.8))
    expect(view?.mean).toBeCloseTo((0.8 * weight) / (weight + 1), 1)
    // Changes of their own explain the same values at a tenth of the chance each: the factor cannot be as large.
    expect(view!.gain).toBeLessThan(exact)
    expect(view!.gain).toBeGreaterThan(Math.log(10) * 2)
  })

  it('speaks against the laboratory where the others stood still, the more the better they are known', () => {
    const [vague, sharp] = [laboratoryView(own, three(0, 0.3)), laboratoryView(own, three(0, 0.01))]
    expect(vague!.gain).toBeLessThan(0)
    expect(sharp!.gain).toBeLessThan(vague!.gain)
  })

  it('grows with each point that moved alike, and one that did not is a point of its own', () => {
    const six = [...three(0.6, 0.1), ...three(0.6, 0.1)]
    expect(laboratoryView(own, six)!.gain).toBeGreaterThan(laboratoryView(own, three(0.6, 0.1))!.gain + 1)
    expect(laboratoryView(own, [...six, change(0, 0.01)])!.gain).toBeGreaterThan(2)
  })

  it('one of three moved: the laboratory is no explanation', () => {
    expect(laboratoryView(own, [change(1), change(0), change(0)])!.gain).toBeLessThan(0)
  })

  it('knows an error in NTU by what it does where tolerances are wide', () => {
    // 0.03 NTU: 0.6 of 0.05, 0.15 of 0.2.
    const seen = [change(0.6), change(0.6), change(0.15, 0.01, settled), change(0.15, 0.01, settled)]
    const view = laboratoryView(own, seen)!
    expect(view.gain).toBeGreaterThan(3)
    expect(view.mean).toBeCloseTo(0.6, 1)
    expect(laboratoryView(settled, [...seen.slice(0, 2), change(0.6)])!.mean).toBeLessThan(0.6)
  })

  it('two others tell nothing', () => {
    expect(laboratoryView(own, [change(1), change(1)])).toBeUndefined()
  })
})

describe('form of a shift', () => {
  const at = (change: number, levelNtu: number, toleranceNtu: number): PointChange => ({
    point: `P${String(levelNtu)}`,
    change,
    variance: 0.02,
    before: 0,
    levelNtu,
    toleranceNtu,
  })
  const waters = [
    [0.05, 0.05],
    [0.4, 0.05],
    [1.5, 0.15],
    [6, 0.6],
  ] as const

  it.each([
    ['ntu', -0.05],
    ['share', 0.11],
    ['tolerances', -1.2],
  ] as const)('is told apart: %s', (form, size) => {
    const changes = waters.map(([levelNtu, toleranceNtu]) =>
      at(shiftAt({ form, size }, { levelNtu, toleranceNtu }), levelNtu, toleranceNtu),
    )
    const found = shiftForm(changes)
    expect(found.form).toBe(form)
    expect(found.size).toBeCloseTo(size, 9)
  })

  it('is NTU where all levels are alike and nothing tells', () => {
    expect(shiftForm([0.05, 0.06, 0.055].map(levelNtu => at(0.8, levelNtu, 0.05))).form).toBe('ntu')
  })
})

/** One tolerance everywhere. */
const SHIFTED = { form: 'tolerances', size: 1 } as const

describe('best tail of the pairs of a plant', () => {
  const shifted = (name: string, phase: number) =>
    point(
      name,
      Array.from({ length: 20 }, (_, day) => [day + phase, day + phase >= 12 ? 1 : 0] as const),
    )
  const plant = [shifted('A', 0.1), shifted('B', 0.2), shifted('C', 0.3)]
  const none = new Map<string, number>()

  it('begins with the first pair of the shift', () => {
    const tail = bestTail(plant, none, 0, SHIFTED, NO_SHIFT)
    expect(tail?.fromMs).toBeCloseTo(at(12.1), 0)
    expect(tail?.points).toBe(3)
  })

  it('gains half over u² for each pair, and at most three', () => {
    const one = point('A', [[1, 1]], 0.5)
    expect(bestTail([one], none, 0, SHIFTED, NO_SHIFT)?.gain).toBeCloseTo(1 / (2 * 0.25), 12)
    expect(bestTail([point('A', [[1, 50]], 0.1)], none, 0, SHIFTED, NO_SHIFT)?.gain).toBe(3)
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
        SHIFTED,
        NO_SHIFT,
      )?.gain,
    ).toBe(0)
  })

  it('counts residuals from what each point had before', () => {
    const standing = plant.map(({ values, ...series }) => ({
      ...series,
      values: values.map(value => ({ ...value, residual: value.residual + (series.point === 'B' ? 0.8 : 0) })),
    }))
    expect(bestTail(standing, new Map([['B', 0.8]]), 0, SHIFTED, NO_SHIFT)).toEqual(
      bestTail(plant, none, 0, SHIFTED, NO_SHIFT),
    )
  })

  it('finds the end of a shift as the tail that is back at zero', () => {
    const ended = plant.map(({ values, ...series }) => ({
      ...series,
      values: values.map(value => ({ ...value, residual: value.atMs >= at(16) ? 0 : value.residual })),
    }))
    expect(bestTail(ended, none, at(12), NO_SHIFT, SHIFTED)?.fromMs).toBeCloseTo(at(16.1), 0)
  })

  it('does not depend on the order of points, and is nothing without pairs', () => {
    expect(bestTail([...plant].reverse(), none, 0, SHIFTED, NO_SHIFT)).toEqual(
      bestTail(plant, none, 0, SHIFTED, NO_SHIFT),
    )
    expect(bestTail(plant, none, at(99), SHIFTED, NO_SHIFT)).toBeUndefined()
  })
})
