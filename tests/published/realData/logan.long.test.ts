import { beforeAll, describe, expect, it } from 'vitest'
import { scratch } from '../../cli/support.js'
import { askedForWork, classNamed, compare, type Comparison, findingNamed, foundOf } from './compare.js'
import { type Replayed, replaySet, together } from './replaySet.js'
import { stretchesOf } from './record.js'
import { reportText, siteYears } from './reportText.js'

const folder = scratch()

describe('five stations of a mountain river', () => {
  let found: Comparison
  beforeAll(async () => {
    const parts: Replayed[] = []
    // Their records are of different years; holes of years are left to tests/core/openRecords.test.ts.
    for (const site of ['BlackSmithFork', 'FranklinBasin', 'MainStreet', 'Mendon', 'WaterLab'])
      for (const csv of stretchesOf('river-logan', site))
        parts.push(await replaySet('river-logan', [site], folder, [folder.put(`${site}.csv`, csv)]))
    found = compare(together(parts))
  }, 3_600_000)

  it('nobody is asked to clean or to calibrate', () => {
    expect(askedForWork(found)).toEqual([])
  })

  it('most of what technicians removed for hours is found, within two days', () => {
    const removed = classNamed(found, 'removed')
    expect(foundOf(removed)).toBeGreaterThanOrEqual(5)
    for (const { delayH } of removed.long) if (delayH !== undefined) expect(delayH).toBeLessThanOrEqual(48)
  })

  it('what is called erratic stands at labels far more often than by chance', () => {
    const erratic = findingNamed(found, 'erratic')!
    expect(erratic.labelled).toBeGreaterThan(3 * erratic.labelledByChance)
  })

  it('melt, storms and day cycles of four and a half station-years bring at most one request a year', () => {
    expect(siteYears(found)).toBeGreaterThan(4)
    expect(found.asked.length).toBeLessThanOrEqual(siteYears(found))
    expect(found.asked.filter(({ asked }) => asked.site === 'WaterLab')).toEqual([])
  })

  it('the report is the one that was read and kept', async () => {
    await expect(reportText(found)).toMatchFileSnapshot('reports/river-logan.txt')
  })
})
