import { beforeAll, describe, expect, it } from 'vitest'
import { scratch } from '../../cli/support.js'
import { askedForWork, classNamed, compare, type Comparison, findingNamed } from './compare.js'
import { replaySet } from './replaySet.js'
import { reportText } from './reportText.js'

const folder = scratch()

describe('the water behind membranes', () => {
  let found: Comparison
  beforeAll(async () => {
    found = compare(await replaySet('plant-membrane-permeate', ['permeate'], folder))
  }, 3_600_000)

  it('nobody is asked to clean or to calibrate', () => {
    expect(askedForWork(found)).toEqual([])
  })

  it('the upward spikes of the record are told as bubbles, and one request asks to look at the sample', () => {
    expect(findingNamed(found, 'bubbles')?.hours).toBeGreaterThan(100)
    expect(found.asked.map(({ asked }) => asked.action)).toEqual(['check_sample_line'])
  })

  it('steps wider than the noise are neither a stuck signal nor jumps', () => {
    for (const finding of ['stuck', 'erratic', 'gross_difference']) expect(findingNamed(found, finding)).toBeUndefined()
  })

  it('the one hole of hours is told within an hour', () => {
    expect(classNamed(found, 'hole').long.map(({ delayH }) => Math.round(delayH ?? 99))).toEqual([1])
  })

  it('the report is the one that was read and kept', async () => {
    await expect(reportText(found)).toMatchFileSnapshot('reports/plant-membrane-permeate.txt')
  })
})
