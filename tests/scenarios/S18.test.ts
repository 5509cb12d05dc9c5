import { describe, expect, test } from 'vitest'
import { holdsEverywhere } from './support/holdsEverywhere.js'
import { runScenario } from './support/scenario.js'

const HALVED = '2026-05-15T02:10:00Z'
const HALVED_MS = Date.parse(HALVED)
const NOTED = '2026-05-16T10:00:00Z'

const said = runScenario({
  id: 'S18',
  title: 'Wrong scaling in the signal path',
  from: '2026-05-01',
  days: 18,
  points: { FE1: { water: 0.09, grabs: { at: ['07:30'] } } },
  analyzers: { 'FE1-A': { arrives: (shownNtu, { atMs }) => (atMs < HALVED_MS ? shownNtu : shownNtu / 2) } },
  records: [
    {
      kind: 'work',
      analyzer: 'FE1-A',
      time: NOTED,
      action: 'verified',
      id: 'w-1',
      displayed: 0.088,
      note: 'display read',
    },
  ],
})

describe('S18 Wrong scaling in the signal path', () => {
  test('must say: an exact factor, no work on record, the signal path first', () => {
    const [opened] = said.opened('FE1-A')
    expect(opened?.action).toBe('check_signal')
    expect(opened?.cause.ranked[0]?.cause).toBe('signal_path')
    expect(opened?.summary).toMatch(/from 0\.\d+ to 0\.\d+ NTU, exactly half, on 15 May 2026, 02:/)
    expect(opened?.cause.because.join('\n')).toMatch(/no work is on record/)
    expect((opened?.openedAt ?? '9') < '2026-05-17').toBe(true)
  })
  test('must say: compare the display with the record, and what a note of it showed', () => {
    expect(said.opened('FE1-A')[0]?.summary).toMatch(/compare the display with the recorded value/)
    expect(said.findings('display_differs', 'FE1-A')[0]?.data.summary).toMatch(/display showed 0\.088 NTU/)
  })
  test('must not say: span or zero and span before that check', () => {
    expect(said.opened('FE1-A').map(({ action }) => action)).toEqual(['check_signal'])
    for (const { data } of said.requests()) expect(data.action).toBe('check_signal')
  })
  holdsEverywhere(said)
})
