import { describe, expect, it } from 'vitest'
import type { VisitPlan } from '../../src/plan/visitPlan.js'
import { renderPlanTable } from '../../src/report/terminal/planTable.js'
import { simulatePlant } from '../../src/simulate/simulatePlant.js'
import { run, scratch } from './support.js'

const { path, put } = scratch()
const simulation = simulatePlant({ seed: 3, days: 4 })
const register = put('register.yaml', `visitMinutes: 45\n${simulation.registerYaml}`)
const stream = put('stream.ndjson', [...simulation.messages].join('\n'))

const linesOf = (out: string) =>
  out
    .trimEnd()
    .split('\n')
    .map(line => JSON.parse(line) as { kind: string; analyzer?: string; minutes?: number; visitMinutes?: number })

describe('plan', () => {
  it('names every analyzer once, from a record and from a store alike', async () => {
    const fromRecord = await run(['plan', '--register', register, stream, '--days', '30'])
    expect(fromRecord.code).toBe(0)
    const lines = linesOf(fromRecord.out)
    expect(lines[0]).toMatchObject({ kind: 'plan', days: 30, visitMinutes: 45 })
    const named = lines.filter(line => line.kind !== 'request').flatMap(line => line.analyzer ?? [])
    expect(named).toHaveLength(15)
    expect(new Set(named).size).toBe(15)
    // CFE is to be calibrated every 90 days by a site procedure, and no calibration is on record.
    const visits = lines.filter(line => line.kind === 'visit').map(line => line.analyzer)
    expect(visits).toEqual(expect.arrayContaining(['CFE-A', 'CFE-B', 'CFE-C']))

    const into = path('plant.db')
    const replay = ['replay', '--register', register, stream, '--into', into, '--out', path('events.ndjson')]
    expect(await run(replay)).toMatchObject({ code: 0 })
    expect((await run(['plan', '--store', into])).out).toBe(fromRecord.out)
  })

  it('shows a table with windows, standards, cautions and who is left alone, at most 100 columns wide', async () => {
    const { out } = await run(['plan', '--register', register, stream, '--format', 'table', '--days', '7'])
    for (const part of [
      'the next 7 days',
      'VISITS',
      'D-1001',
      'CAUTIONS AT EVERY VISIT',
      'LEFT ALONE',
      'licensed practice',
    ])
      expect(out).toContain(part)
    expect(Math.max(...out.split('\n').map(line => Array.from(line).length))).toBeLessThanOrEqual(100)
    expect(out).not.toMatch(/undefined|NaN/)
  })

  it.each([['0'], ['366'], ['a week']])('refuses --days %s', async days => {
    expect(await run(['plan', '--register', register, stream, '--days', days])).toMatchObject({ code: 2 })
  })

  it('has a table for a plant of which nothing is known yet', () => {
    const empty: VisitPlan = {
      plant: 'small-plant',
      timeZone: 'UTC',
      at: null,
      days: 30,
      visitMinutes: 60,
      visits: [],
      leaveAlone: [],
      notProven: [],
      requests: [],
      cautions: [],
      byDay: [],
      savable: 0,
    }
    expect(renderPlanTable(empty)).toMatch(/No plant time yet[\s\S]*No visit falls into these days[\s\S]*Nobody/)
  })
})
