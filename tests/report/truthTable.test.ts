import { describe, expect, it } from 'vitest'
import type { PlantEvent } from '../../src/model/events.js'
import { scoreRun, truthTable } from '../../src/report/truthTable.js'
import type { FaultTruth } from '../../src/simulate/faultTruth.js'
import type { SimulationTruth } from '../../src/simulate/truth.js'

/** Openings and truths by hand: what the table says of each is worked out beside it. */
describe('what was found beside what was true', () => {
  it('calls an answer right that has target, action, cause and time right', () => {
    const { rows, falseOpenings } = truthTable([opened('05-05', { ofTolerance: -0.6 })], truth([zeroFall()]))
    expect(rows).toEqual([
      {
        fault: 'zero-falls',
        at: 'FE3-B',
        expected: 'zero or zero_and_span',
        got: 'zero (zero_drift)',
        verdict: 'ok',
        openedAt: '2026-05-05T00:00:00Z',
        biasAtOpening: -0.6,
        daysBeforeTolerance: 5,
        causeRight: true,
      },
    ])
    expect(falseOpenings).toEqual([])
  })

  it('accepts undecided where the right cause is named with it, and no other', () => {
    const named = opened('05-05', { causes: ['undecided', 'fouling', 'zero_drift'] })
    const unnamed = opened('05-05', { causes: ['undecided', 'fouling'] })
    expect(truthTable([named], truth([zeroFall()])).rows[0]).toMatchObject({ verdict: 'ok', causeRight: true })
    expect(truthTable([unnamed], truth([zeroFall()])).rows[0]).toMatchObject({ verdict: 'wrong', causeRight: false })
  })

  it('tells missed from late and from another action', () => {
    expect(truthTable([], truth([zeroFall()])).rows[0]).toMatchObject({ verdict: 'missed', got: '—' })
    const late = truthTable([opened('05-12')], truth([zeroFall()])).rows[0]
    expect(late).toMatchObject({ verdict: 'missed', daysBeforeTolerance: -2 })
    const other = truthTable([opened('05-05', { action: 'inspect' })], truth([zeroFall()])).rows[0]
    expect(other).toMatchObject({ verdict: 'missed', got: 'inspect (zero_drift) (too late or another action)' })
  })

  it('calls a fault wrong that had what must not be said', () => {
    const events = [opened('05-03', { action: 'verify', causes: ['fouling'] }), opened('05-05')]
    expect(truthTable(events, truth([zeroFall()])).rows[0]).toMatchObject({
      verdict: 'wrong',
      got: 'zero (zero_drift); unwanted: verify (fouling)',
    })
  })

  it('does not blame a record that ends before the time allowed', () => {
    const short = { ...truth([zeroFall()]), end: '2026-05-04T00:00:00Z' }
    expect(truthTable([], short).rows[0]).toMatchObject({ verdict: 'not_due' })
    expect(scoreRun([], short)).toMatchObject({ faults: 0, rows: 0 })
  })

  it('counts as false what opens where nothing is wrong, but not the open question which unit is', () => {
    const events = [
      opened('05-05'),
      opened('05-02', { target: { point: 'FE3' } }),
      opened('05-02', { target: { point: 'CFE' } }),
      opened('05-02', { target: { analyzer: 'FE4-A' } }),
      opened('05-24', { action: 'verify' }),
      opened('04-20'),
    ]
    const { falseOpenings } = truthTable(events, truth([zeroFall()]))
    expect(falseOpenings.map(({ time, data }) => [time.slice(5, 10), Object.values(data.target)[0]])).toEqual([
      ['05-02', 'CFE'],
      ['05-02', 'FE4-A'],
      ['05-24', 'FE3-B'],
      ['04-20', 'FE3-B'],
    ])
  })

  it('matches findings and suspect references', () => {
    const fault: FaultTruth = {
      ...zeroFall(),
      mustSay: [
        { event: 'analyzer.finding', target: { analyzer: 'FE3-B' }, finding: 'stuck' },
        { event: 'reference.suspect', target: { point: 'FE3' }, causes: ['grab_bad'], sampleId: 'S1' },
      ],
    }
    const finding = said('analyzer.finding', { analyzer: 'FE3-B', point: 'FE3', finding: 'stuck' })
    const suspect = said('reference.suspect', { point: 'FE3', reference: 'grab', sampleId: 'S1' })
    const other = said('reference.suspect', { point: 'FE3', reference: 'grab', sampleId: 'S2' })
    expect(truthTable([finding, suspect], truth([fault])).rows[0]).toMatchObject({
      verdict: 'ok',
      expected: 'finding stuck; suspect grab_bad',
      got: 'finding stuck; suspect grab',
    })
    expect(truthTable([finding, other], truth([fault])).rows[0]).toMatchObject({ verdict: 'missed' })
  })

  it('scores a run in numbers', () => {
    const harmless: FaultTruth = { ...zeroFall(), id: 'harmless', mustSay: [], mustNotSay: [], mayOpen: [] }
    const events = [opened('05-05', { causes: ['fouling'] }), opened('05-06', { target: { analyzer: 'FE4-A' } })]
    expect(scoreRun(events, truth([zeroFall(), harmless]))).toEqual({
      faults: 1,
      found: 1,
      passing: 1,
      beforeTolerance: 1,
      rightCause: 0,
      rowsOk: 1,
      rows: 2,
      falseOpenings: 1,
      analyzerYears: (2 * 60) / 365.25,
    })
  })
})

