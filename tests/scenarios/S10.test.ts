import { describe, expect, test } from 'vitest'
import { holdsEverywhere } from './support/holdsEverywhere.js'
import { runScenario } from './support/scenario.js'

const BEGAN_DAY = 12
const TOLD = '2026-05-21T08:00:00Z'

const said = runScenario({
  id: 'S10',
  title: 'Two units differ, then grab samples break the tie',
  from: '2026-05-01',
  days: 24,
  points: { FE3: { water: 0.08, grabs: 'none' } },
  analyzers: {
    'FE3-B': { reads: (truthNtu, { day }) => truthNtu - 0.045 * Math.min(1, Math.max(0, (day - BEGAN_DAY) / 7)) },
  },
  records: [
    { kind: 'grab', point: 'FE3', sampled: TOLD, value: 0.081, unit: 'NTU', sampleId: 'FE3-101' },
    { kind: 'grab', point: 'FE3', sampled: '2026-05-21T08:40:00Z', value: 0.078, unit: 'NTU', sampleId: 'FE3-102' },
  ],
})

const asked = said.requests('point:FE3')

describe('S10 Two units differ, then grab samples break the tie', () => {
  test('must say first: one of the two, not known which; a grab sample', () => {
    const [opened] = said.opened('point:FE3')
    expect((opened?.openedAt ?? '9') < TOLD).toBe(true)
    expect(opened?.action).toBe('take_grab')
    expect(opened?.summary).toMatch(/FE3-A and FE3-B at FE3 differ by [\d.]+ NTU .*nothing tells which is wrong/)
  })
  test('must say after: FE3-B, with the samples', () => {
    const [opened] = said.opened('FE3-B')
    expect((opened?.openedAt ?? '') > TOLD).toBe(true)
    expect(opened?.summary).toMatch(/2 grabs/)
    expect(opened?.evidence.find(({ line }) => line === 'grab')?.n).toBe(2)
  })
  test('must not say: a culprit before the samples, or two requests for one difference after them', () => {
    expect(said.requests().filter(({ time, subject }) => time < TOLD && subject !== 'point:FE3')).toEqual([])
    expect(said.opened('FE3-A')).toEqual([])
    expect(asked.at(-1)?.data.phase).toBe('closed')
    expect(asked.at(-1)?.time).toBe(said.requests('FE3-B')[0]?.time)
  })
  holdsEverywhere(said)
})
