import { beforeAll, describe, expect, it } from 'vitest'
import { scratch } from '../../cli/support.js'
import { askedForWork, classNamed, compare, type Comparison, findingNamed, foundOf } from './compare.js'
import { replaySet } from './replaySet.js'
import { reportText } from './reportText.js'

const folder = scratch()

describe('two northern rivers', () => {
  let found: Comparison
  beforeAll(async () => {
    found = compare(await replaySet('river-queensland', ['pioneer', 'sandy'], folder))
  }, 3_600_000)

  it('nobody is asked to clean or to calibrate', () => {
    expect(askedForWork(found)).toEqual([])
  })

  it('both long times of high variability are found, and hardly any other is called erratic', () => {
    expect(foundOf(classNamed(found, 'noise'))).toBe(2)
    const erratic = findingNamed(found, 'erratic')
    expect((erratic?.times ?? 0) - (erratic?.labelled ?? 0)).toBeLessThanOrEqual(2)
  })

  it('the month-long shift, with nothing to compare, is watched and not named', () => {
    const shift = classNamed(found, 'shift')
    expect(shift.watched).toBe(1)
    expect(foundOf(shift)).toBe(0)
  })

  it('each hole of the record is told within four hours, and nothing else is asked for', () => {
    const holes = classNamed(found, 'hole')
    expect(foundOf(holes)).toBe(holes.long.length)
    for (const { delayH } of holes.long) expect(delayH).toBeLessThanOrEqual(4)
    for (const { labels } of found.asked) expect(labels).toContain('hole')
  })

  it('the report is the one that was read and kept', async () => {
    await expect(reportText(found)).toMatchFileSnapshot('reports/river-queensland.txt')
  })
})
