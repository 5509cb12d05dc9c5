import { describe, expect, test } from 'vitest'
import { holdsEverywhere } from './support/holdsEverywhere.js'
import { runScenario } from './support/scenario.js'

const falls = (truthNtu: number, { day }: { day: number }) => truthNtu - 0.002 * Math.max(0, day - 5)
const zeroed = (analyzer: string, clock: string) => ({
  kind: 'work',
  analyzer,
  time: `2026-05-06T${clock}:00Z`,
  id: `W-${analyzer}`,
  action: 'zero',
  accepted: true,
  reference: { type: 'zero_water', assigned: 0, lot: 'Z-41' },
  asFound: 0.002,
  asLeft: 0,
})
const sound = { at: ['08:30'] }

const said = runScenario({
  id: 'S09',
  title: 'Two units drift together, only the grabs see it',
  from: '2026-05-01',
  days: 32,
  points: {
    FE3: { water: 0.08, grabs: { at: ['07:30'] } },
    FE1: { water: 0.04, grabs: sound },
    FE2: { water: 0.06, grabs: sound },
    FE4: { water: 0.07, grabs: sound },
    FE5: { water: 0.06, grabs: sound },
    SW: { water: 1.4, grabs: { at: ['07:00'] } },
  },
  analyzers: { 'FE3-A': { reads: falls }, 'FE3-B': { reads: falls } },
  records: [zeroed('FE3-A', '10:00'), zeroed('FE3-B', '10:40')],
})

const opened = [...said.opened('FE3-A'), ...said.opened('FE3-B')]

describe('S09 Two units drift together, only the grabs see it', () => {
  test('must say: both read low by the grab samples', () => {
    for (const analyzer of ['FE3-A', 'FE3-B']) {
      const [first] = said.opened(analyzer)
      expect(first?.bias?.ntu).toBeLessThan(-0.02)
      expect(first?.summary).toMatch(/low/)
      expect(first?.summary).toMatch(/grabs/)
    }
  })
  test('must say: their agreement proves nothing, ask for a check on a standard, name the common work', () => {
    for (const { cause, procedure } of opened) {
      expect(cause.because.join('\n')).toMatch(/agreement proves nothing/)
      expect(cause.because.join('\n')).toMatch(/FE3-A and FE3-B were both zeroed on 6 May 2026/)
      expect(procedure.steps.join('\n')).toMatch(/standard|zero water/)
    }
  })
  test('must not say: suspect grabs, or the laboratory', () => {
    expect(said.suspects()).toEqual([])
    expect(said.requests().filter(event => event.data.target.laboratoryInstrument !== undefined)).toEqual([])
    for (const { cause } of opened) expect(cause.ranked.map(one => one.cause)).not.toContain('laboratory_bias')
  })
  test('must not say: anything about the sound points', () => {
    expect(new Set(said.requests().map(({ subject }) => subject))).toEqual(new Set(['FE3-A', 'FE3-B']))
  })
  holdsEverywhere(said)
})
