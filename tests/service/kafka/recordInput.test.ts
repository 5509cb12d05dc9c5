import { Buffer } from 'node:buffer'
import fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import type { LogRecord } from '../../../src/adapters/kafka/partitionLog.js'
import { openSource } from '../../../src/service/intake.js'
import { journaled } from '../../../src/service/journaled.js'
import { recordInput } from '../../../src/service/kafka/recordInput.js'

const OPTIONS = { ticks: 'event', kinds: ['reading', 'grab'] } as const
const NEVER = () => 'in/0@7'
const READING = '{"kind":"reading","analyzer":"FE1-A","time":"2026-04-01T00:00:00Z","value":0.1,"unit":"NTU"}'

describe('the input of a record', () => {
  it('is what a feed of one machine would journal of the same bytes', () => {
    const opened = openSource(
      { name: 'kafka', type: 'mqtt', topic: 't', kinds: ['reading', 'grab'] },
      { plant: 'p', points: {} },
    )
    if (!opened.ok) throw new Error(opened.problem)
    const member = fc.oneof(
      fc.jsonValue(),
      fc.constant(-0),
      fc.constantFrom('reading', 'grab', 'work', 'tick', 'rejected'),
    )
    const object = fc.dictionary(fc.constantFrom('kind', 'value', 'analyzer', '7', 'x'), member)
    const text = fc.oneof(
      { weight: 5, arbitrary: object.map(value => JSON.stringify(value).replace('"x":0', '"x":-0')) },
      fc.json(),
      fc.string(),
      fc.constantFrom('{"kind":"reading","value":1e999}', '['.repeat(30_000) + ']'.repeat(30_000), READING, ''),
    )
    fc.assert(
      fc.property(text, text => {
        const [onMachine] = opened.source.read('t', Buffer.from(text), undefined)!.inputs
        const { position: _machine, ...expected } = journaled(onMachine!).input
        const { position: _member, ...found } = recordInput(record(text), OPTIONS, NEVER)
        expect(found).toStrictEqual(expected)
      }),
      { seed: 11, numRuns: 2_000 },
    )
  })

  it('carries the feed its header names, and refuses a header that names none', () => {
    expect(recordInput(record(READING, { feed: Buffer.from('scada') }), OPTIONS, NEVER).feed).toBe('scada')
    const refused = recordInput(record(READING, { feed: Buffer.from('no feed!') }), OPTIONS, NEVER)
    expect(refused).toMatchObject({ feed: 'kafka', position: 'in/0@7', message: { kind: 'rejected' } })
  })

  it('came when the log says where plant time is the clock’s, and at no time where it is the messages’', () => {
    expect(recordInput(record(READING), { ...OPTIONS, ticks: 'clock' }, NEVER).receivedAt).toBe(
      '2026-04-01T00:00:05.000Z',
    )
    expect(recordInput(record(READING), OPTIONS, NEVER)).not.toHaveProperty('receivedAt')
  })

  it('is refused where it is a command the connection gives no leave for', () => {
    const message = { kind: 'rejected', faults: [{ code: 'kind_not_allowed', field: 'kind' }] }
    expect(recordInput(record('{"kind":"work"}'), OPTIONS, NEVER)).toMatchObject({ message })
    expect(recordInput(record('{"kind":"tick","time":"2026-04-01T00:00:00Z"}'), OPTIONS, NEVER)).toMatchObject({
      message,
    })
  })
})

function record(text: string, headers: LogRecord['headers'] = {}): LogRecord {
  return { offset: 7, timestampMs: Date.UTC(2026, 3, 1, 0, 0, 5), key: null, value: Buffer.from(text), headers }
}
