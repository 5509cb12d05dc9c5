import fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import { createPlantState, type PlantState } from '../../src/core/plantState.js'
import { registerMessage } from '../../src/core/registerInput.js'
import { step } from '../../src/core/step.js'
import type { StatusData } from '../../src/model/events.js'
import type { RegisterFile } from '../../src/model/register.js'
import { DAY_MS, formatInstant, HOUR_MS } from '../../src/model/time.js'
import { planVisits } from '../../src/plan/planVisits.js'
import { windowsFrom } from '../../src/plan/windows.js'
import { estimate } from '../recommend/estimates.js'

const NOW_MS = Date.UTC(2026, 4, 12, 9)
const STARTED_MS = NOW_MS - 60 * DAY_MS

interface Unit {
  readonly assessment: StatusData['assessment']
  readonly grabs: number
  readonly biasNtu: number
  readonly verifiedDaysAgo: number | null
  readonly calibratedDaysAgo: number | null
}

interface Point {
  readonly units: readonly Unit[]
  readonly verificationDays: number | undefined
  readonly calibrationDays: number | undefined
  readonly habitualDays: number | undefined
}

const SOUND: Unit = {
  assessment: 'consistent',
  grabs: 20,
  biasNtu: 0.002,
  verifiedDaysAgo: 3,
  calibratedDaysAgo: 30,
}
const POINT: Point = { units: [SOUND], verificationDays: undefined, calibrationDays: undefined, habitualDays: 30 }

/** A plant as it stands at one instant, made by hand: what a fold would have left. */
function plantAt(points: readonly Point[]): PlantState {
  const register: RegisterFile = {
    plant: 'small-plant',
    timeZone: 'Europe/London',
    points: Object.fromEntries(
      points.map((point, p) => [
        `P${String(p)}`,
        {
          analyzers: Object.fromEntries(
            point.units.map((_, i) => [`P${String(p)}-${String(i)}`, { unit: 'NTU' as const }]),
          ),
          ...(point.habitualDays === undefined ? {} : { habitualDays: point.habitualDays }),
          ...(point.verificationDays === undefined && point.calibrationDays === undefined
            ? {}
            : {
                required: {
                  basis: 'site procedure 12',
                  ...(point.verificationDays === undefined ? {} : { verificationDays: point.verificationDays }),
                  ...(point.calibrationDays === undefined ? {} : { calibrationDays: point.calibrationDays }),
                },
              }),
        },
      ]),
    ),
  }
  const { state } = step(createPlantState('small-plant'), { feed: 'file', message: registerMessage(register) })
  Object.assign(state, { plantMs: NOW_MS, startedMs: STARTED_MS, workedMs: NOW_MS })
  points.forEach((point, p) => {
    point.units.forEach((unit, i) => standAt(state, `P${String(p)}`, i, unit))
  })
  return state
}

function standAt(state: PlantState, pointId: string, i: number, unit: Unit): void {
  const point = state.points.get(pointId)!
  const analyzer = `${pointId}-${String(i)}`
  const fold = point.fold.units[i]!
  const dated = (days: number | null) => (days === null ? null : { atMs: NOW_MS - days * DAY_MS, id: null })
  fold.dates.verification = dated(unit.verifiedDaysAgo)
  fold.dates.calibration = dated(unit.calibratedDaysAgo)
  fold.dates.visit = dated(unit.verifiedDaysAgo ?? unit.calibratedDaysAgo)
  fold.estimate = estimate({ biasNtu: unit.biasNtu, halfNtu: 0.01, change: { pPassesIn7Days: 0 } })
  fold.levelNtu = 0.06
  for (let k = 0; k < unit.grabs; k++) {
    const side = { ntu: 0.06, uNtu: 0.01, toleranceNtu: 0.05, rateNtuPerH: 0, high: 0, low: 0, limit: 5 }
    point.pairs.push({
      dueMs: NOW_MS - k * HOUR_MS,
      atMs: NOW_MS - k * HOUR_MS,
      grabNtu: 0.06,
      qualifier: null,
      sampleId: null,
      laboratoryInstrument: null,
      use: 'used',
      units: point.fold.units.map((_, other) => (other === i ? side : null)),
    })
  }
  const missing = unit.assessment === 'not_assessed' ? ['needs 3 grab samples or a verification'] : []
  const data: StatusData = {
    summary: `${analyzer} stands.`,
    notify: 'shift_summary',
    analyzer,
    point: pointId,
    assessment: unit.assessment,
    since: formatInstant(STARTED_MS),
    missing,
    findings: [],
  }
  state.published.statuses.set(analyzer, { key: '', atMs: NOW_MS, sinceMs: STARTED_MS, data })
}