function zeroFall(): FaultTruth {
  const target = { analyzer: 'FE3-B' }
  return {
    id: 'zero-falls',
    analyzer: 'FE3-B',
    concerns: ['FE3-B'],
    kind: 'zero',
    shape: 'ramp',
    onset: '2026-05-01T00:00:00Z',
    tolerancePassedAt: '2026-05-10T00:00:00Z',
    ends: '2026-05-20T00:00:00Z',
    description: '',
    mustSay: [
      {
        event: 'recommendation.opened',
        target,
        actions: ['zero', 'zero_and_span'],
        causes: ['zero_drift'],
        after: '2026-05-01T00:00:00Z',
        before: '2026-05-10T00:00:00Z',
      },
    ],
    mustNotSay: [{ event: 'recommendation.opened', target, causes: ['fouling'] }],
    mayOpen: [{ target, actions: ['zero', 'verify', 'inspect'] }],
  }
}

function truth(faults: readonly FaultTruth[]): SimulationTruth {
  return {
    seed: 1,
    plant: 'hollin-weir',
    start: '2026-04-01T00:00:00Z',
    end: '2026-05-31T00:00:00Z',
    days: 60,
    latestReadingS: 90,
    faults,
    healthyAnalyzers: [],
    biasDaily: { 'FE3-B': [], 'FE4-A': [] },
  }
}

interface Opening {
  readonly target?: Readonly<Record<string, string>>
  readonly action?: string
  readonly causes?: readonly string[]
  readonly ofTolerance?: number
}

function opened(monthDay: string, more: Opening = {}): PlantEvent {
  const target = more.target ?? { analyzer: 'FE3-B' }
  const ranked = (more.causes ?? ['zero_drift']).map(cause => ({ cause, probability: 0.5 }))
  const data = {
    target,
    ...(target.analyzer === undefined ? target : { analyzer: target.analyzer, point: target.analyzer.slice(0, 3) }),
    action: more.action ?? 'zero',
    cause: { ranked, because: [] },
    ...(more.ofTolerance === undefined ? {} : { bias: { ofTolerance: more.ofTolerance } }),
  }
  return said('recommendation.opened', data, monthDay)
}

function said(type: PlantEvent['type'], data: object, monthDay = '05-05'): PlantEvent {
  return { id: '', type, source: 'hollin-weir', subject: '', time: `2026-${monthDay}T00:00:00Z`, data } as PlantEvent
}
