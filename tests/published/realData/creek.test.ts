import { beforeAll, describe, expect, it } from 'vitest'
import { scratch } from '../../cli/support.js'
import { askedForWork, classNamed, compare, type Comparison, foundOf } from './compare.js'
import { replaySet } from './replaySet.js'
import { reportText, siteYears } from './reportText.js'

const folder = scratch()

describe('one creek, up and downstream', () => {
  let found: Comparison
  beforeAll(async () => {
    found = compare(await replaySet('creek-up-downstream', ['upstream', 'downstream'], folder))
  }, 3_600_000)

  it('nobody is asked to clean or to calibrate', () => {
    expect(askedForWork(found)).toEqual([])
  })

  it('each hole of three hours or more is told within an hour', () => {
    const holes = classNamed(found, 'hole')
    expect(holes.long.length).toBeGreaterThan(8)
    expect(foundOf(holes)).toBe(holes.long.length)
    for (const { delayH } of holes.long) expect(delayH).toBeLessThanOrEqual(1)
  })

  it('besides missing readings at most five requests come in a station-year', () => {
    const others = found.asked.filter(({ asked }) => asked.action !== 'check_signal')
    expect(others.length).toBeLessThanOrEqual(5 * siteYears(found))
  })

  it('the report is the one that was read and kept', async () => {
    await expect(reportText(found)).toMatchFileSnapshot('reports/creek-up-downstream.txt')
  })
})
