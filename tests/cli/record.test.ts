import { copyFileSync, existsSync, readdirSync, readFileSync } from 'node:fs'
import { mkdir } from 'node:fs/promises'
import { beforeAll, describe, expect, it } from 'vitest'
import { openStore } from '../../src/adapters/sqliteStore.js'
import { REGISTER, run, scratch } from './support.js'

const { path, put } = scratch()
const register = put('register.yaml', REGISTER)
const grab = ['record', 'grab', '--register', register]
const REQUEST = 'acd342e2-6308-5858-b283-2362581461b4'
const work = ['record', 'work', '--register', register]

beforeAll(() => mkdir(path('drop')))

describe('record', () => {
  it('takes flags, a bound, and a local time in the zone of the register', async () => {
    const ran = await run([...grab, '--point', 'FE3', '--sampled', '2026-05-09 10:15', '--value', '<0.02'])
    expect(ran).toMatchObject({ code: 0, told: '' })
    expect(JSON.parse(ran.out)).toEqual({
      kind: 'grab',
      point: 'FE3',
      sampled: '2026-05-09T09:15:00.000Z',
      value: '<0.02',
      unit: 'NTU',
    })
  })

  it('asks for what is missing, again where an answer cannot be read', async () => {
    const answers = ['FE3', 'at noon', '2026-05-09T10:15:00Z', 'clear', '0.031', 'NTU', 'L-7', '', '', '']
    const ran = await run(grab, answers)
    expect(ran.code).toBe(0)
    expect(ran.told).toContain('grab.sampled: "at noon" is refused')
    expect(ran.told).toContain('grab.value: "clear" is refused')
    expect(JSON.parse(ran.out)).toMatchObject({ sampled: '2026-05-09T10:15:00.000Z', value: 0.031, sampleId: 'L-7' })
  })

  it('puts a whole file into the drop folder', async () => {
    const ran = await run([
      ...[...work, '--drop', path('drop'), '--analyzer', 'FE3-A', '--time', '2026-05-09T10:15:00Z', '--action', 'zero'],
      ...['--as-found', '0.04', '--as-left', '0.001', '--reference-type', 'zero_water', '--reference-assigned', '0.02'],
      ...['--accepted', 'yes'],
    ])
    expect(ran.code).toBe(0)
    const [name, ...others] = readdirSync(path('drop'))
    expect(others).toEqual([])
    expect(JSON.parse(readFileSync(path(`drop/${name!}`), 'utf8'))).toEqual({
      kind: 'work',
      analyzer: 'FE3-A',
      time: '2026-05-09T10:15:00.000Z',
      action: 'zero',
      asFound: 0.04,
      asLeft: 0.001,
      reference: { type: 'zero_water', assigned: 0.02 },
      accepted: true,
    })
  })

  it('hands in the value assigned to a standard, as work on its analyzer', async () => {
    const standard = ['record', 'standard', '--register', register, '--analyzer', 'FE3-A', '--time', '2026-05-09 11:30']
    const value = ['--reference-id', 'D-1001', '--reference-assigned', '34.6', '--reference-lot', 'L-7']
    const ran = await run([...standard, ...value, '--reference-expires', '2027-01-31'])
    expect(ran).toMatchObject({ code: 0, told: '' })
    expect(JSON.parse(ran.out)).toEqual({
      kind: 'work',
      action: 'standard_assigned',
      accepted: true,
      analyzer: 'FE3-A',
      time: '2026-05-09T10:30:00.000Z',
      reference: { type: 'secondary_standard', id: 'D-1001', assigned: 34.6, lot: 'L-7', expires: '2027-01-31' },
    })
    const bad = await run([...standard, ...value, '--reference-expires', 'next year'])
    expect(bad).toMatchObject({
      code: 1,
      told: expect.stringContaining('work.reference.expires: "next year" is refused'),
    })
    const missing = await run([...standard, '--reference-id', 'D-1001'])
    expect(missing.told).toContain('standard.reference.assigned: nothing is refused: give --reference-assigned')
  })

  it('writes an answer to a request, with the time of the decision', async () => {
    const answer = ['record', 'response', '--register', register, '--recommendation', REQUEST]
    const deferred = [...answer, '--decision', 'deferred', '--until', '2026-05-16 08:00', '--reason', 'crew on leave']
    const ran = await run([...deferred, '--time', '2026-05-09 10:15'])
    expect(JSON.parse(ran.out)).toEqual({
      kind: 'response',
      recommendation: REQUEST,
      time: '2026-05-09T09:15:00.000Z',
      decision: 'deferred',
      until: '2026-05-16T07:00:00.000Z',
      reason: 'crew on leave',
    })
    const now = JSON.parse((await run([...answer, '--decision', 'acknowledged'])).out) as { time: string }
    expect(Date.parse(now.time)).toBeGreaterThan(0)
  })

  it('takes a record into a store that nobody has open', async () => {
    const [replayed, store] = [path('replayed.db'), path('plant.db')]
    const reading = (minute: number): string =>
      JSON.stringify({
        kind: 'reading',
        analyzer: 'RW-A',
        time: `2026-05-09T10:${String(minute).padStart(2, '0')}:00Z`,
        value: 4,
        unit: 'NTU',
      })
    const stream = put('in.ndjson', Array.from({ length: 60 }, (_, i) => reading(i)).join('\n'))
    expect(await run(['replay', '--register', register, stream, '--into', replayed, '--out', path('e')])).toMatchObject(
      { code: 0 },
    )
    copyFileSync(replayed, store)
    const record = [...grab, '--into', store, '--point', 'RW', '--sampled', '2026-05-09T10:30:00Z', '--value', '4']
    expect(await run(record)).toMatchObject({ code: 0, told: expect.stringContaining('taken into') })
    await run(['export-journal', '--store', store, '--out', path('journal.ndjson')])
    const last = readFileSync(path('journal.ndjson'), 'utf8').trimEnd().split('\n').at(-1)!
    expect(JSON.parse(last)).toMatchObject({ feed: 'record', message: { kind: 'grab', point: 'RW', value: 4 } })
    const held = openStore(replayed, undefined, { readOnly: true })
    const refused = await run(record.map(arg => (arg === store ? replayed : arg)))
    expect(refused).toMatchObject({ code: 1, told: expect.stringContaining('is in use') })
    if (held.ok) held.store.close()
  })

  it.each([
    [
      [...grab, '--point', 'FE9', '--sampled', '2026-05-09T10:15:00Z', '--value', '1'],
      'grab.point: "FE9" is refused: must be a point',
    ],
    [
      [...grab, '--point', 'FE3', '--sampled', '2026-05-09T10:15:00Z', '--value', '0,031'],
      'grab.value: "0,031" is refused',
    ],
    [[...grab, '--point', 'FE3', '--sampled', '2026-10-25 01:30', '--value', '1'], 'comes twice in Europe/London'],
    [[...grab, '--point', 'FE3', '--value', '1'], 'grab.sampled: nothing is refused: give --sampled'],
    [
      [...work, '--analyzer', 'RW-A', '--time', '2026-05-09T10:15:00Z', '--action', 'wiped'],
      'work.action: "wiped" is refused',
    ],
    [
      ['record', 'response', '--register', register, '--recommendation', 'FE3-B', '--decision', 'rejected'],
      'response.recommendation: "FE3-B" is refused',
    ],
    [
      ['record', 'response', '--register', register, '--recommendation', REQUEST, '--decision', 'later'],
      'response.decision: "later" is refused',
    ],
    [
      ['record', 'response', '--register', register, '--recommendation', REQUEST, '--decision', 'deferred'],
      'a deferral needs a reason',
    ],
    [
      [...grab, '--drop', 'none', '--point', 'FE3', '--sampled', '2026-05-09T10:15:00Z', '--value', '1'],
      'there is no such file',
    ],
  ])('refuses %j', async (args, sentence) => {
    const ran = await run(args)
    expect(ran.code).toBe(1)
    expect(ran.told).toContain(sentence)
    expect(existsSync('none')).toBe(false)
  })
})
