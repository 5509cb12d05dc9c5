import { describe, expect, test } from 'vitest'
import { planVisits } from '../../src/plan/planVisits.js'
import { renderPlanTable } from '../../src/report/terminal/planTable.js'
import { holdsEverywhere } from './support/holdsEverywhere.js'
import { runScenario } from './support/scenario.js'

/**
 * Three weeks of the quarter are watched, and the calibrations before them stand in the record: FE1-A is due next week,
 * both units of CFE were done on one morning, FE2-A goes by habit alone.
 */
const calibrated = (analyzer: string, day: string) => ({
  kind: 'work',
  analyzer,
  time: `${day}T08:30:00Z`,
  action: 'calibrated_primary',
  id: `cal ${analyzer}`,
  reference: { type: 'primary_standard', id: 'P-20', assigned: 20 },
  accepted: true,
})

const said = runScenario({
  id: 'S45',
  title: 'Due by rule though sound',
  from: '2026-05-08',
  days: 22,
  intervalS: 900,
  points: {
    FE1: { water: 0.06, grabs: { at: ['07:30', '19:30'] } },
    FE2: { water: 0.06, grabs: { at: ['07:40', '19:40'] } },
    FE6: { water: 0.06, grabs: 'none' },
    CFE: { water: 0.05, grabs: { at: ['07:50', '19:50'] } },
  },
  records: [
    { kind: 'work', analyzer: 'FE2-A', time: '2026-05-11T09:00:00Z', action: 'cleaned', id: 'habit 1' },
    calibrated('FE1-A', '2026-03-06'),
    calibrated('CFE-A', '2026-03-10'),
    calibrated('CFE-B', '2026-03-10'),
  ],
  register: register => {
    const required = { calibrationDays: 90, basis: 'site procedure 12' }
    const { FE1, FE2, FE6, CFE } = register.points
    register.points.FE1 = { ...FE1!, required, habitualDays: 30 }
    register.points.FE2 = { ...FE2!, habitualDays: 30 }
    register.points.FE6 = { ...FE6!, habitualDays: 365 }
    const { 'CFE-A': a, 'CFE-B': b } = CFE!.analyzers
    register.points.CFE = { ...CFE!, required, analyzers: { 'CFE-A': a!, 'CFE-B': b! } }
    for (const standard of register.standards ?? []) {
      if (standard.type === 'primary_standard')
        Object.assign(standard, { id: 'P-20', assignedNtu: 20, expires: '2026-06-03' })
    }
    register.standards = register.standards?.filter(one => one.analyzer !== 'CFE-C')
  },
})

const plan = planVisits(said.state, 30)
const visit = (analyzer: string) => plan.visits.find(one => one.analyzer === analyzer)
const text = JSON.stringify(plan)

describe('S45 Due by rule though sound', () => {
  test('must say: FE1-A stays in the plan, due by rule, with its evidence good', () => {
    const fe1 = visit('FE1-A')
    expect(fe1?.jobs.map(job => [job.reason, job.work])).toEqual([['rule', 'calibration']])
    expect(fe1?.by).toBe('2026-06-04T23:00:00Z')
    expect(fe1?.late).toBe(false)
    expect((fe1?.window.to ?? '') <= (fe1?.by ?? '')).toBe(true)
    expect(fe1?.proof?.lines).toContainEqual(expect.objectContaining({ line: 'grab' }))
    expect(fe1?.summary).toMatch(
      /due by rule, 90 days after 6 Mar 2026 \(site procedure 12\), though 44 grabs and .* put its bias at \S+ to \S+ NTU \(tolerance 0\.05 NTU\)/,
    )
  })
  test('must say: FE2-A may be left, with the proof', () => {
    const fe2 = plan.leaveAlone.find(one => one.analyzer === 'FE2-A')
    expect(fe2?.savable).toBe('2026-06-10T23:00:00Z')
    const { lines, ci95, toleranceNtu } = fe2!.proof
    expect(lines.find(one => one.line === 'grab')?.n).toBe(44)
    expect(Math.max(-ci95[0], ci95[1])).toBeLessThan(toleranceNtu)
    expect(plan.savable).toBe(1)
  })
  test('must say: CFE-A and CFE-B in different windows, so that one stays in service', () => {
    const [a, b] = [visit('CFE-A'), visit('CFE-B')]
    expect(a?.by).toBe(b?.by)
    expect(a!.window.to <= b!.window.from || b!.window.to <= a!.window.from).toBe(true)
    expect(a?.meanwhile).toBe('CFE-B stays in service')
    expect(b?.meanwhile).toBe('CFE-A stays in service')
    for (const one of [a, b]) expect(one!.window.to <= one!.by).toBe(true)
  })
  test('must say: standards to bring, with what is wrong with them on that day', () => {
    const bring = visit('CFE-A')?.bring ?? []
    expect(bring.map(one => one.type)).toEqual(['zero_water', 'secondary_standard', 'primary_standard'])
    expect(bring.find(one => one.type === 'secondary_standard')?.id).toMatch(/^D-/)
    const primary = bring.find(one => one.type === 'primary_standard')
    expect(primary).toMatchObject({ id: 'P-20', expires: '2026-06-03', note: expect.stringMatching(/past its date/) })
    expect(primary?.lot).toBeDefined()
    expect(visit('CFE-A')?.serial).toBe('A-2207')
  })
  test('must not say: skip FE1-A or count it as saved', () => {
    expect(plan.leaveAlone.map(one => one.analyzer)).toEqual(['FE2-A'])
    expect(text).not.toMatch(/\bskip/)
  })
  test('must not say: a longer interval for an analyzer without independent evidence', () => {
    expect(plan.notProven.map(one => one.analyzer)).toEqual(['FE6-A'])
    expect(plan.notProven[0]?.summary).toMatch(/not assessed: .*nothing may wait longer/)
    expect(text).not.toMatch(/longer interval|extend/)
  })
  test('its sentences fit 240 characters and are kept to be read', async () => {
    const sentences = [...plan.visits, ...plan.leaveAlone, ...plan.notProven].map(one => one.summary)
    for (const one of sentences) expect(one.length).toBeLessThanOrEqual(240)
    await expect(renderPlanTable(plan)).toMatchFileSnapshot('sentences/S45-plan.txt')
  })
  holdsEverywhere(said)
})
