import { describe, expect, test } from 'vitest'
import { holdsEverywhere } from './support/holdsEverywhere.js'
import { type Moment, runScenario } from './support/scenario.js'

/** CFE-A stands 0.03 NTU low for a fortnight; from the morning of Wednesday, 20 May, it is 0.08 NTU low. */
const lowNtu = ({ day }: Moment): number => (day < 5 ? 0 : day < 19.3 ? 0.033 : 0.08)

const said = runScenario({
  id: 'S42',
  title: 'Deferral overtaken',
  from: '2026-05-01',
  days: 22,
  points: { CFE: { water: 0.1 } },
  analyzers: { 'CFE-A': { reads: (truthNtu, t) => truthNtu - lowNtu(t) } },
  answers: [
    {
      time: '2026-05-18T09:00:00Z',
      to: 'CFE-A',
      decision: 'deferred',
      until: '2026-05-22T08:00:00Z',
      reason: 'crew at the intake',
    },
  ],
})
const requests = said.requests('CFE-A')
const place = (type: string): number => requests.findIndex(event => event.type === type)
const deferredAt = requests[place('recommendation.answered')]?.time ?? ''

describe('S42 Deferral overtaken', () => {
  test('must say: quiet after the deferral, until the urgency rises', () => {
    expect(said.opened('CFE-A')).toHaveLength(1)
    expect(place('recommendation.answered')).toBeGreaterThan(0)
    const next = requests[place('recommendation.answered') + 1]
    expect(next?.type).toBe('recommendation.escalated')
    expect((next?.time ?? '') > '2026-05-20T07:00:00Z').toBe(true)
    expect((next?.time ?? '') < '2026-05-22T08:00:00Z').toBe(true)
  })
  test('must say: escalated despite the deferral, quoting it and what changed', () => {
    const escalated = requests[place('recommendation.answered') + 1]?.data
    expect(escalated?.urgency).toBe('now')
    expect(escalated?.reason).toMatch(/urgency rose from (routine|soon) to now/)
    expect(escalated?.reason).toMatch(/it read 0\.03\d? NTU low then and 0\.0[5-9]\d? NTU low now \(tolerance 0\.05\)/)
    expect(escalated?.reason).toMatch(/despite the deferral until 22 May 2026, 08:00 UTC \(crew at the intake\)/)
    expect(escalated?.notify).toBe('at_once')
  })
  test('must not say: anything of CFE-A between the deferral and Wednesday', () => {
    expect(requests.filter(event => event.time > deferredAt && event.time < '2026-05-20T07:00:00Z')).toEqual([])
  })
  holdsEverywhere(said)
})
