import { describe, expect, test } from 'vitest'
import { explainAnalyzer } from '../../src/core/explain.js'
import { LINES } from '../../src/model/vocabulary.js'
import { run } from '../core/support/run.js'
import { sampleMessages, sampleRegister } from '../core/support/sample.js'
import { sentenceFaults } from './support/sentences.js'

const register = sampleRegister()
const { events, state } = run(sampleMessages(60), { register, ticks: 'event' })
const analyzers = Object.values(register.points).flatMap(point => Object.keys(point.analyzers))

describe('the sample stream', () => {
  test('each sentence fits 240 characters and has a unit, a reason and a next step', () => {
    expect([...new Set(events.flatMap(sentenceFaults))]).toEqual([])
  })

  test.each(analyzers)(
    '%s: each line in use, each missing with why, and what is nearest to changing the answer',
    id => {
      const explanation = explainAnalyzer(state, id)
      expect(new Set(explanation?.lines.map(one => one.line))).toEqual(new Set(LINES))
      for (const line of explanation?.lines ?? [])
        expect(line.missing !== undefined || line.evidence !== undefined || line.rows.length > 0).toBe(true)
      expect(explanation?.nearest ?? '').toMatch(/\S+ \S+ \S+/)
    },
  )
})