describe('a plan', () => {
  it('keeps a sound analyzer at its date by rule, and counts nothing there as saved', () => {
    const plan = planVisits(plantAt([{ ...POINT, verificationDays: 7 }]), 30)
    expect(plan.visits.map(one => [one.analyzer, one.jobs.map(job => job.reason)])).toEqual([['P0-0', ['rule']]])
    // Verified on 9 May: seven days after is 16 May, a Saturday, so Friday 15 May.
    expect(plan.visits[0]?.window.to.slice(0, 10)).toBe('2026-05-15')
    expect(plan.visits[0]?.later[0]?.text).toMatch(/^verification by rule 3 times more, every 7 days/)
    expect(plan.savable).toBe(0)
  })
  it('holds work that is not on record to be due now, and says so', () => {
    const unit = { ...SOUND, calibratedDaysAgo: null }
    const [visit] = planVisits(plantAt([{ ...POINT, units: [unit], calibrationDays: 90 }]), 7).visits
    expect(visit?.jobs[0]?.text).toMatch(/^calibration not on record: due now by rule, every 90 days/)
    expect(visit?.late).toBe(true)
    expect(visit?.window.from).toBe(formatInstant(NOW_MS))
  })
  it('says why a record does not count, where it does not', () => {
    const state = plantAt([{ ...POINT, verificationDays: 7 }])
    const why = 'standard D-1 expired on 2026-05-01'
    state.points.get('P0')!.fold.units[0]!.dates.notCounted = { work: 'verification', atMs: NOW_MS - DAY_MS, why }
    expect(planVisits(state, 7).visits[0]?.jobs[0]?.text).toContain(`does not count: ${why}`)
  })
  it('leaves a sound analyzer alone where only habit asks, and saves its next visit', () => {
    const plan = planVisits(plantAt([POINT]), 30)
    expect(plan.visits).toEqual([])
    expect(plan.leaveAlone[0]).toMatchObject({ analyzer: 'P0-0', proof: { toleranceNtu: 0.05 } })
    expect(plan.savable).toBe(1)
    expect(planVisits(plantAt([POINT]), 7).savable).toBe(0)
  })
  it('counts no visit as saved where none is on record to count from', () => {
    const state = plantAt([POINT])
    state.points.get('P0')!.fold.units[0]!.dates.visit = null
    const plan = planVisits(state, 30)
    expect(plan.leaveAlone.map(one => one.analyzer)).toEqual(['P0-0'])
    expect(plan.savable).toBe(0)
  })
  it('keeps to habit where no independent evidence speaks', () => {
    const unit: Unit = { ...SOUND, assessment: 'not_assessed', grabs: 0, verifiedDaysAgo: 10 }
    const plan = planVisits(plantAt([{ ...POINT, units: [unit] }]), 30)
    expect(plan.visits[0]?.jobs.map(job => job.reason)).toEqual(['habit'])
    expect(plan.leaveAlone).toEqual([])
  })
  it('does not leave alone one whose interval reaches the tolerance, though it is called consistent', () => {
    const plan = planVisits(plantAt([{ ...POINT, units: [{ ...SOUND, biasNtu: 0.045 }], habitualDays: undefined }]), 30)
    expect(plan.leaveAlone).toEqual([])
    expect(plan.notProven.map(one => one.analyzer)).toEqual(['P0-0'])
  })
  it('does not leave alone one whom fewer than three grabs show right', () => {
    const plan = planVisits(plantAt([{ ...POINT, units: [{ ...SOUND, grabs: 2 }], habitualDays: undefined }]), 30)
    expect(plan.leaveAlone).toEqual([])
  })
})

