import { Ajv2020 } from 'ajv/dist/2020.js'
import formats from 'ajv-formats'
import { describe, expect, it } from 'vitest'
import { canonicalJson } from '../../src/model/canonicalJson.js'
import type { RegisterFile } from '../../src/model/register.js'
import type { FeedState } from '../../src/model/serviceStatus.js'
import { contractDocuments } from '../../src/report/contract.js'
import { keepServiceStatus } from '../../src/service/serviceStatus.js'
import { manualSchedule } from './manualSchedule.js'

const START = Date.parse('2026-05-09T10:00:00Z')
const FILE = {
  plant: 'hollin-weir',
  points: { CFE: { analyzers: { 'CFE-A': {}, 'CFE-B': {} } }, SW: { analyzers: { 'SW-A': {} } } },
} as unknown as RegisterFile

describe('status of the service', () => {
  it('says what is known at the start, and takes plant time and assessments from what was written', () => {
    const { keeper, run } = kept()
    expect(keeper.source.topic).toBe('turbidrift/hollin-weir/service')
    expect(JSON.parse(keeper.source.now())).toEqual({
      state: 'online',
      plant: 'hollin-weir',
      softwareVersion: '1.2.3',
      time: '2026-05-09T10:00:00Z',
      since: '2026-05-09T10:00:00Z',
      eventsWaiting: 3,
      analyzers: 3,
      // From the store; an analyzer that the register no longer has is not among them.
      assessed: 1,
      feeds: { site: 'disconnected' },
    })
    keeper.written({
      journal: [tick(1, '2026-05-09T10:00:00Z'), tick(2, '2026-05-09T10:01:00Z'), reading(3)],
      events: [status('CFE/CFE-A', 'not_assessed'), status('SW/SW-A', 'watch'), status('CFE/CFE-B', 'consistent')],
    })
    run(150_000)
    expect(JSON.parse(keeper.source.now())).toMatchObject({
      time: '2026-05-09T10:02:30Z',
      since: '2026-05-09T10:00:00Z',
      plantTime: '2026-05-09T10:01:00Z',
      lagS: 90,
      assessed: 2,
    })
  })

  it('is told once a minute, and soon after something else than time has changed', () => {
    const { keeper, told, feeds, run } = kept()
    keeper.written({ journal: [tick(1, '2026-05-09T10:00:00Z')], events: [] })
    run(2_000)
    expect(told.length).toBeLessThanOrEqual(1)
    const before = told.length
    keeper.written({ journal: [tick(2, '2026-05-09T10:01:00Z')], events: [] })
    run(3_000)
    expect(told).toHaveLength(before)
    feeds.site = 'catching_up'
    keeper.changed()
    feeds.site = 'connected'
    keeper.changed()
    run(5_000)
    expect(told).toHaveLength(before + 1)
    expect(told.at(-1)).toMatchObject({ feeds: { site: 'connected' } })
    run(61_000)
    expect(told).toHaveLength(before + 2)
    run(121_000)
    expect(told).toHaveLength(before + 3)
    keeper.stop()
    run(600_000)
    expect(told).toHaveLength(before + 3)
  })

  it('fits its published schema, online and offline', () => {
    const { keeper } = kept()
    const text = contractDocuments().find(({ path }) => path === 'schemas/out/service.status.json')!.text
    const ajv = new Ajv2020({ strict: true, allErrors: true })
    formats.default(ajv)
    const validate = ajv.compile(JSON.parse(text) as object)
    keeper.written({ journal: [tick(1, '2026-05-09T10:00:00Z')], events: [] })
    const { now, lost, ended } = keeper.source
    for (const body of [now(), lost, ended()]) expect(validate(JSON.parse(body)), body).toBe(true)
    expect(JSON.parse(lost)).toEqual({
      state: 'offline',
      plant: 'hollin-weir',
      softwareVersion: '1.2.3',
      because: 'lost',
    })
    expect(JSON.parse(ended())).toMatchObject({ state: 'offline', because: 'ended', time: '2026-05-09T10:00:00Z' })
    expect(validate({ ...(JSON.parse(now()) as object), assessed: -1 })).toBe(false)
    expect(validate({ ...(JSON.parse(lost) as object), state: 'gone' })).toBe(false)
  })
})

function kept() {
  const { schedule, runNext, nowMs } = manualSchedule()
  const feeds: Record<string, FeedState> = { site: 'disconnected' }
  const told: unknown[] = []
  const keeper = keepServiceStatus({
    file: FILE,
    softwareVersion: '1.2.3',
    statuses: [status('CFE/CFE-A', 'consistent'), status('CFE/CFE-B', 'not_assessed'), status('OLD/OLD-A', 'watch')],
    feeds: () => ({ ...feeds }),
    eventsWaiting: () => 3,
    now: () => START + nowMs(),
    schedule,
  })
  keeper.source.follow(body => told.push(JSON.parse(body)))
  /** @param untilMs since the start */
  const run = (untilMs: number): void => {
    const then = { reached: false }
    schedule(untilMs - nowMs(), () => (then.reached = true))
    while (!then.reached) runNext()
  }
  return { keeper, told, feeds, run }
}

function status(subject: string, assessment: string) {
  return { id: subject, type: 'analyzer.status', subject, body: JSON.stringify({ data: { assessment } }) }
}

function tick(seq: number, time: string) {
  return { seq, input: canonicalJson({ feed: 'clock', receivedAt: time, message: { kind: 'tick', time } }) }
}

function reading(seq: number) {
  return { seq, input: canonicalJson({ feed: 'site', message: { kind: 'reading', time: '2026-05-09T10:05:00Z' } }) }
}
