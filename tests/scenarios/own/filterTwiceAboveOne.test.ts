import { describe, expect, test } from 'vitest'
import { renderEvidencePage } from '../../../src/report/evidencePage.js'
import { renderExplanationText } from '../../../src/report/terminal/explanationText.js'
import { holdsEverywhere } from '../support/holdsEverywhere.js'
import { runScenario } from '../support/scenario.js'

/** A filter breaks through for three quarters of an hour; its analyzer shows what the water is. */
const breakthrough = (atMs: number): boolean =>
  atMs > Date.parse('2026-05-09T10:00:00Z') && atMs <= Date.parse('2026-05-09T10:45:00Z')

const said = runScenario({
  id: 'filterTwiceAboveOne',
  title: 'Two 15-minute values of a filter above 1 NTU',
  from: '2026-05-01',
  days: 12,
  points: { FE1: { water: ({ atMs }) => (breakthrough(atMs) ? 1.3 : 0.06), grabs: { at: ['08:20'] } } },
  register: register => {
    const { FE1 } = register.points
    register.points.FE1 = {
      ...FE1!,
      use: ['regulated'],
      criteria: ['filter_twice_above_1', 'filter_month_95_pct_to_0_15', 'filter_twice_above_0_5_after_4_h'],
    }
  },
})

const criterion = (until: string, name: string) =>
  said.status('FE1-A', until).criteria?.find(one => one.criterion === name)

describe('two 15-minute values of a filter above 1 NTU', () => {
  test('must say: once, what was compared with what, over which time, and by which published rule', () => {
    expect(criterion('2026-05-09T10:00:00Z', 'filter_twice_above_1')?.outcome).toBe('within')
    const found = criterion('2026-05-09T11:00:00Z', 'filter_twice_above_1')
    expect(found).toMatchObject({
      outcome: 'beyond',
      source: '40 CFR 141.175(b)(1)',
      values: { occasions: 1 },
      from: '2026-05-01T00:00:00Z',
    })
    expect(found?.compared).toMatch(
      /each two in a row of the medians of 15-minute blocks of FE1-A, as read, with 1 NTU/,
    )
    expect(found?.summary).toMatch(/two in a row above 1 NTU 1 time in \d+ values, the last at 9 May 2026, 10:/)
  })
  test('must say: the share of the month beside it, and that no start is known', () => {
    const share = criterion('9999', 'filter_month_95_pct_to_0_15')
    expect(share).toMatchObject({ outcome: 'within', source: '40 CFR 141.718(b)' })
    expect(share?.values.withinPct).toBeGreaterThan(99)
    expect(criterion('9999', 'filter_twice_above_0_5_after_4_h')).toMatchObject({
      outcome: 'nothing_to_compare',
      mark: 'from_memory',
    })
  })
  test('must say: at once, not with the next full hour', () => {
    const told = said
      .ofType('analyzer.status')
      .find(event =>
        event.data.criteria?.some(one => one.criterion === 'filter_twice_above_1' && one.outcome === 'beyond'),
      )
    expect((told?.time ?? '') <= '2026-05-09T10:50:00Z').toBe(true)
  })
  test('must say: apart from the statistical finding, in a section of its own', () => {
    const page = renderEvidencePage(said.explain('FE1-A'))
    expect(page.includes('<h2 id="criteria">Published criteria</h2>')).toBe(true)
    expect(page.includes('40 CFR 141.175(b)(1): beyond')).toBe(true)
    expect(renderExplanationText(said.explain('FE1-A'))).toMatch(/PUBLISHED CRITERIA\n/)
  })
  test('must not say: anything against the analyzer, or a verdict', () => {
    expect(said.opened()).toEqual([])
    expect(said.status('FE1-A').assessment).toBe('consistent')
    expect(/\b(?:non-)?compliant|violation/i.test(renderEvidencePage(said.explain('FE1-A')))).toBe(false)
  })
  holdsEverywhere(said)
})