const unitArbitrary: fc.Arbitrary<Unit> = fc.record({
  assessment: fc.constantFrom('consistent', 'consistent', 'watch', 'doubtful', 'signal_fault', 'not_assessed'),
  grabs: fc.constantFrom(0, 2, 20),
  biasNtu: fc.constantFrom(0, 0.02, 0.045, -0.06),
  verifiedDaysAgo: fc.option(fc.integer({ min: 0, max: 40 })),
  calibratedDaysAgo: fc.option(fc.integer({ min: 0, max: 120 })),
})
const dayNumber = fc.option(fc.integer({ min: 1, max: 100 }), { nil: undefined })
const pointArbitrary: fc.Arbitrary<Point> = fc.record({
  units: fc.array(unitArbitrary, { minLength: 1, maxLength: 3 }),
  verificationDays: dayNumber,
  calibrationDays: dayNumber,
  habitualDays: dayNumber,
})

describe('every plan (property)', () => {
  it('has each analyzer once, no window with two units of a point, nothing past a date by rule, nobody left without proof', () => {
    fc.assert(
      fc.property(
        fc.array(pointArbitrary, { minLength: 1, maxLength: 4 }),
        fc.constantFrom(7, 30, 90),
        (points, days) => {
          const plan = planVisits(plantAt(points), days)
          const names = [...plan.visits, ...plan.leaveAlone, ...plan.notProven].map(one => one.analyzer).sort()
          expect(names).toEqual(
            points.flatMap((point, p) => point.units.map((_, i) => `P${String(p)}-${String(i)}`)).sort(),
          )

          const windows = windowsFrom('Europe/London', NOW_MS, NOW_MS + (days + 14) * DAY_MS)
          for (const visit of plan.visits) {
            const beside = plan.visits.filter(one => one.point === visit.point && one !== visit)
            for (const { window } of beside)
              expect(window.to <= visit.window.from || visit.window.to <= window.from).toBe(true)
            const before = windows.filter(({ toMs }) => toMs <= Date.parse(visit.by)).length
            expect(visit.late).toBe(visit.window.to > visit.by)
            if (visit.late) expect(before).toBeLessThanOrEqual(beside.length)
            for (const job of visit.jobs)
              if (job.reason === 'rule' && !visit.late) expect(visit.window.to <= job.by).toBe(true)
            expect(visit.summary.length).toBeLessThanOrEqual(240)
          }

          const horizon = formatInstant(NOW_MS + days * DAY_MS)
          for (const left of plan.leaveAlone) {
            const [p, i] = left.analyzer.slice(1).split('-').map(Number) as [number, number]
            const unit = points[p]!.units[i]!
            expect(unit.assessment).toBe('consistent')
            expect(unit.grabs).toBeGreaterThanOrEqual(3)
            expect(Math.max(-left.proof.ci95[0], left.proof.ci95[1])).toBeLessThan(left.proof.toleranceNtu)
            if (left.nextByRule !== undefined) expect(left.nextByRule > horizon).toBe(true)
            if (left.savable !== undefined)
              expect(points[p]).toMatchObject({ verificationDays: undefined, calibrationDays: undefined })
            expect(left.summary.length).toBeLessThanOrEqual(240)
          }
          for (const one of plan.notProven) expect(one.summary.length).toBeLessThanOrEqual(240)
          expect(plan.byDay.reduce((sum, day) => sum + day.visits, 0)).toBe(plan.visits.length)
        },
      ),
      { seed: 20260512, numRuns: 30 },
    )
  })
})
