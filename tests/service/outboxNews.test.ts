import { PassThrough } from 'node:stream'
import pino from 'pino'
import { describe, expect, it } from 'vitest'
import type { SinkNews } from '../../src/service/outbox.js'
import { tellSinks } from '../../src/service/tellSinks.js'

const row = { seq: 7, id: 'e7', type: 'work.confirmed', subject: 'P/P-A', body: '{"data":{}}' }

describe('what the log says of sinks', () => {
  it('names of attempts that fail in a row the first, second, fourth, eighth', () => {
    const news = Array.from({ length: 1_000 }, (_, index): SinkNews => {
      return { kind: 'failed', error: new Error('503'), failures: index + 1, retryMs: 1_000 }
    })
    const said = told(news).map(({ failures }) => failures)
    expect(said).toEqual([1, 2, 4, 8, 16, 32, 64, 128, 256, 512])
  })

  it('says once that a sink is parked and when it is tried, and that it takes events again', () => {
    const parked = { kind: 'parked', waiting: 12, reason: 'it took nothing for 168 h', forGood: false } as const
    const gone = { ...parked, reason: 'its receiver wants no more', forGood: true }
    expect(told([parked, gone, { kind: 'recovered', waiting: 12 }])).toMatchObject([
      { level: 50, sink: 'webhook:one', waiting: 12, reason: parked.reason, tried: 'every 10 minutes' },
      { level: 50, reason: gone.reason, tried: 'at the next start' },
      { level: 30, sink: 'webhook:one', waiting: 12 },
    ])
  })

  it('names the event that was set aside and why', () => {
    const [said] = told([{ kind: 'set_aside', row, reason: 'the receiver answered 422' }])
    const { body: _body, seq: _seq, id: event, ...names } = row
    expect(said).toMatchObject({ level: 50, event, ...names, reason: 'the receiver answered 422' })
  })
})

function told(news: readonly SinkNews[]): Record<string, unknown>[] {
  const stream = new PassThrough({ highWaterMark: 10_000_000 })
  const tell = tellSinks(pino(stream))
  for (const one of news) tell('webhook:one', one)
  const lines = String(stream.read()).split('\n').slice(0, -1)
  return lines.map(line => JSON.parse(line) as Record<string, unknown>)
}
