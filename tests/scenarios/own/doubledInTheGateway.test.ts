import { describe, expect, test } from 'vitest'
import { holdsEverywhere } from '../support/holdsEverywhere.js'
import { runScenario } from '../support/scenario.js'

const DOUBLED_MS = Date.parse('2026-05-12T13:20:00Z')
const MENDED_MS = Date.parse('2026-05-14T09:30:00Z')

/** After a change of its configuration the gateway sends twice what CFE-B shows, until somebody looks. */
const said = runScenario({
  id: 'doubledInTheGateway',
  title: 'One of three units doubled in the gateway, and put right there',
  from: '2026-05-01',
  days: 22,
  points: {
    CFE: { water: ({ day }) => 0.07 + 0.02 * Math.sin(5 * day), grabs: { at: ['02:10', '08:10', '14:10', '20:10'] } },
  },
  analyzers: {
    'CFE-B': {
      arrives: (shownNtu, { atMs }) => (atMs >= DOUBLED_MS && atMs < MENDED_MS ? 2 * shownNtu : shownNtu),
    },
  },
})

describe('One of three units doubled in the gateway, and put right there', () => {
  test('must say: exactly double since 13:15, the signal path, within hours and without a grab sample', () => {
    const [opened] = said.opened('CFE-B')
    expect(opened?.action).toBe('check_signal')
    expect(opened?.summary).toMatch(/exactly double, on 12 May 2026, 13:/)
    expect(Date.parse(opened?.openedAt ?? '') - DOUBLED_MS).toBeLessThan(5 * 3_600_000)
    expect(said.status('CFE-B', '2026-05-13T00:00:00Z').assessment).toBe('signal_fault')
  })
  test('must say: closed when the values are back at their scale', () => {
    const last = said.requests('CFE-B').at(-1)
    expect(last?.type).toBe('recommendation.closed')
    expect(last?.data.reason).toMatch(/back at their scale/)
    expect(Date.parse(last?.time ?? '') - MENDED_MS).toBeLessThan(5 * 3_600_000)
  })
  test('must not say: zero, span or cleaning, then or afterwards; nothing of the other units', () => {
    for (const { data, subject } of said.requests()) {
      expect(subject).toBe('CFE-B')
      expect(data.action).toBe('check_signal')
    }
  })
  holdsEverywhere(said)
})
