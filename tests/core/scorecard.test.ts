import { describe, expect, it } from 'vitest'
import { restorePlant, serialisePlant } from '../../src/core/serialise.js'
import { type ScoreRow, scoreRows } from '../../src/core/scorecard.js'
import { type Outcome, OUTCOMES } from '../../src/model/vocabulary.js'
import { LIFE_REGISTER, lifeStream } from './support/lifeStream.js'
import { messagesOf, ofType, run } from './support/run.js'

const { events, state } = run(messagesOf(lifeStream()), { register: LIFE_REGISTER, ticks: 'event' })
const rows = scoreRows(state)

function countOf(of: readonly ScoreRow[], outcome: Outcome): number {
  return of.reduce((sum, row) => sum + row.outcomes[outcome], 0)
}

describe('the track record', () => {
  it('counts what was published: confirmed, not confirmed, undecided, once for each line that carried it', () => {
    expect(countOf(rows, 'confirmed')).toBe(1)
    expect(countOf(rows, 'not_confirmed')).toBe(1)
    expect(countOf(rows, 'undecided')).toBe(1)
    expect(countOf(rows, 'found_within_limits')).toBe(0)
    expect(rows.every(row => row.line === 'grab')).toBe(true)
  })

  it('keeps classes apart', () => {
    expect(rows.filter(row => row.class === 'filter').map(row => row.cause)).toEqual(['zero_drift'])
    expect(countOf(scoreRows(state, 'filter'), 'confirmed')).toBe(1)
    expect(countOf(scoreRows(state, 'none'), 'not_confirmed')).toBe(1)
  })

  it('counts nothing for a request that was withdrawn', () => {
    const withdrawn = ofType(events, 'recommendation.withdrawn')
    expect(withdrawn.length).toBeGreaterThan(0)
    for (const { data } of withdrawn) expect(data.outcome).toBeUndefined()
    const counted = ofType(events, 'recommendation.closed').filter(({ data }) => data.outcome !== undefined).length
    const reopened = ofType(events, 'recommendation.reopened').length
    expect(OUTCOMES.reduce((sum, outcome) => sum + countOf(rows, outcome), 0)).toBe(counted + reopened)
  })

  it('is stored and restored', () => {
    expect(scoreRows(restorePlant(serialisePlant(state)))).toEqual(rows)
  })
})
