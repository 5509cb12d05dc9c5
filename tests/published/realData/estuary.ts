import { beforeAll, describe, expect, it } from 'vitest'
import { scratch } from '../../cli/support.js'
import { askedForWork, classNamed, compare, type Comparison, findingNamed, foundOf } from './compare.js'
import { replaySet } from './replaySet.js'
import { reportText, siteYears } from './reportText.js'

/** What holds of a record from an estuary: tides, weather, films, exchanges every fortnight, no reference. */
export function describeEstuary(title: string, set: string, sites: readonly string[]): void {
  const folder = scratch()
  describe(title, () => {
    let found: Comparison
    beforeAll(async () => {
      found = compare(await replaySet(set, sites, folder))
    }, 3_600_000)

    it('nobody is asked to clean or to calibrate', () => {
      expect(askedForWork(found)).toEqual([])
    })

    it('every sensor fault and every hole is found', () => {
      for (const kind of ['fault', 'hole'] as const) {
        const result = classNamed(found, kind)
        expect(foundOf(result)).toBe(result.long.length)
      }
    })

    it('fouling is found more often than by chance, and what is called erratic stands at labels', () => {
      const fouling = classNamed(found, 'fouling')
      expect(foundOf(fouling)).toBeGreaterThan(fouling.foundByChance)
      const erratic = findingNamed(found, 'erratic')!
      expect(erratic.labelled).toBeGreaterThan(1.5 * erratic.labelledByChance)
    })

    it('tides, rain and storms bring at most five requests a station-year, all about signal or sample', () => {
      expect(found.asked.length).toBeLessThanOrEqual(5 * siteYears(found))
    })

    it('the report is the one that was read and kept', async () => {
      await expect(reportText(found)).toMatchFileSnapshot(`reports/${set}.txt`)
    })
  })
}
