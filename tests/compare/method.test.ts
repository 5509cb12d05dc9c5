import { describe, expect, it } from 'vitest'
import { learnMethod, newMethodHabit, relateGrab } from '../../src/compare/method.js'
import { grab, plantOf, pointOf, START_MS } from '../model/plantFixture.js'

const PLAN = pointOf('CFE', plantOf()).grab
const sample = (value: number | string, more: object = {}) => grab(START_MS, value, { unit: 'FNU', ...more })

function learnt(ratios: readonly number[]) {
  const habit = newMethodHabit()
  for (const ratio of ratios) learnMethod(habit, sample(1), [ratio])
  return habit
}

describe('results of another method', () => {
  it('are not related before seven pairs have shown how', () => {
    expect(relateGrab(sample(1), 'NTU', PLAN, undefined, 0.1)).toBeUndefined()
    expect(relateGrab(sample(1), 'NTU', PLAN, learnt([1.2, 1.2, 1.2, 1.2, 1.2, 1.2]), 0.1)).toBeUndefined()
  })

  it('are then related by the middle ratio, one strange pair or not, and leave the level open by a tolerance', () => {
    const related = relateGrab(sample(1.1), 'NTU', PLAN, learnt([1.2, 1.21, 1.19, 9, 1.2, 1.22, 1.18]), 0.1)
    expect(related?.grab).toMatchObject({ unit: 'NTU' })
    expect(related?.grab.value).toBeCloseTo(1.32, 9)
    expect(related?.byMethod).toEqual({ method: 'FNU', value: 1.1, isDeclared: false, levelVariance: 1 })
    expect(related?.uNtu).toBeGreaterThan(0)
  })

  it('take no bound and no zero to learn from, and stop at seven', () => {
    const habit = learnt([1.2, 1.2, 1.2, 1.2, 1.2, 1.2])
    learnMethod(habit, sample('<0.5'), [1])
    learnMethod(habit, sample(0), [1])
    learnMethod(habit, sample(1), [])
    expect(habit.ratios).toHaveLength(6)
    for (let k = 0; k < 5; k++) learnMethod(habit, sample(1), [2])
    expect(habit.ratios).toHaveLength(7)
  })

  it('with a site correlation are related from the first one, level and all', () => {
    const correlation = { FNU: { slope: 1.3, interceptNtu: 0.1, basis: 'a study', relativeStandardUncertainty: 0.04 } }
    const related = relateGrab(
      sample(2, { standardUncertainty: 0.1 }),
      'NTU',
      { ...PLAN, correlation },
      undefined,
      0.27,
    )
    expect(related?.grab.value).toBeCloseTo(2.7, 9)
    expect(related?.grab.standardUncertainty).toBeCloseTo(0.13, 9)
    expect(related?.uNtu).toBeCloseTo(0.108, 9)
    expect(related?.byMethod).toMatchObject({ isDeclared: true })
    expect(related?.byMethod.levelVariance).toBeCloseTo(0.16, 9)
  })

  it('of a correlation for a third method are none', () => {
    const correlation = { FAU: { slope: 1.3, basis: 'a study' } }
    expect(relateGrab(sample(2), 'NTU', { ...PLAN, correlation }, undefined, 0.27)).toBeUndefined()
  })
})
